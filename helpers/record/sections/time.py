"""Sections of the design record that ask for time or chance: tuning, low-demand stop, placement of the transmitters, a year of weather."""

from dataclasses import replace

import numpy as np

from helpers.model.air.conditions import COLD_PERCENT
from helpers.model.loop.run import settings_of
from helpers.model.site.criteria import cited
from helpers.model.site.tolerances import inertia_box
from helpers.record import plot_builders
from helpers.record.sections.rule import works_said
from helpers.record.standing import ACTION, FAN, NOT_ENTERED, RAMP, SET_POINT
from helpers.studies.doors.second_shaft.in_time import shaft_in_time
from helpers.studies.duty.change_over.told import change_over_in_time
from helpers.studies.duty.mains_lost import mains_lost
from helpers.studies.low_demand.study import ACROSS, FireMode
from helpers.studies.placement.results import LEAST_SHARE, percent
from helpers.studies.report import NETWORK, SITE_FILE, Finding, Section, Value, figure, fine, limit_text, listed
from helpers.studies.signals.plates import span_text
from helpers.studies.signals.unlike_ranges import plates_said, unlike
from helpers.studies.status import word_of
from helpers.studies.tuning.candidate import BOX, asked_text, margin_text
from helpers.studies.tuning.door_tests import largest_door
from helpers.studies.tuning.findings import ramp_findings
from helpers.studies.tuning.ramps_offered import shortest_down_s
from helpers.studies.tuning.times_said import past_text, seconds_text, short_limit_s
from helpers.units.said import two, with_unit

FAIL = word_of("wrong")

_RUN, _STEPS, _DRAWN = "door event in the loop, slowest weather", "step tests on the loop's model", "sampled conditions, steady state"
_SEARCH = "air network: search over speed, weather, doors and the stair's warmth"
_SAFETY, _WILSON = "life safety; the local code decides", "Wilson interval, 95 %"
_PAIRS = "exact test on pairs, McNemar 1947 (from memory, not verified)"
SLOWEST_LAGS = "the proposed tuning with the slowest lags"
WORSE_OF_BOTH = "the proposed tuning, the worse of both"
AS_OPENS = "as for the door that opens"
TABLED = 8  # best choices listed
ASKED_FROM_H, ASKED_TO_H = 7, 22  # of the day: when air is asked for where a low-demand stop may be; invented for teaching


def tuning_section(design):
    """The fastest tuning that is safe in the whole box, and what it does after a door."""
    try:
        study = design.tuning
        trend = design.door_trend
    except ValueError as reason:
        return _without("tuning", "Tuning and door events", reason, *ramp_findings(design.site))
    first = design.standing.first(SET_POINT, ACTION, FAN, RAMP)
    pictures = (plot_builders.door_trend_picture(trend, study, design.window, first),)
    remedies = (study.remedy_table(),) if study.remedies else ()
    slow = (study.slow_table(),) if study.slow else ()
    lost = mains_lost(design.built_tower, design.standing.window, design.shut_cases, _laid_down(design))
    over = change_over_in_time(design.built_tower, design.standing.window, design.shut_cases, _laid_down(design))
    beside = shaft_in_time(design.built_tower, design.standing.window, design.shut_cases, _laid_down(design))
    after = [one.table() for one in (lost, over, beside) if one]
    tables = (study.candidate_table(), study.filter_table(), study.step_table(), *remedies, *slow, *after)
    notes = (
        "A strategy that states another filter or damping than the site file is another loop: its review proposes the pair of that loop, "
        "and says why it is not this one.",
    )
    figures = (*_tuning_figures(study, first), *_event_figures(study, door_said(design.site)))
    said = design.standing.what_if(study.verdict(), SET_POINT, ACTION, FAN, RAMP)
    findings = (*study.findings(first), *(finding for one in (over, beside) if one for finding in one.findings()))
    return Section("tuning", "Tuning and door events", said, figures, tables, findings, pictures, notes)


def _laid_down(design):
    """The controller's settings with the gain and integral time that are laid down; None where none are."""
    tuned = design.tuned
    return None if tuned is None else replace(settings_of(design.built), gain=tuned.gain, integral_s=tuned.integral_s)


