"""Review of ranges and signals: does the drive know what the instruments tell it, and do they tell enough?"""

import numpy as np

from helpers import units
from helpers.formulas import air, signals, uncertainty
from helpers.model.site.schema import tag_as_now
from helpers.record.review.curves import displayed
from helpers.record.review.kinds import Kind, attention, pa, wrong
from helpers.studies.cases import Case, case_said, conditions_of
from helpers.studies.report import NETWORK, PRACTICE, fine, finest
from helpers.studies.signals.low_sides import unlike_low_sides
from helpers.studies.signals.plates import plate_text
from helpers.studies.signals.range_choice import small_negative_end
from helpers.units.said import three, with_unit

LOW_PERCENT, HIGH_PERCENT = 15.0, 85.0  # of the span, where a set point leaves too little room on one side; common practice, no source
STEPS_PER_MARGIN = 10  # steps of the converter in the least room there is; common practice, no source
SAME_SHARE = 0.02  # two scalings this close are one, rounded
UNIT_FACTORS = {
    "in. w.c. taken for Pa": units.WATER_COLUMNS_PA[units.WATER_COLUMN],
    "mm of water taken for Pa": units.WATER_COLUMNS_PA[units.WATER_COLUMN] / 25.4,
    "in. w.c. taken for mm of water": 25.4,
    "hPa taken for Pa": 100.0,
    "kPa taken for Pa": 1000.0,
}
FACING_CP = 1.0  # the whole velocity pressure, as a bare tube end that faces the wind takes it; text-book


def _plate(bench, one, low, high):
    """A range of an input in words; of pressure as its trade writes it, of two gases in ppm."""
    if bench.dimension == "pressure":
        return plate_text(low, high)
    return bench.between(low, high) if bench.alike is None else bench.filed_range(one, low, high)


def _groups(bench):
    """Numbers of the inputs that read the same, group by group."""
    return [np.arange(len(bench.strategy.inputs))] if bench.alike is None else bench.alike


def entered_range(bench):
    """The range or the signal entered is not the instrument's: the drive shows another pressure than there is."""
    for one in bench.strategy.inputs:
        if not one.entered_as_it_is:
            true = bench.set_point
            signal, low, high = one.entered
            own = _plate(bench, one, *one.range)
            told = f"entered {_plate(bench, one, low, high)} at {signal}, plate {own} at {one.signal}"
            figure = f"{told}; at {bench.show(true)} the drive shows {bench.show(displayed([one], np.array([true]))[0])}"
            # what the entries do to the places, against the same strategy entered rightly
            now, then = (
                bench.between(places.min(), places.max())
                for places in (held.places[bench.settled] for held in (bench.held, bench.rest(inputs=bench.entered_rightly)))
            )
            yield wrong(
                f"The entry for {one.tag} is not what its plate says",
                figure,
                f"with all entries as they are {bench.places_words} {now}; entered rightly, {then}",
                NETWORK,
                f"enter {own}, {one.signal} for {one.tag}",
            )


def two_scales(bench):
    """Two inputs show different pressures for one and the same, though their instruments are alike."""
    inputs = bench.strategy.inputs
    slopes = [np.diff(displayed([one] * 2, np.array(one.range)))[0] / (one.range[1] - one.range[0]) for one in inputs]
    pairs = [(inputs[at], slopes[at], inputs[group[0]], slopes[group[0]]) for group in _groups(bench) for at in group[1:]]
    for one, slope, first, own in pairs:
        ratio = max(slope, own) / min(slope, own)
        if ratio > 1 + SAME_SHARE:
            guess = next((words for words, factor in UNIT_FACTORS.items() if abs(ratio / factor - 1) < SAME_SHARE), "")
            why = f"the factor is that of {guess}" if guess else "readings that are not in one unit cannot be compared or averaged"
            yield wrong(
                f"{first.tag} and {one.tag} are scaled differently",
                f"{three(ratio)} times as much for the same pressure",
                why,
                "settings of the strategy",
                "enter both inputs in one unit, each with its own instrument's range",
            )


