"""Whether a stair is taller than one supply point is good for, by the hand method and by the threshold of NFPA 92, and whether its ends
are apart in the network: one function for record and review."""

import numpy as np

from helpers.model.site.criteria import cited
from helpers.studies.duty.hand_method import HandStair, has_facade_leaks
from helpers.studies.readings.rules import ends_apart
from helpers.studies.report import NETWORK, Finding
from helpers.units.said import with_unit

SINGLE_SUPPLY_M = 30.48  # 100 ft: above it a stair with one supply point needs a design analysis of its own
HEIGHT_SOURCE = "ASHRAE HVAC Applications, fire and smoke chapter (from memory, not verified); Jensen, J. Fire Prot. Eng. 13(4) 2003"
_CODE = "NFPA 92: single injection above 100 ft needs a design analysis of its own (from memory, not verified)"
TOO_TALL = "The stair is taller than one supply point is good for"
ENDS_APART = "Lowest and highest door are further apart than their window is wide, with {} supply point{}"


def too_tall(site, window, height_m, apart):
    """The `Finding`s about a stair's height, none or one.

    height_m: between its lowest and its highest storey; window: its `SiteWindow`; apart: what `doors_are_apart` says. "wrong" where no set
    point brings both ends inside; "attention" for one supply point on more than SINGLE_SUPPLY_M, or on more than the hand method carries in
    the worst of the site's weathers: the rule is about the height on one point of injection, not about the weather of a design. Limits: a
    supply fan; the hand method as `HandStair`.
    """
    supplies = len(site.supplies)
    if site.fan.effect != "supply":
        return
    weather, by_hand_m = _by_hand(site, window)
    tall = supplies == 1 and height_m > min(SINGLE_SUPPLY_M, by_hand_m)
    if not (tall or apart):
        return
    own, code = (with_unit(height, "length", 1) for height in (height_m, SINGLE_SUPPLY_M))
    by_hand = f"; hand calculation {with_unit(by_hand_m, 'length', 1)} ({weather})" if np.isfinite(by_hand_m) else ""
    yield Finding(
        "wrong" if apart else "attention",
        TOO_TALL if tall else ENDS_APART.format(supplies, "s" * (supplies > 1)),
        f"{own}, NFPA 92's threshold {code}{by_hand}{f'; {apart}' if apart else ''}",
        "friction and stack effect part the ends, most in the first minute with the stair as warm as the rooms, and a door open beside the "
        "supply takes the air of all others; the hand method takes each floor as tied to the outdoors only",
        f"{cited(site, _CODE)}; {HEIGHT_SOURCE}{f'; {NETWORK}' if apart else ''}",
        "several supply points even out the shaft's friction, not its stack effect: against that a stair in sections with a supply each, "
        f"tempered air, lobbies{'' if window.most is None else f', {window.most.closers}'}, none of them tried here; a design analysis for "
        "this building, judged by the cases of the first minute",
    )


def doors_are_apart(window, cases, levels, held, door_dp_pa, limits):
    """That no set point brings bottom and top door inside, in words, see `ends_apart`; "" where one does, or where the doors have no
    window. cases: with all doors shut; limits: least and most pressure by storey."""
    return ends_apart(cases, levels, held, door_dp_pa, *limits) if _wide(window) else ""


def _wide(window):
    return window.width_pa is not None and window.width_pa > 0


def _by_hand(site, window):
    """The weather that allows the lowest stair by hand, and its height [m]; infinite where the hand method has no answer."""
    if not _wide(window) or not has_facade_leaks(site):
        return "", np.inf
    limits = {name: HandStair.of(site, name).height_limit(window.least_pa, window.most_pa) for name in site.weather}
    return min(limits.items(), key=lambda limit: limit[1])
