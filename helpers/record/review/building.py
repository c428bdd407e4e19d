"""Review of what a stair asks of any strategy: two temperatures, height, the final exit door, instruments at both ends; and of its tuning
in a building that differs from the model, and what a door then sees. Stairs only.

Much of it belongs to the building and no entry in a drive changes it; the review says so. Margins and proposal are the tuning study's.
"""

from dataclasses import replace

import numpy as np

from helpers.record.damper import sound_finding
from helpers.record.review.drive import shaft_power_w
from helpers.record.review.kinds import BUILDING, STRATEGY, Kind, attention, draws_in, entries_first, whose_later, wrong
from helpers.record.review.loop import settles_text
from helpers.record.review.rule import offered, past_or_near, past_rightly, street_door, whose_exit
from helpers.record.review.stair_bench import SLUGGISH
from helpers.studies.duty.motor_feed import thin_air
from helpers.studies.duty.supply.height import doors_are_apart
from helpers.studies.duty.supply.height import too_tall as height_findings
from helpers.studies.report import NETWORK, WRONG_FAN, Finding, inside_text, listed, time_text
from helpers.studies.tuning.candidate import BOX, asked_text, margin_text, numbers_text
from helpers.studies.tuning.findings import damping_findings, heavy_finding, short_finding
from helpers.studies.tuning.times_said import seconds_text
from helpers.units.said import three, two

NOT_TRIED = "tempered supply air, other closers, lobbies, or sections, none of them tried here"
THIRD = 1 / 3  # of the stair's height, within which all instruments stand at one end; common practice, no source


def two_temperatures(bench):
    """The doors are inside their window with the stair as warm as the file says, and not in its first minute or after an hour.

    A fan at an end of its speed counts as one that holds: what its doors see is judged alike.
    """
    held, stated = bench.held, bench.as_stated
    others = bench.settled & ~stated

    def out(cases):
        return bench.too_low(held, cases) or bench.too_high(held, cases)

    if not others.any() or out(stated):
        return
    said = out(others)
    if not said:
        return
    works = offered(bench, bench.strategy.loop.rule)
    if works.size:
        remedy = f"a set point that suits both: {inside_text(works.min(), works.max())} with the same rule"
    elif bench.site.fan.sign < 0 and bench.too_low(held, others):
        remedy = WRONG_FAN
    else:
        others_suit = any(offered(bench, rule).size for rule in bench.rules)
        remedy = f"no set point with {'this' if others_suit else 'any'} rule suits both: {'another rule, ' * others_suit}{NOT_TRIED}"
    yield wrong(
        f"A door is out of its window when the stair is not as warm as the file says: {said}",
        f"set point {bench.show(bench.set_point)}; {_stated_said(bench, stated)}",
        "in its first minute the stair is as warm as the rooms, after an hour as cold as the supply makes it: both in one fire",
        f"{NETWORK}, stair's heat balance",
        remedy,
    )


def _stated_said(bench, stated):
    """What there is with the stair as its file says: never that all is inside where the fan is at an end of its speed."""
    ends = [f"{bench.cases[place].name} {bench.held.state[place]}" for place in np.flatnonzero(stated & (bench.held.state != "held"))]
    return (
        f"as stated no shut door is out, but the set point is not held: {listed(ends)}" if ends else "as stated every shut door is inside"
    )


def whose_temperatures(bench):
    """Two temperatures that some set point would suit are the strategy's, others the building's."""
    return STRATEGY if bench.set_points(bench.strategy.loop.rule).size else BUILDING


def too_tall(bench):
    """The stair is taller than one supply point is good for; with several, or lower, by the air: its ends are too far apart."""
    air, cases = bench.held_rightly, tuple(case for case in bench.cases if case.shut)
    held, doors = air.state[bench.shut] == "held", air.doors_pa[bench.shut]
    apart = doors_are_apart(bench.window, cases, bench.tower.levels, held, doors, bench.limits)
    yield from height_findings(bench.site, bench.window, float(np.ptp(bench.tower.elevation_m)), apart)


def motor_in_thin_air(bench):
    """The building stands so high that motor and drive are cooled less than their plates say."""
    yield from thin_air(bench.site, float(shaft_power_w(bench, bench.speed_limits_hz[1]).max()))


def closers(bench):
    """A closer alone takes more than the standard allows: no pressure, set point or tuning changes that. Its remedy is that with all inputs
    entered as their instruments are."""
    yield from past_rightly(bench, "closer ") if entries_first(bench) else past_or_near(bench.door_forces, "closer ")