def set_point_near_end(bench):
    """The set point lies outside a range or close to an end of it."""
    target = bench.set_point
    for one in bench.strategy.inputs:
        low, high = one.range
        percent = 100 * (target - low) / (high - low)
        own = _plate(bench, one, low, high)
        figure = f"{bench.show(target)} of {own}, {percent:.0f} % of the span"
        if not 0 <= percent <= 100:
            yield wrong(
                f"The set point is outside the range of {one.tag}",
                figure,
                "the reading never gets there: the fan runs to an end",
                "settings of the strategy",
                "a range that holds the set point about half way up",
            )
        elif not LOW_PERCENT <= percent <= HIGH_PERCENT:
            end = "top" if percent > HIGH_PERCENT else "bottom"
            yield attention(
                f"The set point is near the {end} of the range of {one.tag}",
                figure,
                "beyond the end the loop is blind, and near the bottom accuracy counts for most",
                PRACTICE,
                "a range that holds the set point between a third and two thirds",
            )


def error_eats_window(bench):
    """A transmitter may be off by more than the room there is at the worst shut door."""
    room = bench.least_room_pa
    if not np.isfinite(room):  # nothing limits a door: there is no room to be eaten
        return
    for one in bench.strategy.inputs:
        error = float(signals.accuracy(one.range_low_pa, one.range_high_pa, one.accuracy_percent_span))
        figure = f"± {fine(error)} ({one.accuracy_percent_span:g} % of the span), room {fine(max(room, 0.0))}"
        if bench.window.width_pa is not None and 2 * error > bench.window.width_pa:
            yield wrong(
                f"The range of {one.tag} is so wide that its error eats the whole window",
                figure,
                f"the window is {pa(bench.window.width_pa)} wide",
                "data sheet against the doors' window",
                "a narrower range or a better instrument",
            )
        elif 0 < room < error:
            yield attention(
                f"{one.tag} may be off by more than there is to spare",
                figure,
                "a door may be out of its window while the display says all is well",
                NETWORK,
                "a narrower range, a better instrument, or a set point in the middle of what works",
            )


def coarse_steps(bench):
    """The converter's step is coarse beside the room there is."""
    room = max(bench.least_room_pa, 0.0)
    for one in bench.strategy.inputs:
        step = float(signals.resolution(*one.range, one.converter_bits, one.signal))
        if room and STEPS_PER_MARGIN * step > room:
            yield attention(
                f"{one.tag} is read in coarse steps",
                f"{_finest(bench, step)} a step, room {bench.fine(room)}",
                "the loop hunts from step to step, and the display jumps",
                PRACTICE,
                "an input with more bits, or a narrower range",
            )


def _finest(bench, value):
    return finest(value) if bench.dimension == "pressure" else with_unit(value, bench.dimension, 2)


def one_sided(bench):
    """The pressure may turn negative where the range begins at zero."""
    idle = bench.curves.tubes_pa[bench.settled, 0]
    for number, one in enumerate(bench.strategy.inputs):
        least = float(min(idle[:, number].min(), bench.held.tubes_pa[:, number].min()))
        if one.range[0] <= least:
            continue
        if bench.held.tubes_pa[:, number].min() < one.range[0]:
            yield wrong(
                f"{one.tag} cannot show the pressure there is: it goes below its range while the loop holds",
                bench.show(least, (1, None)),
                "below its end the reading stands still, and the loop goes by a wrong figure",
                NETWORK,
                "a range that begins below zero",
            )
        else:
            case = bench.cases[np.flatnonzero(bench.settled)[int(idle[:, number].argmin())]]
            when = case_said(case, bench.site) if isinstance(case, Case) else case.name
            yield attention(
                f"With the fan stopped {one.tag} goes below {bench.show(one.range[0])}, where its range begins",
                f"{bench.show(least, (1, None))} ({when})",
                "it shows the bottom of its range then, as it does with reversed tubes",
                NETWORK,
                small_negative_end(one.range[1]) if bench.dimension == "pressure" else "a range that begins below that",
            )


