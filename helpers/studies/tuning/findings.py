"""Findings of a tuning study: margins, recovery after a door, how heavy and how short shut doors are then, slow parts, ramps."""

from dataclasses import replace

import numpy as np

from helpers.model.loop.ramps import SHORT_TIME, ramp_loads
from helpers.studies.doors.kinds import LIGHTER_CLOSERS
from helpers.studies.report import NETWORK, PRACTICE, Finding, apart, fine, listed
from helpers.studies.status import status_of, word_of
from helpers.studies.tuning.box import ASKED
from helpers.studies.tuning.candidate import BOX, BRAKED, RAMPS, TUNED, margin_text, numbers_text, peak_text
from helpers.studies.tuning.ramps_offered import ramps_borne_s, ramps_tried_said
from helpers.studies.tuning.times_said import MARK, RAMP, back_text, not_followed_said, past_text, seconds_text
from helpers.units.said import two, with_unit

LESS_SHORT = 0.9  # of the time that a door is short: what leaves more is not told to help; ours
CHECK = word_of("attention")
SLOW = "slow loop"  # key of its finding
OTHER_SET_POINT = "another set point"  # name of that remedy
TRIED = "in the worst weather and warmth of the stair, at the long end of the range of lags"
_UNTRIED = f"door contacts, a relief damper, a faster ramp or {LIGHTER_CLOSERS}: to be tried"


def ramps_doubted(study):
    """What of the ramps that a tuning rests on is CHECK itself, in words; "" where nothing is: no gain is handed out as better than its
    ramp."""
    told = [f"{one.what[0].lower()}{one.what[1:]}" for one in _ramps(study, None) if one.severity == "attention"]
    return f"it rests on the ramps as entered, {CHECK} themselves: {'; '.join(told)}" if told else ""


def to_enter_text(study, tried, first=""):
    """A tuning as a remedy, in words, what speaks against it before its figures.

    tried: `Candidate` of a `TuningStudy`; first: what has to be laid down before any tuning is entered ("" for nothing). One that leaves a
    door past its limit after another has moved is not to be entered either, before that is mended, nor one found with ramps that are not
    followed; what its ramps leave open is told.
    """
    heavy, doubted = study.against(tried), ramps_doubted(study)
    first = first or (f"first {RAMP}" if study.mark else "first what helps after a door" if heavy else "")
    caution, beside = f"do not enter, {first}: " if first else "", f"; with it {heavy}" if heavy else ""
    return f"{caution}{numbers_text(tried)}{beside}{f'; {CHECK}: {doubted}' if doubted and not first else ''}"


def findings_of(study, first=""):
    """What is wrong with the tuning or the drive of a `TuningStudy`, and what is in order; first: as `to_enter_text`."""
    if study.cannot:
        yield Finding("wrong", "No tuning can help", "", study.cannot, NETWORK, "mend that first; then tune")
        yield from _ramps(study, study)
        return
    if study.unheld:
        figure = f"set point not held in {listed(study.unheld)}"
        why = "at an end of its speed a loop does nothing, and a door test shows nothing"
        yield Finding("attention", "The tuning was tried where the fan does not hold, too", figure, why, NETWORK, "see fan and drive")
    if study.found.lost:
        why = "the building's largest gain may lie there, and the tuning be too lively for it"
        helps = "make the site file more usual there, or take half the gain"
        yield Finding("open", "The largest gain was not searched everywhere", study.found.lost_said(), why, NETWORK, helps)
    enter = "" if study.recommended is None else to_enter_text(study, study.recommended, first)
    yield from _own(study, enter)
    yield from _recovery(study)
    yield from _forces(study)
    yield from _short(study)
    yield from _slow(study)
    yield from damping_findings(study)
    yield from _ramps(study, study)
    yield from _ahead(study, enter)
    if study.recommended is None:
        helps = "a shorter filter, a quicker transmitter, a wider span"
        yield Finding("wrong", "No calm tuning was found", "", study.why_none, BOX, helps)