def at_one_end(bench):
    """All instruments stand at one end of the stair, and the other end is read by nobody."""
    inputs, tower = bench.strategy.inputs, bench.tower
    if len(inputs) < 2:
        return
    heights = tower.elevation_m[[tower.storey(one.level) for one in inputs]]
    whole = float(tower.elevation_m[-1] - tower.elevation_m[0])
    doors = bench.held.doors_pa[bench.settled]
    spread = float(np.ptp(doors, axis=1).max())
    if whole <= 0 or float(np.ptp(heights)) >= THIRD * whole or spread <= max(float(bench.errors.max()), bench.tolerance_pa):
        return
    far = 0 if heights.mean() - tower.elevation_m[0] > whole / 2 else -1
    middle = doors[:, [tower.storey(one.level) for one in inputs]].mean(axis=1)
    off = doors[:, far] - middle
    worst = float(off[np.abs(off).argmax()])
    beyond = bench.too_low(bench.held, bench.settled) or bench.too_high(bench.held, bench.settled)
    yield (wrong if beyond else attention)(
        f"{listed(one.tag for one in inputs)} stand at one end of the stair",
        f"storeys {listed(str(one.level) for one in inputs)}; stair door {tower.levels[far]} differs from them by up to "
        f"{bench.fine(abs(worst))}{f'; {beyond}' if beyond else ''}",
        "two instruments side by side are one instrument twice: what happens at the other end nobody sees",
        NETWORK,
        "one near the lower end and one near the upper end; see the placement study",
    )


def saturates(bench):
    """The fan gives all it has and the set point is not reached."""
    yield from _saturated(bench, bench.settled)


def saturates_open(bench):
    """The same with doors open, with the set point that the fan holds there; past a limit where the design has to hold the case."""
    run = _held_by_the_fan(bench)
    other = f"a set point at which the fan holds every required case, {inside_text(*run)}; else " if run else ""
    yield from (replace(one, remedy=f"{other}{one.remedy}") for one in _saturated(bench, ~bench.settled))


def _held_by_the_fan(bench):
    """The record's set points with this rule, where a required case with open doors is not held at the one entered; else None."""
    lost = (bench.required & ~bench.settled & ~bench.held_back & (bench.held.state == "at full speed")).any()
    return bench.of_record.set_points(bench, bench.strategy.loop.rule) if lost else None


def _saturated(bench, chosen):
    """What a lower highest speed than the site's brings about is told of that entry."""
    cases = np.flatnonzero((bench.held.state == "at full speed") & ~bench.held_back & chosen)
    if not cases.size:
        return
    held, required = bench.held, bench.required[cases]
    make, told = (wrong, cases[required]) if required.any() else (attention, cases)
    worst = told[np.abs(held.display_pa[told] - bench.set_point).argmax()]
    more = f", and in {cases.size - 1} more case{'s' * (cases.size > 2)}" if cases.size > 1 else ""
    larger = "a larger fan or duct, tighter doors, or agree with the authority which doors count as open"
    yield make(
        f"The fan saturates: {bench.cases[worst].name}{more}",
        f"{bench.fine(held.display_pa[worst])} of {bench.fine(bench.set_point)} at {bench.speed_limits_hz[1]:g} Hz",
        "the loop is not in control; what the doors then see depends on the fan alone",
        NETWORK,
        f"{entries_first(bench)}{WRONG_FAN if draws_in(bench) else larger}",
    )


def blanks(bench):
    """Figures of the site's own standard that nobody has filled in: what hangs on them nobody can judge."""
    criteria = bench.allowed.criteria
    if criteria.blanks:
        yield Finding(
            "open", f"{criteria.title} has blanks: first its figures", listed(criteria.blanks),
            "its text was not at hand, and none of it is guessed: nothing here is a pass by this standard", "",
            "fill them in from the text, in data/criteria, before anything is entered",
        )  # fmt: skip


def whose_saturated(bench):
    """The strategy's where the stated fan holds every required case at another set point."""
    return STRATEGY if _held_by_the_fan(bench) else BUILDING


def damper_stuck(bench):
    """The relief damper sticks while every reading is sound, as the record judges it: the loop itself leaves a door out. A limit of speed
    that is entered and keeps the loop from its set point comes first."""
    study = bench.fallback
    if study is not None and study.best is not None and not bench.speed_first:
        yield from sound_finding(study)


