"""What traffic that turns at once comes to in a garage's record: tables, what fails, which remedies were tried and the worst case of each.

Limits: those of `studies.low_demand.gas_rush`. Past its most in a turn that is quicker than cars are is to be looked at, not yet a failure;
past the gas alarm for as long as that waits fails, since everybody then leaves the garage in every such turn, or learns not to.
"""

import numpy as np

from helpers.model.plants.gases import gas_names
from helpers.record.plants.laid import ALARM_AFTER_S, lags_tried
from helpers.record.review.loop import calm, loop_margins
from helpers.studies.low_demand.gas_rush import NEVER, rush_study
from helpers.studies.report import NETWORK, Finding, Table, listed, time_text
from helpers.studies.tuning.two_loops import ONE, WAYS

GAIN_TIMES = (1.5, 2.0, 3.0)  # the gain that is laid down, tried without a stop where it is calm
GAIN, RESTART = ("loop", "gain"), ("low demand", "restart")
SOURCE = f"{NETWORK}, in time"
COLUMNS = ("Way", "Worst turn of traffic", "Highest gas", "Its most", "Past it for", "A reading above its alarm for")
NOTE = "down the states of traffic one by one, then to a heavier one at once; zones with a transmitter, readings without error; "


PAST = (
    "its most is that of steady air: past it in a turn at once is CHECK while no reading is above its gas alarm for as long as that waits, "
    "else FAIL; past it after a stop is FAIL"
)


def rush_of(design):
    """The `GasRush` of a garage's `PlantDesign`: the gain that is laid down, and more of it as far as all `lags_tried` stay calm."""
    gain, bench = design.strategy.loop.controller_gain, design.bench
    tried = tuple(lags_tried(bench).values())
    gains = [float(f"{gain * times:.2g}") for times in GAIN_TIMES]
    gains = [one for one in gains if all(calm(loop_margins(other, one)) for other in tried)]
    alarms, most = [one.own_limits[1] for one in bench.strategy.inputs], bench.limits[1].max(axis=0)[bench.input_places]
    return rush_study(bench.stated, gain, tuple(gains), most if bench.two else float(most.max()), alarms)


def _case(design, way, stopped=None):
    """(zone with its highest gas, of its most, for how long, in which turn) of the worst course of a way, in words."""
    rush, bench = design.rush, design.bench
    at, rushed = rush.worst(way, stopped), rush.played[way]
    number = int(rushed.place[at])
    zone = bench.place_names[bench.input_places[number]]
    peak, most = bench.fine(rushed.peak_ppm[at]), bench.show(rush.most_ppm[number])
    past = f", for {time_text(rushed.past_s[at])}" if rushed.past_s[at] > 0 else ""
    return f"{zone} {peak} of {most}{past} ({rush.courses[at].said})"


def rings(design, way):
    """Whether some course of a way holds a reading above its gas alarm as long as that waits."""
    return bool(design.rush.played[way].above_alarm_s.max() >= ALARM_AFTER_S)


def rush_table(design, key, title, ways):
    """The `Table` of some ways: the worst course of each. The first is the one that is judged."""
    rush, bench, rows, states = design.rush, design.bench, [], []
    for way in ways:
        rushed, at = rush.played[way], rush.worst(way)
        number = int(rushed.place[at])
        gas, most = f", {gas_names(design.site)[bench.read[number]]}" * bench.two, bench.show(rush.most_ppm[number])
        rows.append((way.called, rush.courses[at].said, f"{bench.fine(rushed.peak_ppm[at])}{gas}", most,
                     time_text(rushed.past_s.max()), time_text(rushed.above_alarm_s.max())))  # fmt: skip
        own = "wrong" if rings(design, way) or way.rule != NEVER else "attention"
        states.append("good" if rush.keeps(way) else own)
    note = f"{NOTE}the first is laid down, the others were tried; {PAST}; the gas alarm waits {time_text(ALARM_AFTER_S)}"
    return Table(key, title, COLUMNS, tuple(rows), tuple(states), note)


def turn_tables(design):
    """The tables of traffic that turns with the fan running; of two gases also of who runs the fan."""
    return (running_table(design), loops_table(design)) if design.bench.two else (running_table(design),)