def _own(study, enter):
    own, best, back = study.own, study.recommended, study.own.doors.back_said()
    peak = peak_text(own.worst) if own.worst.stable else "without limit"
    asked = f"(min. {ASKED.gain_margin:g}), peak sensitivity {peak} (max. {ASKED.peak_sensitivity:g}) over the range of lags"
    figure = f"least gain margin {margin_text(own)} {asked}; the airflow {back} after a door"
    if not own.safe:
        what = "keeps too little margin in the range of lags" if own.worst.stable else "is too lively"
        yield Finding(own.status, f"The site's own tuning {what}", figure, f"{listed(own.against)} ({own.corner.text()})", BOX, enter)
    elif not np.isfinite(own.doors.slowest_s) or (best and own.doors.slowest_s > 2 * best.doors.slowest_s):
        why, entered = "doors stay heavy, or smoke may pass, for longer than need be", best and numbers_text(best) == numbers_text(own)
        remedy = f"no faster tuning stays calm; shorten {study.slow_remedy()}" if entered and study.slow else enter
        yield Finding("attention", f"The site's own tuning is slow: after a door the airflow {back}", figure, why, NETWORK, remedy)
    else:
        yield Finding("good", "The site's own tuning keeps its margins over the whole range of lags", figure)


def _recovery(study):
    """Held against the time that the site's own standard asks for. Where it asks for none there is nothing to pass: only a flow that does
    not come back at all is told."""
    best, asked = study.recommended or study.own, study.response_s
    doors = best.doors if asked is None else best.worst_doors  # a time asked for has to be kept at any lag
    opens, shuts, alone = map(seconds_text, (doors.opens_s, doors.shuts_s, study.ramp_alone.slowest_s))
    figure, source = f"{opens} and {shuts}, ramp alone {alone}{doors.mark}", study.criteria.response.said
    if study.criteria.response.blank:
        yield Finding("open", "Recovery after a door has no figure to be held against", figure, study.time_asked(), source)
    elif not doors.quick:
        late = seconds_text(np.nan) if asked is None else f"not within {asked:g} s"
        why = "the drive's ramp alone forbids it" if study.ramp_forbids else "a loop that stays calm in every corner is slower than that"
        rows = (*TUNED, *RAMPS) if study.ramp_forbids else TUNED
        severity = "attention" if asked is None else "wrong"
        yield Finding(severity, f"Airflow does not recover in time after a door: {late}", figure, why, source,
                      helps_said(study), settings=rows)  # fmt: skip
    elif asked is not None:
        yield Finding(*_only_if(doors.mark, f"Airflow recovers within {asked:g} s of a door event"), figure, "", source)


def least_bad_of(remedies):
    """Of remedies of which none works the one that leaves a door too heavy for the shortest time; None where one works, or none holds."""
    if any(one.works for one in remedies):
        return None
    tried = [one for one in remedies if one.doors and (one.air is None or one.air.holds)]
    return min(tried, key=lambda one: (one.doors.above_limit_s, not one.doors.brief, one.doors.slowest_s), default=None)


def helps_said(study, other_set_point=True):
    """The remedies that work; else the one that leaves a door too heavy for the shortest time, said to be the least bad. other_set_point:
    whether another set point than the study's is one of them."""
    tried = _of(study, other_set_point)
    works = ["; ".join(filter(None, (_entered(remedy), remedy.stuck[0]))) for remedy in tried if remedy.works]
    if works:
        return "; ".join(works)
    best = least_bad_of(tried)
    if best is None:
        return _UNTRIED if not tried else "none of those tried"
    heavy, brief = best.doors.above_limit_s, best.doors.brief
    left = f"a door is still too heavy for {past_text(heavy)}" if heavy else f"the airflow {back_text(best.doors.slowest_s)}"
    left += "" if brief else f", one short of its least for {past_text(best.doors.short_s)}"
    left += f", {MARK}" if best.doors.mark else ""
    return f"nothing that was tried is enough; the least bad: {best.name} ({left})"


def _entered(remedy):
    """What is done with a remedy that works, in words; one that was tried with ramps that are not followed is no entry."""
    return f"{remedy.name}{f', not to be entered{remedy.doors.mark}' * bool(remedy.doors.mark)}: {remedy.how()}"


def heavy_finding(study, tried, whose, remedy):
    """How heavy a door is after another has shut, with a `Candidate` of a `TuningStudy`: the one finding of it. whose: with which."""
    doors, alone = tried.worst_doors, study.ramp_alone
    peak, limit = apart((doors.peak_force_n, study.force_limit_n), "force", "most")
    figure = f"{peak} at a handle, limit {limit}, {past_text(doors.above_limit_s)} above it{doors.mark}, {whose}, {TRIED}"
    if doors.light:
        return Finding(*_only_if(doors.mark, "No door is too heavy when the door shuts"), figure)
    why = "the fan still runs as fast as the open door asked for"
    if not alone.light:
        still = f"a drive sent there at once, by its ramp alone, leaves one too heavy for {alone.past_said()}"
        why = f"{why}; no tuning cures it: {still}"
    rows = TUNED if alone.light else (*TUNED, RAMPS[1])
    return Finding("wrong", "When the door shuts, another one is too heavy for a while", figure, why, NETWORK, remedy, settings=rows)


