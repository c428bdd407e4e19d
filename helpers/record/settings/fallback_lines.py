"""Lines of the settings schedule that say what a failed reading does and which alarms tell of it; how a speed that may last is judged."""

import numpy as np

from helpers.record.standing import ACTION, FAN, SET_POINT
from helpers.studies.duty.full_speed import SHOWN_HZ
from helpers.studies.duty.relief_damper import STUCK_SHUT
from helpers.studies.readings import words
from helpers.studies.readings.words import ALARM_ONLY, against_said, alarm_lines, alarm_why, blind_said, fallback_said, sides_said
from helpers.studies.report import Setting, fine, listed
from helpers.studies.status import word_of
from helpers.units.said import with_unit

FAIL, CHECK = word_of("wrong"), word_of("attention")


def full_said(full, speed_hz, why):
    """Up to which speed no door jams, and whether this one is beyond it."""
    if full is None or not full.limited:
        return why
    beyond = f". {FAIL}: {said}" if (said := full.beyond_lasting(speed_hz)) else ""
    beside = f"; {full.beside_said()}" if full.beside_said() else ""
    if full.safe_hz != full.safe_hz:
        return f"{why}; {full.safe_text()}{beside}{beyond}"
    end = f"{full.safe_hz:.1f} Hz" if full.safe_door else f"{full.safe_hz:.1f} Hz, its full speed"
    return f"{why}; no shut door passes its limit up to {end}{beside}{beyond}"


def beyond_the_doors(full, speed_hz):
    """Why a speed that may last is beyond what the doors bear, in words; "" where it is not, or nothing is known."""
    return "" if full is None or not full.limited or speed_hz is None else full.beyond_lasting(speed_hz)


def ceiling_hz(full):
    """The highest speed [Hz] that every shut door bears, with the relief damper stuck shut too, as the test day has its ceiling; NaN where
    none is safe, None where nothing limits a door."""
    if full is None or not full.limited:
        return None
    return full.safe_hz if full.stuck_hz is None else float(np.minimum(full.safe_hz, full.stuck_hz))


def ceiling_text(full):
    """The same behind a speed that is still to be agreed; "" where nothing limits a door."""
    ceiling = ceiling_hz(full)
    if ceiling is None:
        return ""
    return ": no speed of this drive is safe" if np.isnan(ceiling) else f", at most {ceiling:.1f} Hz"


def beyond_stuck(full, speed_hz):
    """That a speed is above what the doors bear with the relief damper stuck shut, in words; "" where it is not."""
    if full is None or not full.limited or full.stuck_hz is None or speed_hz is None or speed_hz <= full.stuck_hz + SHOWN_HZ / 2:
        return ""
    bears = "no speed of this drive is safe" if np.isnan(full.stuck_hz) else f"{speed_hz:g} Hz is beyond {full.stuck_hz:.1f} Hz"
    return f"with the {STUCK_SHUT} {bears}"


def failing_lines(study, full):
    """What the study found best; without it all is to be agreed. study: `FallbackStudy` or None; full: `FullSpeed` or None."""
    hangs = (SET_POINT, ACTION, FAN)
    if study is None or study.best is None:
        why = "nothing was found that holds: see failed readings" if study is not None else "see failed readings"
        yield Setting("failure", "on a failed reading", "to be agreed", why, hangs)
        alone = "on each reading and on the difference, not on the combined one alone"
        yield Setting("failure", "alarm limits", "to be agreed", alone, hangs)
        yield _return()
        return
    if study.best.blind:
        for name in ("on a failed reading", "every reading failed"):
            yield Setting("failure", name, f"{FAIL}: cannot be seen on {listed(study.best.blind)}", blind_said(study.best), hangs)
        yield _return()
        yield from _alarms(study, full)
        return
    why, fails = _judged(study, study.best), study.best.state == "wrong" or beyond_the_doors(full, study.speed_hz)
    why += "" if len(study.site.transmitters) == 1 else ". A failed reading is never averaged in"
    said = fallback_said(study)
    if fails:
        said = f"{FAIL}: none of the ways tried is to be entered; the least bad: {study.best.name}"
        why = "; ".join(filter(None, (why if study.best.state == "wrong" else sides_said(study), beyond_the_doors(full, study.speed_hz))))
    yield Setting("failure", "on a failed reading", said, why, hangs)
    for one in study.two_lost:
        bad = one.state == "wrong" or (fails and not one.measures)
        value = f"{FAIL}: none is to be entered; the least bad: {one.does(study.speed_hz)}" if bad else one.does(study.speed_hz)
        yield Setting("failure", f"{listed(one.lost)} lost", value, f"{FAIL if bad else word_of(one.state)}: {one.worst_said()}", hangs)
    if fails:
        yield Setting("failure", "fallback speed", "not laid down: first a way of falling back that holds", "see failed readings", hangs)
    else:
        speed, reached = with_unit(study.speed_hz, "frequency", 1), with_unit(study.reached_after_s, "time")
        close = study.at_speed(study.speed_hz).state == "attention"
        check = f"{CHECK}: its worst door has little to spare, see failed readings; " * close
        why = f"{check}prove with every wire off at once"
        yield Setting(
            "failure", "fallback speed", f"{speed}, reached within {reached} by a fan that runs at either end of its speeds", why, hangs
        )
        value, stops = "fallback speed; the controller tells it, and the fan runs on", "smoke control never stops for want of a reading"
        yield Setting("failure", "every reading failed", value, f"{check}{stops}", hangs)
        if len(study.site.transmitters) == 2:
            why = f"{check}nobody can know which of two is right; off while signals are injected, or each step done within its time"
            yield Setting("failure", "two readings that disagree", f"neither believed: {speed}", why, hangs)
    yield _return()
    yield from _alarms(study, full)