def _tuning_figures(study, first):
    best, box, found = study.recommended, study.box, study.found
    span = span_text(study.span_pa)
    if best is not None:
        asked = f"{f'{NOT_ENTERED}, {first}; ' * bool(first)}the fastest that keeps {asked_text(box.asked)} in {len(box.corners)} loops"
        yield Value("Gain", best.gain, f"{two(best.gain)} %/%", f"for a span of {span}; {asked}", BOX)
        beside = f"{f'{NOT_ENTERED}; ' * bool(first)}with that gain, and for the same reason"  # a line quoted alone still says not to enter
        yield figure("Integral time", best.integral_s, "time", beside, BOX, 2)
        margin = f"at least {box.asked.gain_margin:g}, ours; nominal loop {margin_text(best.nominal)}"
        yield Value("Minimum gain margin", best.gain_margin, margin_text(best), margin, BOX)
        phase = f"at least {box.asked.phase_margin_deg:g}°, ours; nominal loop {best.nominal.phase_margin_deg:.0f}°"
        yield Value("Minimum phase margin", best.phase_margin_deg, f"{best.phase_margin_deg:.0f}°", phase, BOX)
        peak = f"{box.asked.peak_sensitivity:g} at the most, ours; nominal loop {best.nominal.peak_sensitivity:.2f}; {best.corner.text()}"
        yield Value("Peak sensitivity", best.peak_sensitivity, f"{best.peak_sensitivity:.2f}", peak, BOX)
        yield Value("Delay tolerated", None, best.borne_text(), "the ramp's on top; the building's largest gain", BOX)
    where = f"at {found.output_percent:.0f} % of full speed ({found.case.name}); the least of the cases' largest {found.least:.2f} %/%"
    yield Value("Building's largest gain", found.largest, f"{found.largest:.2f} %/%", where, _SEARCH)
    if best is not None and best.back is not None:
        back, said = (
            best.back,
            f"with {box.turned_said or 'the transmitter'} turned back to zero, gain margin and peak sensitivity at worst",
        )
        yield Value("Margins turned back", back.gain_margin, f"{margin_text(back)} and {back.peak_sensitivity:.2f}", said, BOX)
    yield from _ramp_figure(study)
    lags = f"{box.extra_lag_s[0]:g} to {two(box.extra_lag_s[1])} s more lag than stated"
    yield Value("Lag in the box", box.extra_lag_s[1], lags, f"beside {two(sum(box.lags_s))} s of filter and transmitter", box.sources[0])
    dead = f"{two(box.dead_time_s[0])} to {two(box.dead_time_s[1])} s, and {two(box.ramp_delay_s)} s of the ramp"
    yield Value("Delay in the box", box.dead_time_s[1], dead, "scan, cycle, bus and tubes", box.sources[1])
    if box.fitted is not None:
        yield figure("Lag of the nominal loop", box.fitted[0], "time", "filter, transmitter and ramp together", _STEPS, 2)
        yield figure("Delay of the nominal loop", box.fitted[1], "time", "what the lag alone does not explain", _STEPS, 2)


def _ramp_figure(study):
    """What may be entered at the least as a ramp down, whatever the site has; nothing where no study tells."""
    if study.bench is None or np.isnan(least := shortest_down_s(study.bench.site, study.ramp_down)):
        return
    fan = study.bench.site.fan
    by = "motor and brake resistor can take it" if fan.brake == "resistor" else "the air alone slows the wheel, no resistor stated"
    why = f"{by}, the heaviest wheel of the box; the site has {with_unit(fan.slows_s, 'time')}; another ramp is another loop: tune it anew"
    yield figure("Shortest ramp down", least, "time", why, inertia_box(fan).source, 0)


def door_said(site):
    """The door of the door tests and from when their times count, in words."""
    level, kind = largest_door(site)
    door = f"{'final exit' if kind == 'exit' else 'stair door'} {level}"
    return f"{door} as it begins to move, the slowest of the weathers {listed(site.weather)}"