def short_finding(study, tried, whose, remedy):
    """The same of how long a shut door is short of its least after a door has moved."""
    doors, alone = tried.worst_doors, f"{past_text(study.ramp_alone.short_s)}{study.ramp_alone.mark}"
    if doors.short_state == "open":
        why = "the loop at rest gives no shut door its least, or none has one: there is nothing to fall short of after a door"
        return Finding(
            "open", "How long a shut door is short after a door moves was not judged", "", why, NETWORK, "set point and window first"
        )
    if doors.short_state == "good":
        what = "No shut door is short of its least after a door moves, where the loop at rest gives it enough"
        return Finding(*_only_if(doors.mark, what), doors.mark.strip(" []"))
    why = f"behind an open door the fan answers less, and a loop that stays calm in every corner is slow there; the drive alone {alone}"
    return Finding(doors.short_state, "After a door moves, another shut one is short of its minimum pressure for a while",
                   f"{doors.short_said()}; {whose}, {TRIED}", why, NETWORK, remedy, settings=() if doors.brief else TUNED)  # fmt: skip


def _only_if(mark, what):
    """(key of the status, what) of something that is in order: no PASS where it was found with a ramp that is not followed."""
    return ("attention", f"{what}, if the ramp were followed") if mark else ("good", what)


def _of(study, other_set_point):
    return [one for one in study.remedies if other_set_point or one.name != OTHER_SET_POINT]


def short_helps_said(study, short_s, other_set_point=True):
    """What works and leaves a shut door short for less than short_s [s], by a tenth at the least, with its figure; else `helps_said`."""
    tried = _of(study, other_set_point)
    better = [one for one in tried if one.works and one.doors.short_s < LESS_SHORT * short_s]
    if not better:
        works = any(one.works for one in tried)
        return "none that was tried and works leaves it shorter" if works else helps_said(study, other_set_point)
    return "; ".join("; ".join(filter(None, (_entered(one), f"then {past_text(one.doors.short_s)}", one.stuck[0]))) for one in better)


def _forces(study):
    if study.force_limit_n is None:
        return
    best = study.recommended or study.own
    yield heavy_finding(study, best, study.whose, helps_said(study))
    resting, (most, least) = study.at_rest[0], study.while_open
    if status_of(resting, study.force_limit_n) == "wrong":
        at, limit = apart((resting, study.force_limit_n), "force", "most")
        yield Finding("wrong", "With all doors shut and the loop at rest a door is too heavy",
                      f"{at} at a handle, limit {limit}", "no tuning cures it", NETWORK,
                      "a rule and set point that works, where the rules name one; no other remedy tried",
                      settings=(("loop", "set point"),))  # fmt: skip
    if status_of(most, study.force_limit_n) == "wrong":
        at, limit = apart((most, study.force_limit_n), "force", "most")
        heavy, low = study.bench.while_open_at
        figure = f"{at} at a handle, limit {limit} ({heavy}); lowest at a shut door {fine(least)} ({low})"
        yield Finding("wrong", "While the door stands open, another one is too heavy", figure,
                      "the loop at rest holds its reading so: no tuning cures it", NETWORK,
                      "no remedy tried: a lower set point then takes pressure from the lowest door as well",
                      settings=(("loop", "set point"),))  # fmt: skip


def _short(study):
    best = study.recommended or study.own
    helps = study.slow_remedy() if study.slow and study.slow_mended else short_helps_said(study, best.worst_doors.short_s)
    yield replace(short_finding(study, best, study.whose, helps), caused_by=SLOW if study.slow else "")


def _slow(study):
    """Parts that make the loop slow, one by one."""
    if study.slow:
        parts = listed(part.text for part in study.slow)
        figure, at_fault = "; ".join(filter(None, (parts, study.short_said))), study.slow[:1] if study.slow_mended else study.slow
        rows = (*TUNED, *(row for part in at_fault for row in part.settings))
        yield Finding(study.slow_state, "The loop is slow", figure, study.slow_said(), NETWORK, study.slow_remedy(), settings=rows,
                      key=SLOW)  # fmt: skip


def damping_findings(study):
    """A damping long enough to cost time."""
    price = study.damping
    if price is not None:
        yield Finding("attention", "The damping at the transmitters' dial is long", f"{price.damping_s:g} s", study.damping_said(), NETWORK,
                      f"{price.little_s:g} s at the dial, and the tuning for it; gusts are the filter's work")  # fmt: skip


