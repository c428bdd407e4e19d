"""Review of rule and set point, of any plant: which door or place pays for the way the readings are combined,
a final exit among them?"""

from dataclasses import replace
from functools import partial

import numpy as np

from helpers.record.review.drive import lower_lowest, whose_full_speed
from helpers.record.review.kinds import BUILDING, RIGHTLY, STRATEGY, Kind, attention, draws_in, entries_first, pa, too_heavy, too_low, wrong
from helpers.studies.cases import conditions_of
from helpers.studies.doors.forces import door_forces
from helpers.studies.doors.kinds import LIGHTER_CLOSERS
from helpers.studies.duty.full_speed import EXIT_AT_FULL_SPEED
from helpers.studies.duty.relief_damper import fights_said
from helpers.studies.report import NETWORK, PRACTICE, WRONG_FAN, Finding, fine, inside_text, listed
from helpers.studies.status import SPARE_PA, room_status

PLACES = "low sides behind the doors, one instrument near each end; see the placement study"
NONE_TO_ENTER = "no figure to enter: no set point under any rule suits every weather and warmth of the stair; first what would change that"
AS_ON_PLATE = " as on the plate"  # ends what a door has once a wrong entry is put right
HALF_STEP_PA = 0.5  # of the set points tried
SIDES = {
    "average": "neither end is held at the set point",
    "weighted": "neither end is held at the set point",
    "middle": "only the reading in the middle is held",
    "highest": "the end that reads less gets what it gets",
    "lowest": "the end that reads more gets what it gets",
}


def low_door(bench, *, rules):
    """A shut door stays below its least while the loop is content."""
    loop, held = bench.strategy.loop, bench.held
    if loop.rule not in rules:
        return
    said = too_low(bench, held, bench.shut & (held.state == "held"))
    if said:
        title = f"The {loop.rule} reading hides a door that is left short: {said}"
        yield wrong(title, f"set point {pa(bench.set_point)}", SIDES[loop.rule], NETWORK, works(bench))


def heavy_door(bench):
    """A shut door is too heavy while the loop is content."""
    held, loop = bench.held, bench.strategy.loop
    said = too_heavy(bench, held, bench.shut & (held.state != "at lowest speed"))
    if said:
        yield wrong(
            f"The {loop.rule} reading drives a shut door over its force: {said}",
            f"{loop.rule} reading, {pa(bench.set_point)}",
            SIDES[loop.rule],
            NETWORK,
            works(bench),
        )


def little_room(bench):
    """Every shut door is inside, and one with less room than it may be off by: by `room_status`, as the ways of falling back are judged."""
    held, (least, most) = bench.held, bench.limits
    rooms = np.where(bench.places_there, np.minimum(held.places - least, most - held.places), np.inf)
    rooms = np.concatenate([rooms, -bench.others_out(held)], axis=1)
    rooms = np.where((bench.settled & (held.state == "held"))[:, None], rooms, np.inf)
    case, number = np.unravel_index(rooms.argmin(), rooms.shape)
    room, doors = float(rooms[case, number]), held.places.shape[1]
    if not np.isfinite(room) or room_status(room, bench.tolerance_pa) != "attention":
        return
    door = bench.door_text(number) if number < doors else bench.other_text(number - doors)
    there = held.places[case, number] if number < doors else held.others[case, number - doors]
    points = offered(bench, bench.strategy.loop.rule)
    among = f"another set point of those that suit, {inside_text(points.min(), points.max())}, else " if points.size else ""
    yield attention(
        "A shut door is inside its limits with little room",
        f"{door}, {bench.cases[case].name}: {fine(there)}, {fine(max(room, 0.0))} to spare, less than {fine(SPARE_PA)}",
        "wind, leaks and a transmitter's error take as much",
        f"{NETWORK}; {fine(SPARE_PA)}: {PRACTICE}",
        f"measure it on that storey, in that weather, before it counts as inside; for more room {among}{LIGHTER_CLOSERS}, not tried here",
    )