def loops_table(design):
    """One loop on the greater share beside two loops of which the higher output runs the fan, in turns of traffic."""
    loops, bench, rows, states = design.loops, design.bench, [], []
    most = bench.limits[1].max(axis=0)[:: len(bench.plant.zones)]
    for way in WAYS:
        peaks, past = loops.peaks(way), loops.past_s(way, most)
        beyond = (peaks - most[:, None]).max(axis=0)
        over = np.where(loops.takes_over, beyond, -np.inf)
        cells = []
        for at in (int(over.argmax()), int(beyond.argmax())) if loops.takes_over.any() else (None, int(beyond.argmax())):
            has = (
                ""
                if at is None
                else listed(f"{bench.fine(peak)} {gas}" for peak, gas in zip(peaks[:, at], gas_names(design.site), strict=True))
            )
            cells.append("none" if at is None else f"{loops.turns[at][0]}, then {loops.turns[at][1]}: {has}; past it {time_text(past[at])}")
        rows.append((way, *cells))
        states.append("" if way != ONE else "good" if past.max() == 0 else "attention")
    columns = ("Way", "Worst turn after which the other gas runs the fan, above its lowest speed before", "Worst turn of all")
    limits = listed(f"{bench.show(one)} of {gas}" for one, gas in zip(most, gas_names(design.site), strict=True))
    note = (
        f"from each state of traffic to each other one at once, settled before; its most: {limits}, each in per cent of its own set point; "
    )
    return Table(
        "loops",
        "One loop for both gases, and two",
        columns,
        tuple(rows),
        tuple(states),
        f"{note}the first is laid down, the others were tried",
    )


def running_table(design):
    """Turns of traffic with the fan running: the gain that is laid down, and more of it."""
    ways = [way for way in design.rush.ways if way.rule == NEVER]
    return rush_table(design, "rushes", "Traffic that turns at once, the fan running", ways)


def stop_table(design):
    """Turns of traffic with the stop, with other ways out of it, and without."""
    return rush_table(design, "stop rushes", "Traffic that turns at once, with the stop and without", design.rush.ways)


def _tried(design, ways):
    """What some ways come to in their worst case, and which of them keep every zone, in words."""
    rush, bench = design.rush, design.bench
    said = "; ".join(f"{way.called}: {bench.fine(rush.played[way].peak_ppm[rush.worst(way)])}" for way in ways)
    kept = [way.called for way in ways if rush.keeps(way)]
    return f"tried, worst case of each: {said}. " + (f"Kept by: {listed(kept)}" if kept else "None of them keeps it")


def stop_findings(design):
    """The `Finding`, if there is one, that a zone passes its most after a garage's stop, before the fan has the gas again."""
    rush = design.rush
    own, *others = rush.ways
    at = rush.worst(own, stopped=True)
    if own.rule == NEVER or at is None or rush.past_ppm(rush.played[own])[at] <= 0:
        return
    yield Finding(
        "wrong",
        "After a stop the gas passes its most before the fan has it again",
        _case(design, own, stopped=True) + ("; the gas alarm rings" if rings(design, own) else ""),
        "the fan starts again by a reading of standing air that is past the set point already, and waits besides",
        SOURCE,
        _tried(design, others),
        settings=(RESTART,),
    )


def rush_findings(design):
    """The `Finding`, if there is one, that traffic which turns at once takes a zone past its most with the fan running all the time."""
    rush = design.rush
    way = rush.unstopped
    if rush.keeps(way):
        return
    more = [other for other in rush.ways if other.rule == NEVER and other is not way]
    yield Finding(
        "wrong" if rings(design, way) else "attention",
        "Traffic that turns at once takes the gas past its most, the fan running",
        _case(design, way) + ("; the gas alarm rings" if rings(design, way) else "; the gas alarm does not ring"),
        "the loop meets the gas when it is there; the alarm is no remedy for that, and is not raised for it",
        SOURCE,
        _tried(design, more) if more else "no more gain is calm; a lower set point, tried by a record of its own",
        settings=(GAIN,),
    )


def alarm_said(design):
    """What the turns of traffic come to at the gas alarm, in words: of this garage, not of garages in general."""
    longest = max(design.rush.played[design.rush.unstopped].above_alarm_s)
    held = f"a reading is above it for {time_text(float(longest))} on end" if longest else "no reading is above it"
    return f"in the turns of traffic that were played, the fan running, {held}"