def _ramps(study, tries):
    """Ramps that motor, brake or wheel do not follow, whether or not a tuning is found; tries: the study that tries those offered, or
    None."""
    if study.bench is not None:
        yield from ramp_findings(study.bench.site, tries, study.ramp_down)
    down = study.ramp_down
    if down is not None and down.safe is False:
        figure = f"{down.own_s:g} s as the site has it, {down.shortest_s.high:.0f} s needed"
        why = "without a brake the drive stretches the ramp or trips on its bus voltage, in smoke control too"
        helps = f"a brake resistor, or {ramps_offered(study.bench.site, tries, down)[1]}"
        yield Finding("wrong" if down.too_fast else "attention", "The ramp down is quicker than the air brakes the wheel", figure,
                      f"{why}. {' '.join(down.sentences)}", down.shortest_s.source, helps, settings=BRAKED)  # fmt: skip


def _ahead(study, enter):
    """An integral that runs ahead of the ramp."""
    if study.own.ahead:
        ratio, bears = study.own.integral_s / study.own.gain, study.box.ramp_asks_s
        why = (
            f"while a door takes all pressure away the integral alone asks for {bears / ratio:.1f} times what the ramp gives, and comes "
            "back late where the drive does not stop it at the ramp"
        )
        yield Finding("attention", "The site's integral is faster than the drive's ramp",
                      f"integral time over gain {two(ratio)} s, the ramp bears {two(bears)} s", why, "arithmetic", enter)  # fmt: skip


def ramps_borne(site, down):
    """Whether motor and brake may bear the ramps of a site, and the air the one down (`RampDown`, or None): a tuning is found for them."""
    return not (down and down.too_fast) and not not_followed_said(site)


def ramps_offered(site, study=None, down=None):
    """The ramps up and down to enter instead of a site's, in words with what they were tried against; "" for one that no length mends.

    study: `TuningStudy` that tries them, or None; down: `RampDown` of the site, or None.
    """
    up_s, down_s = ramps_borne_s(site, down)
    tried = ramps_tried_said(study, *(own if np.isnan(s) else s for s, own in ((up_s, site.fan.ramp_s), (down_s, site.fan.slows_s))))
    return tuple("" if np.isnan(s) else f"a ramp {way} of {s:.0f} s ({tried})" for way, s in (("up", up_s), ("down", down_s)))


def ramp_findings(site, study=None, down=None):
    """Of a site of any plant: a ramp up that the motor cannot follow, or may not; a ramp down that asks too much of the resistor. study,
    down: as `ramps_offered`."""
    loads = ramp_loads(site)
    if loads.up_state == loads.held_state == loads.down_state == "good":
        return
    up, slower = ramps_offered(site, study, down)
    here = "" if study is None else f'; "{MARK}" beside a time or force after a door: it holds only with the ramp as entered'
    source = f"{loads.wheel_nm.source}; {SHORT_TIME * 100:.0f} % of the plate {PRACTICE}"
    if loads.up_state != "good":
        helps = f"{up}, or a larger motor" if up else "a larger motor"
        yield Finding(loads.up_state, f"The ramp up is one that the motor {loads.followed_said}", f"{loads.up_s:g} s {loads.up_said}",
                      "the drive holds its current and comes up late, or trips; the loop is tuned for the ramp as entered"
                      f"{here * (loads.up_state == 'wrong')}", source,
                      f"{helps}; the tuning is then found anew; see on site how long it takes", settings=RAMPS[:1])  # fmt: skip
    if loads.held_state != "good":
        strong = "cannot" if loads.held_state == "wrong" else "may not"
        yield Finding(loads.held_state, f"The ramp down is one that the motor {strong} hold the wheel to", loads.held_said,
                      "the drive holds its current: the wheel runs on, or the drive trips; whatever the resistor bears"
                      f"{here * (loads.held_state == 'wrong')}", source,
                      f"{slower}, or a larger motor" if slower else "a larger motor", settings=RAMPS[1:])  # fmt: skip
    if loads.down_state != "good":
        known, plate = loads.short_w is not None, with_unit(loads.plate_w, "power", 1)
        unknown = "" if known else "what the resistor bears for so short a time is not stated: "
        why = f"the motor's plate says {plate}; {unknown}too much trips the drive{here * (loads.down_state == 'wrong')}"
        more = "its plate bears" if known or loads.bears_w is not None else "the motor's rated power"
        what = f"The brake resistor {'has' if loads.down_state == 'wrong' else 'may have'} to take more than {more}"
        yield Finding(loads.down_state, what, loads.down_said, why, source,
                      f"drive and resistor for these figures, off their data sheets{f'; or {slower}' if slower else ''}",
                      settings=BRAKED)  # fmt: skip