def beside_open(bench):
    """A case with open doors that the design has to hold is held, and a shut door is past its limit meanwhile."""
    held, cases = bench.held, bench.required & ~bench.settled & (bench.held.state == "held")
    none = held.others is None
    pushed = cases if none else cases & (held.others > bench.other_limits[1] + bench.tolerance_pa).any(axis=1)
    out = (too_heavy(bench, held, cases), too_low(bench, held, cases, doors_open=True),
           "" if none else bench.other_door(held, pushed))  # fmt: skip
    if any(out):
        yield wrong(
            "Set point held with doors open, a shut door past its limit",
            f"{'; '.join(filter(None, out))}; {bench.strategy.loop.rule} reading, {pa(bench.set_point)}",
            f"an open door takes its air beside one reading: {SIDES[bench.strategy.loop.rule]}",
            NETWORK,
            works(bench, bench.required & ~bench.settled & (bench.held_rightly.state == "held")),
        )


def _suits(bench):
    """Whether the set point suits the rule once every input is entered as its instrument is."""
    return bool(np.any(np.abs(bench.set_points(bench.strategy.loop.rule) - bench.set_point) <= HALF_STEP_PA))


def whose_beside_open(bench):
    """The strategy's where the right entries alone mend it, or the record has a set point for some rule at which every required case holds
    and every shut door bears it."""
    return STRATEGY if _suits(bench) or any(bench.of_record.set_points(bench, rule) for rule in bench.rules) else BUILDING


def tube_off(bench):
    """One instrument sees nothing, because its tube has come off: what the others make the fan do to the doors."""
    inputs, full = bench.strategy.inputs, bench.full_speed
    rests = [bench.rest(tubes=partial(_without, number)) for number in range(len(inputs))]
    blamed = [one.tag for one, held in zip(inputs, rests, strict=True) if too_heavy(bench, held, bench.shut)]
    if blamed and len(inputs) > 1:
        helps = full.damper is not None and full.damper.holds
        damper = (
            "or a relief damper, as at full speed" if helps else "no relief damper tried holds every door and stays shut at the set point"
        )
        yield replace(
            wrong(
                f"When the tube of {' or '.join(blamed)} comes off, the {bench.strategy.loop.rule} reading drives a door over its force",
                bench.worst_out(rests, bench.shut, ("high",)),
                "no band check sees a reading of zero pressure",
                NETWORK,
                f"{full.cure()}; {damper}; an alarm on readings that differ tells of it",
            ),
            possible=True,
        )


def _without(number, tubes_pa):
    tubes_pa[..., number] = 0.0
    return tubes_pa


def nothing_limits(bench):
    """No stair door states a minimum pressure or a force limit: there is nothing to hold the doors against."""
    if not any(np.isfinite(ends[bench.places_there]).any() for ends in bench.limits):
        yield Finding(
            "open", "No stair door states a limit: nothing was judged at the doors", "no minimum pressure, no force limit",
            "what is held against nothing is not passed", "site file",
            "the doors' closers, force limits and minimum pressures in the site file, as the standard and the code have them"
        )  # fmt: skip


def infeasible(bench):
    """No set point under any rule suits all shut doors in all weathers."""
    if bench.window.width_pa is not None and bench.window.width_pa <= 0:
        yield wrong(
            "No pressure at all suits every stair door",
            bench.window.verdict(),
            "least and most cross",
            "the doors' window",
            bench.window.must_change(),
        )
        return
    if any(bench.set_points(rule).size for rule in bench.rules):
        return
    if bench.suited[bench.settled].all():
        yield wrong(
            "No set point under any rule suits all shut doors, though at some speed each case does",
            f"tried {bench.between(bench.tried.min(), bench.tried.max())} with every rule these readings can run by",
            "the readings do not follow the doors: their places or low sides are the wrong ones",
            NETWORK,
            PLACES,
        )
        return
    spread = np.ptp(bench.held_rightly.doors_pa[bench.shut], axis=1)
    width, rightly = bench.window.width_pa, "with all inputs entered as their instruments are " if entries_first(bench) else ""
    figure = f"{rightly}the shut doors lie {pa(spread.max())} apart, the window is {'open' if width is None else pa(width) + ' wide'}"
    other = bench.other_door(bench.held_rightly, bench.settled)
    yield wrong(
        "No set point can hold every shut door inside its window, under any rule",
        f"{figure}; {other}" if other else figure,
        "the fan takes air out of the stair: it can hold no door above its floor"
        if draws_in(bench)
        else "stack effect spreads the pressure further than the doors allow",
        NETWORK,
        _feasible(bench),
    )