def _return():
    value = "to be agreed: latched until somebody resets it, or by itself"
    return Setting("failure", "return from the fallback", value, "a reading that comes and goes must not hunt the fan")


def _judged(study, way):
    if way.blind:
        return f"{word_of(way.state)}: {blind_said(way)}"
    against, worst = "; ".join(against_said(study, way)), f"worst door {way.worst.text()}"
    if way.good and way.box_room_pa < way.worst.room_pa:
        worst += f" with the file's leaks, {fine(way.box_room_pa)} with walls that leak more or less and readings off"
    if not way.good:
        return f"{FAIL}: {against}"
    if way.state == "wrong" and way is study.best:
        return f"{FAIL}: {words.briefly_said(study)}; see failed readings"
    return f"{worst}; {word_of(way.state)}: {against}" if against else f"{word_of(way.state)}: {worst}"


def _alarms(study, full):
    hangs = (SET_POINT, ACTION, FAN)
    for on, limit, seconds, does, why in alarm_lines(study, beyond_the_doors(full, study.speed_hz), ceiling_hz(full)):
        yield Setting("failure", f"alarm on {on}", f"{limit}, for {seconds}: {does}", why, hangs)
    if study.alarm_limits is not None:
        yield Setting("failure", "alarms leave room for", alarm_why(study), "an alarm that rings in a sound stair is switched off", hangs)
    silent = None if study.alarm_limits is None else study.alarm_limits.silent
    if silent is not None:
        yield Setting(
            "failure", "what no alarm tells", f"{word_of(silent.state)}: {silent.text()}", "readings against a gauge at every test", hangs
        )


def stated_lines(strategy, study, full):
    """What a strategy file states, judged by the study."""
    bad, alarms = strategy.on_bad_reading, strategy.alarms
    does = bad.does if bad.preset_speed_hz is None else f"{bad.does}, {bad.preset_speed_hz:g} Hz"
    points = ", ".join(f"{name} at {with_unit(value, 'pressure')}" for name, value in (bad.set_points_pa or {}).items())
    judged, beyond = _stated_judged(bad, study), beyond_the_doors(full, bad.preset_speed_hz)
    judged += f". {word_of('wrong')}: {beyond}" if beyond else ""
    yield Setting("failure", "on a failed reading", f"{does}: {points}" if points else does, judged)
    yield Setting("failure", "what the alarms below do", ALARM_ONLY, "the strategy falls back on a failed signal, and on no alarm")
    for one in strategy.inputs:
        for end, limit in (("low", one.alarm_low_pa), ("high", one.alarm_high_pa)):
            if limit is not None:
                value = f"{fine(limit)} for {alarms.after_s:g} s"
                yield Setting("failure", f"{end} alarm of {one.name}", value, "as the strategy has it")
    for name, limit in (("low", alarms.low_pa), ("high", alarms.high_pa)):
        value = "to be agreed" if limit is None else f"{with_unit(limit, 'pressure')} for {alarms.after_s:g} s"
        yield Setting("failure", f"{name} alarm", value, "of the combined reading, which hides the doors: alarms stand on each reading")
    if alarms.difference_pa is not None:
        value = f"{fine(alarms.difference_pa)} for {alarms.after_s:g} s"
        yield Setting("failure", "alarm on the difference of readings", value, "as the strategy has it")
    if alarms.end_stop_after_s is not None:
        yield Setting("failure", "alarm on the fan at an end stop", f"for {alarms.end_stop_after_s:g} s", "as the strategy has it")


def _stated_judged(bad, study):
    if study is None:
        return "as the strategy has it; judged in the review"
    try:
        way = study.as_stated(bad.does, bad.preset_speed_hz, bad.set_points_pa)
    except ValueError as reason:
        return f"FAIL: {reason}"
    return "no case can be held at all" if way is None else _judged(study, way)