def blind_at_full_speed(bench):
    """At full speed, doors shut, the pressure is beyond the range."""
    full = bench.curves.tubes_pa[bench.settled, -1]
    for number, one in enumerate(bench.strategy.inputs):
        most = float(full[:, number].max())
        if most > one.range[1]:
            yield attention(
                f"With the fan at full speed {one.tag} is beyond its range",
                f"{bench.show(most)}, top {bench.show(one.range[1])}",
                "when little is asked again the loop does not see how far it is over, and comes back late",
                NETWORK,
                "a wider range, if its error still fits the window",
            )


def wrong_reference(bench):
    """The low side ends in another space than the one behind the door that is to be held."""
    words = {"outdoors": "outdoors", "floor": "the floor", "lobby": "the lobby"}
    for number, one in enumerate(bench.strategy.inputs):
        storey = bench.tower.storey(one.level)
        behind = "lobby" if bench.site.storeys[storey].lobby else "floor"
        if one.reference == behind:
            continue
        off = (bench.held.tubes_pa[:, number] - bench.held.doors_pa[:, storey])[bench.shut]
        error = float(signals.accuracy(one.range_low_pa, one.range_high_pa, one.accuracy_percent_span))
        worst = float(off[np.abs(off).argmax()])
        make = wrong if abs(worst) > max(error, bench.tolerance_pa) else attention
        yield make(
            f"{one.tag} is referenced to {words[one.reference]}, and the door stands against the {behind}",
            f"up to {fine(abs(worst))} off the door's own pressure",
            "stack effect and wind come into the reading",
            NETWORK,
            f"end the low side in the {behind} of storey {one.level}",
        )


def other_level(bench):
    """An input on another storey than the transmitter of its name in the site file."""
    stated = {tag_as_now(tap.name): tap.level for tap in bench.stated.transmitters}
    moved = [one for one in bench.strategy.inputs if stated.get(tag_as_now(one.name), one.level) != one.level]
    swapped = sorted(one.level for one in moved) == sorted(stated[tag_as_now(one.name)] for one in moved)
    for one in moved:
        yield (wrong if swapped else attention)(
            f"{one.tag} is on another storey than in the site file{': swapped with another' if swapped else ''}",
            f"storey {one.level}, in the site file storey {stated[tag_as_now(one.name)]}",
            "rule, set point, alarms and fallback were judged with it where the strategy has it; on site it may hang elsewhere",
            "settings of the strategy; site file",
            "look on site at which storey its tubes end, and put the file right that is wrong",
        )


def low_sides(bench):
    """One reading over the floor and another over the lobby or outdoors."""
    loop = bench.strategy.loop
    if len({one.reference for one in bench.strategy.inputs}) > 1:
        air = bench.tower.solve(conditions_of(bench.site, bench.cases), bench.held.speed_hz)
        yield from unlike_low_sides(bench.tower, air, bench.shut, loop.rule, loop.weights)


def reference_in_wind(bench):
    """The low side ends outdoors without a shield: gusts run the fan."""
    for one in bench.strategy.inputs:
        if not one.reference_in_wind:
            continue
        storey = bench.tower.storey(one.level)
        rows = conditions_of(bench.site, bench.cases)
        height = max(float(bench.tower.elevation_m[storey]), 0.0)
        at_height = air.wind_speed_at_height(float(np.max(rows.wind_speed_m_s)), height, bench.site.terrain)
        blown = float(FACING_CP * air.velocity_pressure(at_height))
        make, left = wrong if bench.least_room_pa < blown else attention, max(bench.least_room_pa, 0.0)
        room = f"the worst door has {fine(left)} of room" if np.isfinite(left) else "no door states a limit"
        yield make(
            f"The low side of {one.tag} ends in the wind",
            f"{fine(blown)} in a mean wind of {with_unit(at_height, 'wind speed')}, and more in its gusts",
            f"the reading moves with every gust; {room}",
            "velocity pressure, ASHRAE Fundamentals ch. 24",
            "an indoor reference; a shielded head takes part of it, and a longer filter the gusts alone, never the mean wind",
        )