def whose_infeasible(bench):
    """Where some speed suits every case, other places for the readings do; where none does, the building has to change."""
    return STRATEGY if bench.suited[bench.settled].all() else BUILDING


def _feasible(bench, cases=None):
    """What would make it feasible, with figures, over some cases (default: all doors shut), all inputs entered as their instruments are: a
    figure found with a wrong entry is no closer to order."""
    if draws_in(bench):
        return WRONG_FAN
    cases, (least, most) = bench.shut if cases is None else cases, bench.limits
    if not cases.any():
        return "the fan holds none of these cases then: see what is told of the fan"
    doors, shut = bench.held_rightly.doors_pa[cases], bench.shut_doors[cases]
    out = [np.where(shut, beyond, -np.inf).max(axis=1) for beyond in (least - doors, doors - most)]
    short = float(np.sum(out, axis=0).max())
    closers = f"{bench.window.most.closers}, or " if bench.window.most else ""  # latched doors that it opens bear any
    first = "the stair doors' window is wide enough: what is out is a final exit, a lobby door or the fan"
    if short > bench.tolerance_pa:  # minus infinity where no stair door is shut in these cases
        first = f"a window wider by {pa(short)} for the stair doors ({closers}another minimum pressure by the code)"
    parted = "a stair divided into sections, each with a supply of its own; lobbies; more supply points against the shaft's friction"
    return f"{first}; not tried in this model: {parted}"


def set_point_fails(bench):
    """The rule would work at another set point, or only another rule does. Where none suits every temperature of the stair, the entry is
    still wrong if it does not suit the stated one, and another does: it comes before what the building cannot bear."""
    loop = bench.strategy.loop
    everywhere = any(bench.set_points(rule).size for rule in bench.rules)
    ways = (bench.set_points,) if everywhere else (bench.set_points_as_stated, partial(bench.set_points_as_stated, others=False))
    found = ({rule: find(rule) for rule in bench.rules} for find in ways)
    suits = next((one for one in found if any(points.size for points in one.values())), None)
    if suits is None or np.any(np.abs(suits[loop.rule] - bench.set_point) <= HALF_STEP_PA):
        return
    # the set point, and which door is out at it; where another set point suits every temperature, that of a final exit or lobby alone
    held = bench.held
    out = bench.other_door(held, bench.settled) if everywhere else _worst_as_stated(bench)
    lost = np.flatnonzero(bench.required & (held.state != "held")) if everywhere and not out else ()
    out = out or "".join(f"{bench.cases[case].name} is {held.state[case]}" for case in lost[:1])
    yield wrong(
        f"The set point does not suit the {loop.rule} reading" + ("" if everywhere else ", not even with the stair as its file says"),
        f"{pa(bench.set_point)}; {out}" if out else pa(bench.set_point),
        "some shut door is out of its window in some weather, a final exit would not close again, or a required case is not held",
        NETWORK,
        works(bench) if everywhere else NONE_TO_ENTER,
    )


def _worst_as_stated(bench):
    """The door that is out, or the case that is not held, with the stair as its file says."""
    cases, held = bench.as_stated, bench.held
    out = too_heavy(bench, held, cases) or too_low(bench, held, cases) or bench.other_door(held, cases)
    ends = [f"{bench.cases[place].name} {held.state[place]}" for place in np.flatnonzero(cases & (held.state != "held"))]
    return "; ".join(filter(None, (*ends[:1], out)))


