"""The gases of a garage, one or two: who gives off the second one, who reads which, and what the site file may not disagree with.

Two gases run one fan through one loop: each reading is taken as a share of its own gas's set point, and the highest share runs the loop,
so that the gas that asks for more air has it. Fresh air thins every gas alike: at its set point each answers the fan, in that share, the
same but for what the air from outdoors brings along, and one gain and one integral time fit both. There is one integral part, none that
waits behind another and winds up. What that was held against, two loops whose higher output runs the fan, is
`studies.tuning.two_loops`. Limits: one share of engines that give off the second gas for a whole state of traffic; gases do not
react with each other (nitric oxide that turns into nitrogen dioxide on its way is part of the emission that is stated).
"""

from typing import Annotated

import numpy as np
from pydantic import Field

from helpers.model.plants.pressure_plant import Concentration, Ratio, ShareOfFull
from helpers.model.site import field_types as of
from helpers.model.site.checks import ranges_stand_upright

Emission = Annotated[float, of.Quantity("flow", "0.05 l/s", low=0, high=1, open_low=True)]
WHOLE = 100.0  # per cent of its set point, at which a gas is held
MOST_SHARES = WHOLE / 100_000  # least set point for each ppm of a range: a concentration, in per cent of it too, is 100 000 at the most


class Cars(of.SiteTable):
    """What one car with its engine running gives off: gas by volume."""

    emission_m3_s: Emission


class SecondGas(of.SiteTable):
    """Another gas: what the air from outdoors has of it, what one running engine of those that give it off gives off, which share of the
    running engines those are, and what it is held at."""

    name: of.Text
    outdoor_ppm: Concentration
    emission_m3_s: Emission
    engines_share: ShareOfFull = 1.0
    set_point_ppm: Concentration


class Traffic(of.SiteTable):
    """A state of traffic: how many cars have their engine running in each zone, on average; `engines_share`: which share of them gives off
    the second gas, where that is not the second gas's own."""

    running: Annotated[tuple[Ratio, ...], Field(strict=False, min_length=1)]
    engines_share: ShareOfFull | None = None


class GasTransmitter(of.SiteTable):
    """A gas transmitter of a zone; `gas`: which one it reads (left out: the first); `response_s` is the time constant of its cell (0.43 of
    the time to 90 % of a step)."""

    name: of.Text
    zone: of.Text
    gas: of.Text | None = None
    range_low_ppm: Concentration = 0.0
    range_high_ppm: Concentration
    signal: of.SignalName
    accuracy_percent_span: Annotated[float, of.Quantity("percent", "3 %", low=0, high=100)]
    converter_bits: of.ConverterBits = 12
    filter_s: of.Time = 0.0
    response_s: of.Time = 0.0


def gas_ranges_stand_upright(draft):
    """A range's top is above its bottom."""
    yield from ranges_stand_upright(draft, "ppm", "ppm")


def set_point_can_be_met(draft):
    """Each gas's set point lies in the range of every transmitter of it (any of them may run the fan) and above what the air brings
    along."""
    control, second, name = (draft.sections.get(key) for key in ("control", "second_gas", "gas"))
    stated = [] if control is None else [("control", control.set_point_ppm, draft.sections.get("outdoor_ppm"), False)]
    stated += [] if second is None else [("second_gas", second.set_point_ppm, second.outdoor_ppm, True)]
    for section, target, outdoors, of_second in stated:
        for _, each in draft.items("transmitters"):
            if (each.gas not in (None, name)) == of_second and not each.range_low_ppm < target < each.range_high_ppm:
                within = f"{each.range_low_ppm:g} to {each.range_high_ppm:g} ppm of {each.name!r}"
                yield (section, "set_point"), f"must lie inside the range, {within}; got {target:g} ppm"
        if outdoors is not None and target <= outdoors:
            yield (section, "set_point"), f"must be above outdoor, {outdoors:g} ppm: no fan gets below it; got {target:g} ppm"