def dead_wire_unseen(bench):
    """With a true zero a dead wire reads as nothing there, and what the rule makes of that: the lowest reading runs to full speed."""
    inputs = bench.strategy.inputs
    blind = [number for number, one in enumerate(inputs) if not signals.live_zero(one.entered[0])]
    if blind:
        rests = [bench.rest(dead=number) for number in blind]
        out = bench.worst_out(rests, bench.settled)
        to_full = any((held.state[bench.settled] == "at full speed").all() for held in rests)
        named = " and ".join(inputs[number].tag for number in blind)
        run = f", and the {bench.strategy.loop.rule} reading then runs the fan to full speed" if to_full else ""
        stair = bench.site.kind == "stair"  # on which no fallback begins, whatever the doors bear: as in its design record
        make = wrong if out or to_full or stair else attention
        yield make(
            f"A broken wire at {named} cannot be told from no {bench.held_words}{run}",
            f"{', '.join(inputs[number].entered[0] for number in blind)}{f'; {out}' if out else ''}",
            "without a live zero the drive takes a dead wire for a reading, and no fallback helps",
            "NAMUR NE 43 (from memory, not verified)",
            "a signal with a live zero, such as 4-20 mA or 2-10 V",
        )


def unlike_units(bench):
    """Readings that are combined are displayed in unlike units."""
    shown = {one.display_unit for one in bench.strategy.inputs if one.display_unit}
    if len(shown) > 1:
        yield attention(
            "The readings are displayed in unlike units",
            ", ".join(f"{one.tag} in {one.display_unit}" for one in bench.strategy.inputs if one.display_unit),
            "whoever compares the two displays, or types a limit, takes one for the other",
            "settings of the strategy",
            "one unit on all displays, that of the sheets",
        )


def spread_of_error(bench):
    """Several unlike instruments combined."""
    for errors in (bench.errors[group] for group in _groups(bench)):
        if len(errors) == 1 or errors.max() <= 2 * errors.min():
            continue
        together = float(uncertainty.worst_case(errors)) / len(errors)
        yield attention(
            "The instruments are of unlike accuracy",
            " and ".join(f"± {bench.fine(error)}" for error in errors),
            f"the worse one governs; averaged they may be off by {bench.fine(together)}",
            "data sheets",
            "the same range and class for all",
        )


def one_reading(bench):
    """A loop for smoke control, or for gas, that hangs on one reading, of two gases on one of either."""
    alone = min(map(len, bench.alike or [bench.strategy.inputs])) == 1
    if alone and (bench.smoke_control or bench.gas):
        spread = float(np.ptp(bench.held.places[bench.settled], axis=1).max())
        yield attention(
            "The loop hangs on one reading",
            f"the places lie up to {bench.show(spread)} apart",
            "one tube, one wire, one place: what it does not see nobody sees",
            NETWORK,
            "a second transmitter",
        )


KINDS = (
    Kind("one reading", "a loop for smoke control or gas on one reading", one_reading),
    Kind("entered range", "an entered range or signal that is not the instrument's", entered_range),
    Kind("two scales", "inputs that are scaled differently", two_scales),
    Kind("set point near end", "a set point near or beyond the end of a range", set_point_near_end),
    Kind("error eats window", "an instrument whose error eats the window", error_eats_window, stairs_only=True),
    Kind("coarse steps", "A/D converter steps that are coarse beside the window", coarse_steps),
    Kind("one-sided", "a one-sided range where the pressure may turn negative", one_sided),
    Kind("blind at full speed", "a range that ends below the pressure at full speed", blind_at_full_speed),
    Kind("wrong reference", "a low side in the wrong space", wrong_reference, stairs_only=True),
    Kind("other level", "an input on another storey than the site file's", other_level, stairs_only=True),
    Kind("unlike low sides", "low sides that end in unlike spaces", low_sides, stairs_only=True),
    Kind("reference in wind", "a low side in the wind", reference_in_wind, stairs_only=True),
    Kind("dead wire unseen", "a signal on which a dead wire cannot be seen", dead_wire_unseen),
    Kind("unlike units", "readings displayed in unlike units", unlike_units),
    Kind("unlike instruments", "instruments of unlike accuracy", spread_of_error),
)