def offered(bench, rule):
    """Of the set points that suit a rule those that the record offers; all where the stated fan holds every required case
    at none of them, and none where the relief damper lifts at each. Every finding that names set points of the rule asks here."""
    points, ends = bench.set_points(rule), bench.of_record.set_points
    run = ends(bench, rule) if points.size else None
    if run is None:
        lifts = points.size and ends(bench, rule, offered=False) is not None
        return points[:0] if lifts else points
    return points[(points >= run[0] - HALF_STEP_PA) & (points <= run[1] + HALF_STEP_PA)]


def works(bench, cases=None):
    """What would put the doors right: which set points work, rule by rule, or the right entries alone; cases: as `_feasible`."""
    first = entries_first(bench)
    if _suits(bench):
        return f"{RIGHTLY}: the set point then suits this rule"
    suits = {rule: offered(bench, rule) for rule in bench.rules}
    barred = {rule: bench.of_record.year_said(bench, rule) for rule, good in suits.items() if good.size}
    suits = {rule: suits[rule] for rule in barred if not barred[rule]} or {rule: suits[rule] for rule in barred}
    runs = [bench.of_record.set_points(bench, rule) for rule in bench.rules if bench.set_points(rule).size]
    held = any(runs)
    alone = "" if held else "; for the shut doors alone: the stated fan holds every required case at none of them"
    # set points that suit, rule by rule
    said = " or ".join(f"{rule} reading at {inside_text(good.min(), good.max())}{barred[rule]}" for rule, good in suits.items())
    if not said and runs:
        return f"{first}no set point to enter: {fights_said(bench.site)}"
    if said:
        return f"{first}{said}{alone}"
    return f"{first}{PLACES if bench.suited[bench.settled].all() else _feasible(bench, cases)}"


def not_below(bench):
    """The loop would go slower than the drive lets it; past a limit where a place that is to be held is out of its own meanwhile."""
    held = bench.held
    cases = np.flatnonzero((held.state == "at lowest speed") & (bench.settled | ~bench.idle))
    if not cases.size:
        return
    over = np.abs(held.display_pa[cases] - bench.set_point)
    worst = int(over.argmax())
    more = f", and in {cases.size - 1} more case{'s' * (cases.size > 2)}" if cases.size > 1 else ""
    resting = (held.state == "at lowest speed") & bench.settled
    out = bench.too_low(held, resting) or bench.too_high(held, resting)
    make, beside = (wrong, f"; {out}") if out else (attention, "")
    air = "air from elsewhere, or less of it drawn by others: no speed of this fan helps"
    entries = "the entries first: range, low sides, rule and set point; a lower lowest speed only takes air from what the fan is to hold"
    lower = lower_lowest(bench, resting) or entries
    yield make(
        f"The fan sits at its lowest speed: {bench.cases[cases[worst]].name}{more}",
        f"{bench.show(over[worst])} beyond the set point{beside}",
        "the loop is not in control there",
        NETWORK,
        air if whose_lowest(bench) == BUILDING else lower,
    )


def whose_lowest(bench):
    """Where a place is out of its limits at the lowest speed and at standstill as well, no entry mends it."""
    resting = (bench.held.state == "at lowest speed") & bench.settled
    out = [~bench.bears(bench.at_speed(speed), resting) for speed in (bench.speed_limits_hz[0], 0.0)]
    return BUILDING if (out[0] & out[1]).any() else STRATEGY


def street_door(bench):
    """The pressure pushes a final exit open, or keeps it from shutting again: at the set point, else at full speed. Its remedy is that with
    all inputs entered as their instruments are."""
    full = () if bench.full_speed is None else bench.full_speed.findings()
    at_full = [one for one in full if one.key == EXIT_AT_FULL_SPEED and one.severity in ("wrong", "attention")]
    now, first = past_or_near(bench.door_forces, "relatch "), entries_first(bench)
    then = {one.key: one for one in past_rightly(bench, "relatch ")} if now and first else {}
    names = [one.name for one in bench.strategy.inputs if not one.entered_as_it_is]
    right = {one.key: f"{first}{then[one.key].remedy}" if one.key in then else f"{RIGHTLY}: it then shuts again" for one in now}
    helps = right if first else {}
    yield from tuple(replace(one, figure=_both_entries(one, then, names), remedy=helps.get(one.key, one.remedy)) for one in now) or (
        replace(one, possible=True) for one in at_full
    )


