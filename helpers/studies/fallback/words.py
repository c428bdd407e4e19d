"""What the study of failed readings says to whoever enters it: the way of falling back and the alarm lines, in trade terms."""

from helpers import units
from helpers.studies.fallback.alarms import LATE_S
from helpers.studies.fallback.failures import MIDDLE, OWN, SPEED
from helpers.studies.figures import fine, finest, listed
from helpers.studies.status import word_of

__all__ = ["alarm_lines", "alarm_why", "blind_said", "doubts_of", "fallback_judged", "fallback_said", "spare_said"]


def fallback_said(study, system):
    """What the best way is, with its figures, in a few words."""
    name, speed = study.best.name, units.show(study.speed_hz, "frequency", system, 1)
    if name == OWN:
        return f"{_set_points_said(study, system)}; {speed} where none is left or nobody knows which is wrong"
    if name == MIDDLE:
        return f"the middle of the readings at {_pressure(study.middle_pa, system)}; {speed} where none is left"
    return f"{name}, {speed}" if name == SPEED else name


def blind_said(way):
    """That a way of falling back cannot begin, and what comes first, in a sentence; "" where every dead wire is seen."""
    if not way.blind:
        return ""
    return (
        f"a dead wire of {listed(way.blind)} cannot be told from no pressure, so no fallback begins and the fan runs on by it. First a "
        "signal with a live zero: 4-20 mA, 2-10 V or 1-5 V."
    )


def doubts_of(way, system):
    """What a way of falling back rests on besides its doors: a relief damper that works, final exits that close again. In words, or ()."""
    told = []
    if way.damper_out is not None:
        state, room = way.damper_out
        told.append(f"with the {state} a door is {fine(-room, system)} out: it rests on that damper")
    if way.exits is not None and way.exits.state != "good":
        told.append(way.exits.text(system))
    return tuple(told)


def spare_said(way, system):
    """The room of its worst door, to spare, with what it rests on."""
    room = fine(min(way.worst.room_pa, way.box_room_pa), system)
    doubts = "; ".join(doubts_of(way, system))
    return f"{room} to spare at the worst door{f'. {word_of(way.state)}: {doubts}' if doubts else ''}"


def fallback_judged(study, system):
    """The best way with its status: one sentence for every page, so that none passes what another fails."""
    said, room = fallback_said(study, system), min(study.best.worst.room_pa, study.best.box_room_pa)
    if study.best.blind:
        return f"{word_of(study.best.state)}: {blind_said(study.best)} With such a signal it is worked out anew"
    if study.best.good:
        return f"{said}; {spare_said(study.best, system)}"
    file = " (with the leaks of the file alone it holds)" if study.best.worst.good else ""
    out = f"a door is up to {fine(-room, system)} out of its window, leaks and readings as they may be{file}"
    return f"{word_of('wrong')}: no way of falling back holds every door; the least bad of those tried is {said}; {out}"


def _set_points_said(study, system):
    alone = study.alone_pa
    if alone:
        return " or ".join(f"{name} alone at {_pressure(value, system)}" for name, value in alone.items())
    return ", ".join(f"what remains without {name} at {_pressure(value, system)}" for name, value in study.set_points_pa.items())


def _pressure(value, system):
    return units.show(value, "pressure", system)


def alarm_why(study, system):
    """What the alarm limits leave room for, in words; "" where there are none."""
    limits = study.alarm_limits
    if limits is None:
        return ""
    told = [f"wider than all sound loops show by {fine(limits.accuracy_pa, system)} for the readings' accuracy"]
    if limits.year_hours is not None:
        told.append(f"{limits.year_hours} hours of a typical year beyond the tightest")
    told.append(_event_said(limits))
    return "; ".join(told)


def _event_said(limits):
    """How long a door event takes a reading beyond the limits, and with which tuning."""
    if limits.event_s is not None:
        whose = "the tuning to be entered, at the worst of its lags" if limits.tuned else "the loop as stated"
        late = f"; {word_of('attention')}: later than {LATE_S:g} s, a quicker loop first" if limits.after_s > LATE_S else ""
        return f"a door event takes a reading beyond them for {limits.event_s:.0f} s ({whose}), and they wait{late}"
    if limits.tuned:
        return f"{word_of('wrong')}: after a door the loop stays outside them longer than was tried, even with the tuning to be entered"
    return "after a door stood open the loop as stated stays outside them longer than was tried: tune first, then set the delay"


def alarm_lines(study, system):
    """(on what, limit, for how long) of every alarm, as texts; none where no sound loop keeps every door inside."""
    limits = study.alarm_limits
    if limits is None:
        return ()
    after, longer = (limits.wait_text(seconds, system) for seconds in (limits.after_s, limits.deviation_after_s))
    still = units.show(limits.frozen_s, "time", system, 0)
    rows = [(one.name, f"below {fine(one.low_pa, system)} or above {fine(one.high_pa, system)}", after) for one in limits.readings]
    if limits.deviation_pa is not None:
        rows.append(("difference of any two readings", f"above {fine(limits.deviation_pa, system)}", longer))
    rows.append(("fan speed", _speed_alarm_said(study, system), after))
    rows.append(("each reading, frozen", f"moves by less than {finest(limits.frozen_band_pa, system)}", still))
    return tuple(rows)


def _speed_alarm_said(study, system):
    """Speeds [Hz] that sound loops do not run at, in words."""
    (low, high), (lowest, highest) = study.alarm_limits.speed_hz, study.air.limits_hz
    beyond = [f"below {units.show(low, 'frequency', system, 0)}"] if low > lowest else []
    beyond += [f"above {units.show(high, 'frequency', system, 0)}"] if high < highest else []
    return ", ".join([*beyond, "or at either end stop"]) if beyond else "at either end stop"