def _event_figures(study, door):
    best, asked = study.recommended, study.time_asked()
    tried = [("the site's own tuning", study.own), *([("the proposed tuning", best)] if best else [])]
    for name, one in tried:
        for way, seconds in (("opens", one.doors.opens_s), ("shuts", one.doors.shuts_s)):
            until = f"{door}, until the flow has gone 90 % of the way to its new steady value and stays"
            lags = "with the lags of the site file"
            from_where = f"from {until}" if one is study.own else "as for the site's own"  # told once
            why = f"{from_where}, {lags}; {asked}" if way == "opens" else f"{AS_OPENS}, {lags}"
            yield Value(f"Door {way}, {name}", _finite(seconds), f"{seconds_text(seconds)}{one.doors.mark}", why, _RUN)
    if best:
        slowest, both = "each lag and delay the longest that the file leaves open", "the later of the two above, by which it is judged"
        for name, doors, reason in ((SLOWEST_LAGS, best.far_doors, slowest), (WORSE_OF_BOTH, best.worst_doors, both)):
            for way, seconds in (("opens", doors.opens_s), ("shuts", doors.shuts_s)):
                why = reason if way == "opens" else f"{AS_OPENS}: {reason}"
                yield Value(f"Door {way}, {name}", _finite(seconds), f"{seconds_text(seconds)}{doors.mark}", why, _RUN)
    for way, seconds in (("opens", study.ramp_alone.opens_s), ("shuts", study.ramp_alone.shuts_s)):
        reason = f"the drive's ramp of {study.ramp_s:g} s alone, from {door}: no controller is quicker"
        yield Value(f"Door {way}, ramp alone", _finite(seconds), f"{seconds_text(seconds)}{study.ramp_alone.mark}", reason, _RUN)
    doors = (best or study.own).worst_doors
    allowed = f"with every lag of the box, where the loop at rest gives it enough; {short_limit_s(study.response_s):g} s at the most"
    yield Value("Time a shut door is short", _finite(doors.short_s), f"{past_text(doors.short_s)}{doors.mark}", allowed, _RUN)
    if study.force_limit_n is not None:
        limit = limit_text(study.force_limit_n, "force", "most")
        peak = figure("Peak force at a handle", doors.peak_force_n, "force", f"after the door has shut; limit {limit}", _RUN)
        above = "the fan still runs as fast as the open door asked for"
        above = figure("Time above the force limit", doors.above_limit_s, "time", above, _RUN)
        yield from (replace(one, text=f"{one.text}{doors.mark}") for one in (peak, above))


NO_PLACE = "no place suits"  # key of its finding


def low_demand_section(design):
    """The low-demand stop: refused in smoke control, else the window of its threshold."""
    try:
        study = design.low_demand
    except ValueError as reason:
        return _without("low-demand", "Low-demand stop", reason)
    findings = tuple(study.findings())
    if isinstance(study, FireMode):
        never = Value("Low-demand stop", None, "never", "the site's loop is in smoke control", _SAFETY)
        return Section("low-demand", "Low-demand stop", study.verdict(), (never,), (), findings)
    window = f"{study.window_hz[0]:.1f} to {study.window_hz[1]:.1f} Hz" if study.feasible else "none"
    idle, asked = study.ends_hz
    source = f"steady speeds of {study.hours} hours of {design.hours.name}"
    judged = f"{SITE_FILE}, control" if design.site.control.low_demand else "the middle of the window"
    figures = [
        Value("Threshold window", None, window, "above the fastest idling, below the slowest duty, less a margin", source),
        figure("Fastest idling", idle, "frequency", f"{study.idle_hours} hours without demand, doors shut", source),
        figure("Slowest duty", asked, "frequency", f"{study.asked_hours} hours with demand", source),
        figure("Threshold judged", study.rule.stop_below_hz, "frequency", study.verdict_word, judged),
        Value("Starts an hour", study.starts_per_hour, f"{study.starts_per_hour:.0f}", "with the threshold judged", "trials in the loop"),
        Value("Energy saved", study.saved_kwh, f"{study.saved_kwh:.0f} kWh", f"of {study.idle_kwh:.0f} kWh in the idle hours", source),
    ]
    if study.allowed is not None:
        bears = float(study.allowed.per_hour)
        figures.append(
            Value(
                "Starts the motor is rated for",
                bears,
                f"{bears:.1f} an hour",
                ACROSS,
                "NEMA MG 10-2001 (seen)",
            )
        )
    notes = (demand_said(design), station_said(design))
    return Section("low-demand", "Low-demand stop", study.verdict(), tuple(figures), (study.table(),), findings, (), notes)


def placement_section(design):
    """Where the transmitters go, judged under sampled conditions."""
    try:
        study, stated = design.placement, design.placement_as_stated
    except ValueError as reason:
        return _without("placement", "Where the transmitters go", reason)
    mapped = plot_builders.MAPPED_RULE in {choice.rule for choice in study.choices if len(choice.levels) == 2}
    pictures = (plot_builders.placement_map(study),) if mapped else ()
    notes = (
        f"{study.question.conditions} conditions are few. All choices stand under the same ones, so two are compared condition by "
        "condition, not by whether their intervals overlap.",
        *[f"Every place was tried with a transmitter like {design.site.transmitters[0].name}: {plates_said(design.site.transmitters)}."]
        * unlike(design.site),
    )
    findings, verdict = tuple(_placement_findings(study, stated)), study.verdict()
    if findings and findings[0].key == NO_PLACE:
        verdict = f"{findings[0].what}: {findings[0].remedy}. What follows is for information. {verdict}"
    return Section(
        "placement", "Where the transmitters go", verdict, tuple(_placement_figures(study, stated)),
        (study.table(TABLED),), findings, pictures, notes,
    )  # fmt: skip