KINDS = (
    Kind("blanks", "a standard whose figures are not all filled in", blanks, BUILDING, stairs_only=True),
    Kind("two temperatures", "a set point that suits the stair at one temperature and not at another", two_temperatures,
         whose_temperatures, stairs_only=True),
    Kind("height", "a stair taller than one supply point is good for", too_tall, BUILDING, stairs_only=True),
    Kind("thin air", "a motor in thin air", motor_in_thin_air, BUILDING, stairs_only=True),
    Kind("final exit door", "a final exit that the pressure pushes open or keeps from shutting", street_door, whose_exit, stairs_only=True),
    Kind("closers", "a closer that is too heavy by itself", closers, BUILDING, stairs_only=True),
    Kind("damper stuck", "a relief damper that sticks while every reading is sound", damper_stuck, BUILDING, stairs_only=True),
    Kind("at one end", "instruments that all stand at one end", at_one_end, stairs_only=True),
    Kind("saturates", "a fan that saturates with all doors shut", saturates, BUILDING),
    Kind("saturates open", "a fan that saturates with doors open", saturates_open, whose_saturated, stairs_only=True),
)  # fmt: skip

ASLEEP = 6.0  # times the integral time over gain of the fastest safe tuning, from which a loop sleeps; ours
MOST_TIMES = 1000.0  # beyond it the figure says nothing more


def robust_tuning(bench):
    """The tuning swings, or nearly does, in a building whose lags are longer than the model's."""
    study = bench.tuning
    if study is None:
        return
    own = study.own
    if not own.lacks:
        return
    yield replace(
        wrong(
            "The tuning is only good in the model: "
            + ("it swings by itself" if not own.worst.stable else "it comes close to swinging")
            + " where the building's lags are longer",
            f"gain {three(own.gain)} %/%, integral time {time_text(own.integral_s)}; at the worst corner ({own.corner.text()}) "
            f"{', '.join(own.lacks)}; in the nominal loop a gain margin of {margin_text(own.nominal)}. {own.borne_text()}",
            f"asked for over the whole box: {asked_text(study.box.asked)}",
            f"{BOX}; lag: {study.box.sources[0]}; delay: {study.box.sources[1]}",
            bench.proposed(),
        ),
        possible=own.nominal.stable,
    )


def not_judged(bench):
    """The tuning could not be tried on this strategy at all."""
    if bench.tuning is None:
        yield Finding(
            "open", "The tuning was not judged", bench.why_no_tuning, "the tuning study has no answer for this strategy",
            NETWORK, "put the other findings right first",
        )  # fmt: skip


def integral_and_ramp(bench):
    """The integral asks for more than the drive's ramp gives: it winds up while the fan follows."""
    study = bench.tuning
    if study is None or not study.own.ahead:
        return
    swing = study.own.doors.swing_pa
    make = wrong if not study.own.doors.calm else attention
    yield make(
        "The integral is faster than the ramp" + (", and the loop swings" if make is wrong else ""),
        f"integral time over gain {two(study.own.integral_s / study.own.gain)} s, the ramp asks for {two(study.box.ramp_asks_s)} s; half a "
        f"minute after a door the reading swings by {bench.fine(swing)}",
        "the output runs ahead of the fan, and the pressure overshoots to both sides, unless the integral stops while the ramp holds",
        f"{NETWORK}; arithmetic of ramp and integral",
        bench.proposed(),
    )


def slow_parts(bench):
    """Lags are stated that cost time, each by its name; a damping besides that a tuning must not trust."""
    study = bench.tuning
    if study is None:
        return
    if study.slow:
        parts = listed(part.text for part in study.slow)
        make, told = wrong if study.short_said else attention, "; ".join(filter(None, (parts, study.short_said)))
        yield make("The loop is slow", told, study.slow_said(), NETWORK, study.slow_remedy())
    yield from damping_findings(study)


def sleeps(bench):
    """The loop makes an error good so slowly that it might as well not be there."""
    study, loop = bench.tuning, bench.strategy.loop
    if study is None or not loop.integral_s or study.proposed is None:
        return
    own, fastest = loop.integral_s / loop.controller_gain, study.proposed.integral_s / study.proposed.gain
    if own <= SLUGGISH * fastest:
        return
    test, asleep = study.own.doors, own > ASLEEP * fastest
    heavy = f"; a handle is above its limit for {test.past_said()}" if test.above_limit_s else ""
    times = f"{two(own / fastest)} times" if own < MOST_TIMES * fastest else f"more than {MOST_TIMES:g} times"
    yield (wrong if asleep else attention)(
        f"The loop {'sleeps' if asleep else 'is slow'}, after a door the airflow {test.back_said()}: "
        f"{_too_weak(loop, study.proposed)} beside what would be safe",
        f"gain {three(loop.controller_gain)} %/%, integral time {time_text(loop.integral_s)}: an error is made good in "
        f"{settles_text(bench)}{heavy}",
        f"integral time over gain is {times} that of the fastest tuning that is safe; calm is not the same as awake",
        f"{NETWORK}; {SLUGGISH:g} and {ASLEEP:g} times: ours",
        bench.proposed(),
    )  # fmt: skip