def gases_are_told_apart(draft):
    """Two gases have two names, every transmitter reads one that is stated, each gas is read, and the greater demand runs the fan."""
    first, second, control = (draft.sections.get(key) for key in ("gas", "second_gas", "control"))
    if first is None or ("second_gas" in draft.stated and second is None):
        return
    names, taps = [first, *([] if second is None else [second.name])], draft.items("transmitters")
    if second is not None and second.name.casefold() == first.casefold():
        yield ("second_gas", "name"), f"must be another than gas, {first!r}; got {second.name!r}"
        return
    for number, tap in taps:
        if tap.gas is not None and tap.gas not in names:
            known = f"{', '.join(map(repr, names))}{'' if second else '; no second_gas is stated'}"
            yield ("transmitters", number, "gas"), f"must be one of the gases ({known}); got {tap.gas!r:.60}"
    if second is None:
        for name, state in draft.items("traffic"):
            if state.engines_share is not None:
                yield (
                    ("traffic", name, "engines_share"),
                    "must be left out where no second_gas is stated: it is whose share that is",
                )
        return
    read = {tap.gas or first for _, tap in taps}
    for name in names if draft.whole("transmitters") else ():
        if name not in read:
            yield ("transmitters",), f"must read each gas somewhere; none reads {name!r}, which nobody would then hold or tell"
    if control is not None and control.rule != "highest":
        why = "a mean or a lower one of two gases lets one of them pass"
        yield ("control", "rule"), f"must be 'highest' where two gases are stated: {why}; got {control.rule!r}"


def gases_have_shares(draft):
    """Of two gases, which are worked with in per cent of their set points, neither has one so low that its share is past what a range or a
    car's engine may have."""
    control, second, cars = (draft.sections.get(key) for key in ("control", "second_gas", "cars"))
    if second is None or control is None or cars is None:
        return
    own = (("control", control.set_point_ppm, cars, False), ("second_gas", second.set_point_ppm, second, True))
    for section, target, engine, of_second in own:
        tops = [
            tap.range_high_ppm for _, tap in draft.items("transmitters") if (tap.gas not in (None, draft.sections.get("gas"))) == of_second
        ]
        least = max(*(MOST_SHARES * np.array([*tops, 0.0])), engine.emission_m3_s * WHOLE)
        if 0 < target < least:
            why = "a thousandth of its transmitters' ranges and what one engine's gas may come to"
            yield (section, "set_point"), f"must be at least {least:g} ppm where two gases are stated: {why}; got {target:g} ppm"


GAS_CHECKS = (gases_are_told_apart, gas_ranges_stand_upright, set_point_can_be_met, gases_have_shares)


def gas_names(site):
    """Names of a garage's gases, the first one first."""
    return (site.gas,) if site.second_gas is None else (site.gas, site.second_gas.name)


def gas_read(site, taps):
    """Number of the gas that each of some transmitters, or inputs of a strategy, reads [transmitters]."""
    return np.array([0 if tap.gas in (None, site.gas) else 1 for tap in taps])


def set_points_ppm(site):
    """Set point of each gas [gases], ppm."""
    own = [site.control.set_point_ppm]
    return np.array(own if site.second_gas is None else [*own, site.second_gas.set_point_ppm])


def in_shares(site, points_ppm):
    """A garage of two gases with every concentration in per cent of the set point of its gas, so that its model gives shares, not ppm;
    points_ppm: those set points [gases]."""
    times, second, stop = WHOLE / np.asarray(points_ppm, float), site.second_gas, site.control.low_demand
    control = {"set_point_ppm": float(site.control.set_point_ppm * times[0])}
    if stop is not None:
        control["low_demand"] = {"restart_above_ppm": stop.restart_above_ppm * times[0]}
    ends = [{end: float(getattr(tap, end) * times[number]) for end in ("range_low_ppm", "range_high_ppm")}
            for tap, number in zip(site.transmitters, gas_read(site, site.transmitters), strict=True)]  # fmt: skip
    return site.with_changes(
        outdoor_ppm=float(site.outdoor_ppm * times[0]),
        cars={"emission_m3_s": float(site.cars.emission_m3_s * times[0])},
        second_gas={"outdoor_ppm": float(second.outdoor_ppm * times[1]), "emission_m3_s": float(second.emission_m3_s * times[1]),
                    "set_point_ppm": float(second.set_point_ppm * times[1])},
        control=control, transmitters=ends,
    )  # fmt: skip