def _placement_figures(study, stated):
    best, own = study.best, study.question.own
    low, high = best.interval
    yield Value("Best choice", None, best.choice.text(), f"of {len(study.choices)}, by share, then by median margin", _DRAWN)
    interval = f"of {study.judged} sampled conditions; interval {percent(low)} to {percent(high)}"
    yield Value("All doors inside", best.inside, percent(best.inside), interval, _WILSON)
    yield figure("Median margin", best.margin_median_pa, "pressure", f"of the worst door; fails most: {best.fails_text}", _DRAWN)
    yield Value("One transmitter dead at zero", best.dead, percent(best.dead), "share still inside; the one that matters most", _DRAWN)
    if best.left_out is not None:
        yield Value("One transmitter left out", best.left_out, percent(best.left_out), "share still inside with the rest", _DRAWN)
    yield figure("Mean power", best.power_w, "power", "from the mains, over all conditions", NETWORK)
    for name, choice in {"Best choice": best.choice, "The site's own choice": own}.items():
        if choice in stated.choices:
            inside = stated.inside[stated.number_of(choice)]
            weathers = f"{inside.sum()} of {inside.size}"
            yield Value(f"{name} in the site's own weathers", float(inside.mean()), weathers, " ".join(stated.question.said), NETWORK)
    if own in study.choices:
        found = study.result(study.number_of(own))
        reason = f"{found.choice.text()}; interval {percent(found.interval[0])} to {percent(found.interval[1])}"
        yield Value("The site's own choice", found.inside, percent(found.inside), reason, _WILSON)
    none = "conditions in which some door is out whatever is chosen"
    yield Value("No choice does", study.hopeless, percent(study.hopeless), none, _DRAWN)


def _placement_findings(study, stated):
    best, own, suits = study.best, study.question.own, stated.inside.all(axis=1)
    if not suits.any():
        most = stated.inside.sum(axis=1).max()
        yield Finding("wrong", "In the site's own weathers no place or rule tried keeps every door inside its window",
                      f"{most} of {stated.judged} weathers at the most; first {stated.best.fails_text}", "", NETWORK,
                      "first a set point that suits, then the places; where none suits, the doors, the fan or the leaks",
                      key=NO_PLACE)  # fmt: skip
        return
    if own in study.choices:
        yield from _own_place(study, stated)
    if study.hopeless:
        why = f"the door that fails most: {best.fails_text}"
        remedy = "the doors, the fan, the leaks or the set point"
        what = "In some conditions no transmitters keep every door inside"
        figure_said = (
            f"{percent(study.hopeless)} of {study.judged} sampled conditions, more doors open than the design has among them: a share of "
            f"our draws, no probability; with {best.choice.text()}, the best of those tried, {_how_far(best)}"
        )
        yield Finding("attention", what, figure_said, why, _DRAWN, remedy)


def _how_far(best):
    """The door most often out with a choice, and by how much the worst is, in words."""
    return f"{best.fails_text} of them, by {fine(-best.margin_worst_pa)} at the worst door of all"


def _own_place(study, stated):
    """The site's own transmitters against the best of those that hold in all of the site's own weathers."""
    own, suits = study.question.own, stated.inside.all(axis=1)
    number = study.number_of(own)
    best = study.result(next(place for place in study.ranked if suits[place]))
    found, pair = study.result(number), study.paired(best.choice, own)
    shares = f"{percent(found.inside)} against {percent(best.inside)}"
    few = max(found.inside, best.inside) < LEAST_SHARE
    state, why = ("attention", "the doors are out in more than half of the conditions, whichever is taken") if few else ("good", "")
    if not suits[number]:
        yield Finding("wrong", "In one of the site's own weathers the site's own transmitters leave a door out, and others do not",
                      f"{stated.inside[number].sum()} of {stated.judged} weathers against {stated.judged}; sampled conditions {shares}",
                      "a year of a station may never be as cold or as hot as what the site is designed for", NETWORK,
                      f"{best.choice.text()}; compared at the file's set point, which has to stand first")  # fmt: skip
    elif own == best.choice:
        yield Finding(state, "The site's own transmitters are the best of those tried", shares, why, _PAIRS)
    elif pair.told_apart:
        yield Finding("attention", "Another place or rule may do better", f"{shares}: {pair.text()}", study.flattered, _PAIRS,
                      best.choice.text())  # fmt: skip
    else:
        what = f"{study.judged} sampled conditions cannot tell the site's own transmitters from the best"
        yield Finding(state, what, f"{shares}: {pair.text()}", why, _PAIRS)