def _both_entries(now, then, names):
    """Its figure, with what it has once the inputs named, entered wrongly, are right, where the door is out then too."""
    if now.key not in then:
        return now.figure
    has, rest = now.figure.split(", max. ", 1)
    right = f"{then[now.key].figure.partition(', max. ')[0]} once {listed(names)} {'is' if len(names) == 1 else 'are'}{AS_ON_PLATE}"
    return f"{has}, {right}, max. {rest}"


def past_rightly(bench, kind):
    """`past_or_near` of the doors' forces with all inputs entered as their instruments are."""
    air = bench.tower.solve(conditions_of(bench.site, bench.cases), bench.held_rightly.speed_hz)
    return past_or_near(door_forces(bench.site, bench.window, bench.cases, air), kind)


def whose_exit(bench):
    """The strategy's where the right entries alone make every final exit shut again; else the building's."""
    now = entries_first(bench) and past_or_near(bench.door_forces, "relatch ")
    return STRATEGY if now and not past_rightly(bench, "relatch ") else BUILDING


def past_or_near(forces, key):
    """What the study of the doors finds past a limit or near it, of one sort."""
    return tuple(one for one in forces.findings() if one.key.startswith(key) and one.severity in ("wrong", "attention"))


KINDS = (
    Kind(
        "average hides",
        "an average that hides a door below its least",
        partial(low_door, rules=("average", "weighted", "middle")),
        stairs_only=True,
    ),
    Kind("highest leaves", "a highest reading that leaves a floor short", partial(low_door, rules=("highest",)), stairs_only=True),
    Kind(
        "lowest leaves",
        "a lowest reading that leaves a floor without transmitter short",
        partial(low_door, rules=("lowest",)),
        stairs_only=True,
    ),
    Kind("door too heavy", "a door that is too heavy while the loop is content", heavy_door, stairs_only=True),
    Kind("little room", "a shut door that is inside with little room", little_room, stairs_only=True),
    Kind("beside open doors", "a shut door past its limit while open doors are held", beside_open, whose_beside_open, stairs_only=True),
    Kind("tube off", "a door over its force when one tube comes off", tube_off, whose_full_speed, stairs_only=True),
    Kind("no limits", "doors without any limit to be judged by", nothing_limits, BUILDING, stairs_only=True),
    Kind("infeasible", "a set point that no rule can make right", infeasible, whose_infeasible, stairs_only=True),
    Kind("set point fails", "a set point that does not suit the rule", set_point_fails, stairs_only=True),
    Kind("at lowest speed", "a loop that sits at its lowest speed", not_below, whose_lowest),
)


def place_left_out(bench):
    """A place is out of its limits while the loop is content."""
    held, cases = bench.held, bench.settled & (bench.held.state == "held")
    said = bench.too_low(held, cases) or bench.too_high(held, cases)
    if said:
        yield wrong(
            f"The {bench.strategy.loop.rule} reading leaves a place out of its limits: {said}",
            f"set point {bench.show(bench.set_point)}",
            "the loop is content with its reading, and the place that pays is another",
            NETWORK,
            _works(bench),
        )


def _rules(bench):
    return (
        tuple(dict.fromkeys([bench.strategy.loop.rule, "average", "lowest", "highest"])) if len(bench.strategy.inputs) > 1 else ("average",)
    )


def _works(bench):
    """Set points that keep every place within its limits, rule by rule, in words."""
    said = []
    for rule in _rules(bench):
        good = bench.set_points(rule)
        said += [f"{rule} reading at {bench.between(good.min(), good.max())}"] if good.size else []
    return " or ".join(said) or "no set point under any rule does: the plant has to change, or what is asked of it"


def whose_place(bench):
    """An entry mends it where some rule has a set point that suits every place."""
    return STRATEGY if any(np.size(bench.set_points(rule)) for rule in _rules(bench)) else BUILDING


ELSEWHERE_KINDS = (Kind("place left out", "a place out of its limits while the loop is content", place_left_out, whose_place),)