def _too_weak(loop, fastest):
    """What of a slow tuning is to blame, in words: never a gain that has to come down."""
    blamed = (
        ("the gain is weak", loop.controller_gain < fastest.gain),
        ("the integral time is long", loop.integral_s > fastest.integral_s),
    )
    return listed(words for words, is_so in blamed if is_so)


def swings(bench):
    """After a door the pressure goes on swinging."""
    study = bench.tuning
    if study is None or study.own.doors.calm:
        return
    yield wrong(
        "After a door the pressure goes on swinging",
        f"half a minute after the door has shut the reading swings by {bench.fine(study.own.doors.swing_pa)}",
        "the doors are too heavy and too light in turn, and the drive never rests",
        f"{NETWORK}, the loop in time with the lags of the site file",
        bench.proposed(),
    )


def recovery(bench):
    """The flow is not back within the time that the site's standard asks for, and whether the ramp alone forbids it."""
    study = bench.tuning
    if study is None or study.response_s is None or not bench.smoke_control:
        return
    asked, source = study.response_s, study.criteria.response.said
    if study.ramp_forbids:
        yield wrong(
            f"The drive's ramp alone forbids {asked:g} s",
            f"{bench.site.fan.ramp_s:g} s of ramp, {seconds_text(study.ramp_alone.slowest_s)}{study.ramp_alone.mark} after a door",
            "no controller is quicker than its drive",
            source,
            bench.of_record.after_a_door_said(bench.set_point),
        )
    elif not study.own.worst_doors.quick:
        yield wrong(
            f"Airflow does not recover within {asked:g} s after a door, as {study.criteria.name} asks",
            f"{seconds_text(study.own.worst_doors.slowest_s)}, the ramp alone would take {seconds_text(study.ramp_alone.slowest_s)}"
            f"{study.ramp_alone.mark}",
            "smoke may pass, or a door stays heavy, for so long",
            source,
            f"{bench.proposed()}; feedback alone may not reach it: {bench.of_record.after_a_door_said(bench.set_point)}",
        )


def _tuning_said(bench):
    """The tuning to enter, where it is not the one that is entered."""
    entered = bench.pair[0] and numbers_text(bench.pair[0]) == numbers_text(bench.tuning.own)
    return "the tuning to enter is the one entered already" if entered else f"the tuning: {bench.proposed()}"


def heavy_after_a_door(bench):
    """After a door has shut another one stays too heavy for a while: past a limit, as in the tuning study, however short it is."""
    study = bench.tuning
    if study is not None and not study.own.worst_doors.light:
        helps = f"{bench.of_record.after_a_door_said(bench.set_point)}; {_tuning_said(bench)}"
        yield heavy_finding(study, study.own, "with this tuning", helps)


def short_after_a_door(bench):
    """After a door has moved another one that is shut has too little pressure for a while."""
    study = bench.tuning
    if study is not None and study.own.worst_doors.short_s > 0:
        helps = f"{bench.of_record.after_a_door_said(bench.set_point, study.own.worst_doors.short_s)}; {_tuning_said(bench)}"
        yield short_finding(study, study.own, "with this tuning", helps)


def whose_ramp(bench):
    """What the drive alone does not bring back in time no tuning brings back."""
    return BUILDING if bench.tuning is not None and bench.tuning.ramp_forbids else STRATEGY


def whose_weight(bench):
    """A door that is too heavy with the drive alone as well is no matter of the tuning."""
    return BUILDING if bench.tuning is not None and np.any(bench.tuning.ramp_alone.above_limit_s) else STRATEGY


def whose_shortness(bench):
    """A door that the fastest safe tuning leaves short for too long as well is no matter of the tuning."""
    study = bench.tuning
    return BUILDING if study is not None and study.recommended and not study.recommended.worst_doors.brief else STRATEGY


TUNING_KINDS = (
    Kind("tuning not judged", "a tuning that could not be tried", not_judged, stairs_only=True),
    Kind("robust tuning", "a tuning that is only good in the model", robust_tuning, stairs_only=True),
    Kind("integral and ramp", "an integral faster than the ramp", integral_and_ramp, stairs_only=True),
    Kind("long damping", "a damping or another lag so long that it costs time", slow_parts, stairs_only=True),
    Kind("sleeps", "a loop that sleeps", sleeps, whose_later, stairs_only=True),
    Kind("swings", "a loop that goes on swinging after a door", swings, stairs_only=True),
    Kind("recovery", "a recovery after a door slower than the standard asks", recovery, whose_ramp, stairs_only=True),
    Kind("heavy after a door", "a door too heavy for a while after another has shut", heavy_after_a_door, whose_weight, stairs_only=True),
    Kind("short after a door", "a shut door short of its least for a while", short_after_a_door, whose_shortness, stairs_only=True),
)