def year_section(design):
    """A year of weather through the held loop."""
    try:
        study = design.year
    except ValueError as reason:
        return _without("year", "A year of weather", reason)
    pictures = (plot_builders.year_calendar(study),)
    other = "" if design.standing.fan_holds else design.standing.year_against.removesuffix(", see the year of weather")
    other = [f"All this is by the fan stated. Of the set point, against which no weak fan may speak, the summary says: {other}."] * bool(
        other
    )
    notes = (station_said(design), *other)
    return Section(
        "year", "A year of weather", study.verdict(), tuple(_year_figures(study)), (study.table(),),
        tuple(_year_findings(design, study)), pictures, notes,
    )  # fmt: skip


def _year_figures(study):
    counts, source = study.counts, f"{study.hours.name}, {study.open_said}"
    reasons = {
        "inside": "every door inside its window", "low": "a door with too little pressure", "high": "a door with too much",
        "at full speed": "the fan gives all it has", "at lowest speed": "the drive goes no slower",
        "not found": "the network has no answer: counted by themselves, no pass",
    }  # fmt: skip
    for name, reason in reasons.items():
        named = f"Hours {'too ' if name in ('low', 'high') else ''}{name}"
        yield Value(named, counts[name], f"{counts[name]} h", f"{reason}; of {len(study.hours)} hours", source)
    room, door = study.room_pa[study.worst_hour()], study.doors[study.worst[study.worst_hour()]].door.text
    yield figure("Room in the worst hour", room, "pressure", f"at {door}; below zero it is out", source)
    yield Value("Energy", study.energy_kwh, f"{study.energy_kwh:.0f} kWh", "from the mains, if the loop ran all year", source)


def _year_findings(design, study):
    counts = study.counts
    hours = len(study.hours)
    if counts["inside"] == hours:
        room = with_unit(study.room_pa.min(), "pressure", (1, 3))
        yield Finding("attention", "Every shut door stays inside its window through a typical year, which is not for design",
                      f"{hours} of {hours} hours, {room} to spare in the worst", cited(design.site, "a typical year has no "
                      "extremes; codes ask for the most that is to be expected of stack effect and wind (IBC 909, from memory, not "
                      "verified)"), study.hours.name,
                      "judge by the winter and summer of the site file, set to the design weather of the code")  # fmt: skip
    elif study.out:
        most = max(study.doors, key=lambda door: door.hours_low + door.hours_high).door.text
        none = f"no rule and set point tried suits every case and the year; first {most}, out in most of these hours"
        how = "; ".join((f"{counts['low']} hours with too little pressure, {counts['high']} with too much", *study.pushed_said()))
        out = f"{study.out} of {hours} hours with any door outside, too low or too high, most often {most}"
        yield Finding("wrong", "With doors shut the weather alone brings doors outside their window", out, how, study.hours.name,
                      works_said(design, (True,)) or none)  # fmt: skip
    if counts["at full speed"]:
        hours = f"{counts['at full speed']} h"
        yield Finding("attention", "The fan is at full speed in some hours", hours, "the loop no longer holds", NETWORK)
    if counts["not found"]:
        hours = f"{counts['not found']} h"
        yield Finding("wrong", "Some hours have no answer", hours, "the network found none, and what is not known is no pass", NETWORK)


def _without(key, title, reason, *more):
    """A section of a study that cannot be made for this site, and why."""
    verdict = f"Not for this site: {reason}."
    return Section(key, title, verdict, (), (), (Finding("attention", f"No answer on: {title.lower()}", "", str(reason), NETWORK), *more))


def _finite(seconds):
    return None if seconds != seconds else float(seconds)


def station_said(design):
    """Which station's weather a design has, and why, in a sentence."""
    cold, winter = (with_unit(value, "temperature") for value in (design.hours.cold_c, design.site.weather["winter"].outdoor_c))
    return (
        f"Weather: {design.hours.name}, a typical year; of the stations at hand the one whose cold ({COLD_PERCENT:g} % of the hours are "
        f"below {cold}) is nearest to the site's winter of {winter}. Take the site's own hours where there are any."
    )


def demand_said(design):
    """When air is taken to be asked for, in a sentence."""
    hours = f"from {ASKED_FROM_H} to {ASKED_TO_H} h"
    asked = f"every day {hours}, with the doors of the case {design.demand_case.name}"
    return f"Air is taken to be asked for {asked}: invented; state your own."
