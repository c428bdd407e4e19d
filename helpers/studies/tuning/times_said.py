"""How times after a door are said, and whether the ramps that they were found with are ramps that motor, resistor and wheel follow: in full
once, at the head of what tells them, and as a mark beside each figure.

Limits: as `ramp_loads`; a ramp that only the heaviest wheel of the box cannot follow is told by its own finding, and not marked here.
"""

import math
import re

import numpy as np

from helpers.model.loop.ramps import ramp_loads
from helpers.studies.status import status_of

LOOKED_AT_S = 49.5  # after each of the two: a loop that is not back by then counts as one that is not
# Most time [s] after a door for which another one that is shut may be short of its minimum pressure, where the standard asks for no time;
# common practice, no source: a person is through a door in less.
SHORT_BORNE_S = 10.0
ASKED = "wrong reading"  # key of the question of the enquiry list that asks for such a time of a wrong reading
RAMP = "ramps that motor and brake can follow"  # what comes before a tuning is laid down
MARK = "ramp too steep"  # beside a figure
BESIDE = f" [{MARK}]"


def not_followed_said(site, down=None, ramps_s=None):
    """That figures found with a site's ramps are those of ramps that cannot be followed, in words; "" where they can, or may.

    down: `RampDown` of the site, None where it has a resistor, or is not known: without a stated brake the loop's model takes the ramp down
    as it is entered. ramps_s: (up, down) [s] in place of the site's own.
    """
    fan = site.fan if ramps_s is None else site.fan.model_copy(update=dict(zip(("ramp_s", "ramp_down_s"), ramps_s, strict=True)))
    loads = ramp_loads(site, fan)
    up, back = f"{loads.up_s:g} s up", f"{loads.down_s:g} s down"
    motor = " and ".join(ramp for ramp, state in ((up, loads.up_state), (back, loads.held_state)) if state == "wrong")
    air = down is not None and fan.brake is None and fan.slows_s < down.shortest_s.low
    ways = ((motor, "this motor cannot follow"), (back * (loads.down_state == "wrong"), "this brake resistor cannot take"),
            (back * air, "no brake is stated for"))  # fmt: skip
    told = " and that ".join(f"{whose}, {ramp}" for ramp, whose in ways if ramp)
    return f"only with a ramp that {told}" if told else ""


def mark_of(site, down=None, ramps_s=None):
    """The same as a mark that stands beside a figure, " [ramp too steep]"; "" where nothing is to be said."""
    return BESIDE if not_followed_said(site, down, ramps_s) else ""


def head_said(told):
    """The sentence at the head of marked figures; told: of `not_followed_said`, "" gives ""."""
    return f"every time and force after a door here holds {told} (in short: {MARK})" if told else ""


def bare(text):
    """Words without the mark, where the sentence of `head_said` stands over them."""
    return text.replace(BESIDE, "")


def short_limit_s(response_s):
    """Longest [s] that a shut door may be short after another has moved: the time that the site's standard asks for (None: none), else
    SHORT_BORNE_S."""
    return SHORT_BORNE_S if response_s is None else response_s


def short_state(short_s, response_s):
    """Key of the status of a time [s] for which a shut door is short after a door: "wrong" past its limit, "attention" where any is short
    for a while, "open" for NaN: the loop gives none its least. The one judge of it for study, record, schedule, review and lesson."""
    return str(status_of(short_s, short_limit_s(response_s), short_limit_s(response_s)))


def seconds_stated(answer):
    """The first seconds that an answer names; None where it names none.

    >>> seconds_stated("90 s, with one transmitter wrong"), seconds_stated("as the designer says")
    (90.0, None)
    """
    found = re.search(r"(\d+(?:[.,]\d+)?) ?(?:s|sec|seconds?)\b", answer)
    return None if found is None else float(found[1].replace(",", "."))


def misled_state(short_s, stated_s=None):
    """Key of the status of a time [s] for which a reading that tells wrongly leaves a shut door out until its alarm falls back: never a
    pass; past SHORT_BORNE_S "open" until somebody has stated how long that may last [s], which is then signed for, and past that "wrong":
    what is borne as a door moves is no limit of it."""
    if not short_s:
        return "good"
    if stated_s is not None:
        return "wrong" if short_s > stated_s else "attention"
    return "attention" if short_s <= SHORT_BORNE_S else "open"


def misled_said(short_s, stated_s=None):
    """The same in words, with where it is asked; "" where nothing is missing, and nothing was."""
    if not short_s or (stated_s is None and short_s <= SHORT_BORNE_S):
        return ""
    how = "how long a wrong reading may do this"
    told = f"nobody has stated {how}" if stated_s is None else "longer than a wrong reading may do this" if short_s > stated_s else how
    return f"{told}: see the enquiry list: {ASKED}; as a door moves, {SHORT_BORNE_S:g} s are borne (common practice, no source)"


def short_said(short_s, response_s, mark=""):
    """The same in words, with the limit and what that is; mark: see `mark_of`."""
    if np.isnan(short_s):
        return "how long a shut door is short after another moves was not judged: the loop at rest gives none its least"
    whose = "common practice, no source" if response_s is None else "asked of the flow by the standard, ours for a pressure"
    return (
        f"after a door moves another shut one has less than its minimum for {past_text(short_s)}{mark}, where the loop at rest gives it "
        f"enough; {short_limit_s(response_s):g} s at the most ({whose})"
    )


def seconds_text(seconds):
    """Seconds of a recovery in words; one that never came is NaN or infinite.

    >>> seconds_text(2.34), seconds_text(float("nan"))
    ('2.3 s', 'not within 49 s')
    """
    return f"{seconds:.1f} s" if np.isfinite(seconds) else f"not within {math.floor(LOOKED_AT_S)} s"


def past_text(seconds):
    """Seconds past a limit in words, rounded up: a danger is not rounded down; NaN was not judged.

    >>> past_text(3.81), past_text(0.02), past_text(0.0), past_text(float("nan"))
    ('3.9 s', '0.1 s', '0.0 s', 'not judged')
    """
    return "not judged" if np.isnan(seconds) else f"{math.ceil(10 * seconds - 1e-6) / 10:.1f} s"


def back_text(seconds):
    """Whether and when an airflow recovers, in words.

    >>> back_text(2.34), back_text(float("inf"))
    ('recovers in 2.3 s', 'does not recover within 49 s')
    """
    return f"recovers in {seconds_text(seconds)}" if np.isfinite(seconds) else f"does not recover within {math.floor(LOOKED_AT_S)} s"
