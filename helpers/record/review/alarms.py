"""Review of the alarms: do they ring when a place is out of its limits, only then, and in time? Of any plant.

Alarms may stand on the combined reading, on each reading, on the difference of two, and on the fan at an end of its speed.
"""

from dataclasses import replace

import numpy as np

from helpers.formulas import signals
from helpers.record.review.bench import DIFFERENCE
from helpers.record.review.curves import displayed, widest_apart
from helpers.record.review.kinds import BUILDING, STRATEGY, Kind, attention, wrong
from helpers.studies.readings.alarms import latest_s, silence_state
from helpers.studies.report import NETWORK, PRACTICE, Finding
from helpers.units.limits import limit_text
from helpers.units.said import three, with_unit

BESIDE_SHARE = 0.1  # of the set point: an alarm this near to it rings at every draught; common practice, no source
PASSING_S = 5.0  # an alarm sooner than that rings at every door; common practice, no source
COMBINED, RULE_FIRST = "combined reading", "set point and rule first, then the limits beside what they bring"
SHOWN_PA = 0.5  # by which an entry may be rounded
TOO_LATE_S = 300.0  # common practice, no source


def none_at_all(bench):
    """There is no alarm on the readings."""
    if not _any(bench):
        make = wrong if bench.smoke_control else attention
        yield make(
            f"There is no alarm on the {bench.held_words}",
            "none",
            f"nobody learns that the {bench.held_words} is lost",
            PRACTICE,
            f"limits on each reading and on the difference of two, with a delay longer than {PASSING_S:g} s{_proposed(bench)}",
        )


def inside_normal(bench):
    """An alarm limit lies inside what a sound loop shows, or so near beside it that every draught rings it.

    Sound: the loop holds, and every place is inside its limits; an alarm that rings where one is out is right. Where a study of the alarms
    has limits, a tighter one lies beside the normal band, and those are what to enter.
    """
    normal = bench.judged & (bench.held.state == "held") & bench.inside(bench.held)
    if not normal.any():
        yield from _beyond_set_point(bench)
        return
    inputs, held, bands = bench.strategy.inputs, bench.held, bench.alarm_bands
    own, alarms = displayed(inputs, held.tubes_pa)[normal], bench.strategy.alarms
    watched = [(COMBINED, held.display_pa[normal], alarms.limits[:2], max(bench.errors.max(), BESIDE_SHARE * abs(bench.set_point)))]
    watched += [(one.name, own[:, number], one.own_limits, bench.errors[number]) for number, one in enumerate(inputs)]
    watched += [(DIFFERENCE, widest_apart(bench, own), (None, alarms.limits[2]), 2 * bench.errors.max())] if len(inputs) > 1 else []
    for name, values, limits, beside in watched:
        ends = values.min(), values.max()
        tightest = bands.get(name, (ends[0] - beside, ends[1] + beside))
        for word, limit, end, least, sign in zip(("low", "high"), limits, ends, tightest, (1, -1), strict=True):
            if limit is None or least is None or sign * (limit - least) <= 0:
                continue
            inside, what = sign * (limit - end) > 0, "difference of two readings" if name == DIFFERENCE else name
            make = wrong if inside else attention
            yield make(
                f"The {word} alarm on the {what} lies {'inside' if inside else 'beside'} the normal band",
                f"{bench.show(limit)}, normal {bench.between(*ends)} at rest{_with_more(bench, name, least)}",
                "an alarm that comes every day is switched off",
                f"{NETWORK}; a tenth of the set point beside the combined reading: {PRACTICE}",
                _limits_said(bench, name, word, least),
            )


def _beyond_set_point(bench):
    """Where no loop at rest is sound: a limit on the far side of the set point itself, or on the combined reading right beside it."""
    near = max(bench.errors.max(), BESIDE_SHARE * abs(bench.set_point))
    watched = [(COMBINED, bench.strategy.alarms.limits[:2]), *((one.name, one.own_limits) for one in bench.strategy.inputs)]
    for name, limits in watched:
        for word, limit, sign in zip(("low", "high"), limits, (1, -1), strict=True):
            if limit is not None and sign * (limit - bench.set_point) > 0:
                yield wrong(
                    f"The {word} alarm on the {name} lies {'above' if sign > 0 else 'below'} the set point",
                    f"{bench.show(limit)}, set point {bench.show(bench.set_point)}", "it rings as long as the loop holds",
                    "settings of the strategy", bench.alarms_said() or RULE_FIRST,
                )  # fmt: skip
            elif limit is not None and name == COMBINED and sign * (bench.set_point - limit) < near:
                yield attention(
                    f"The {word} alarm on the {name} lies beside the set point",
                    f"{bench.show(limit)}, set point {bench.show(bench.set_point)}, {bench.show(near)} are a tenth of it or the error",
                    "an alarm that comes every day is switched off", f"settings of the strategy; {PRACTICE}",
                    bench.alarms_said() or RULE_FIRST,
                )  # fmt: skip


def _with_more(bench, name, least):
    """Where the limits of a study stand, which has looked at more than loops at rest."""
    told = "a year of weather, other walls and the readings' accuracy ask for a limit of"
    return f"; {told} {bench.show(least)}" if name in bench.alarm_bands else ""


def _limits_said(bench, name, word, least):
    """What to enter: the limits of the study of the alarms, where it has one, or what it lacks; else one beside the normal band."""
    said = bench.alarms_said()
    if name in bench.alarm_bands:
        return f"limits on each reading and their difference: {said}"
    if said and not bench.alarm_bands:
        return said
    return f"an alarm {'below' if word == 'low' else 'above'} {bench.show(least)}"


def silent(bench):
    """A place is far out of its limits while every alarm is silent, whatever the fan does."""
    if not _any(bench):
        return
    yield from _silent_by_study(bench)
    least, most = (np.broadcast_to(ends, bench.curves.places[:, 0].shape)[:, None] for ends in bench.alarm_limits)
    for amount, case, speed, place, word, asked in _silences(bench, bench.curves.places, least, most):
        has = f"{bench.place_text(place)} has {bench.show(bench.curves.places[case, speed, place])}, too {word}"
        end = "least" if word == "low" else "most"
        limit = f"{limit_text(abs(asked), bench.dimension, end if asked >= 0 else 'most')} is the {end}"
        yield _silence(bench, silence_state(amount, asked), has, limit, case, speed)


def _silent_by_study(bench):
    """The same of sound loops, readings that are off and failures nobody knows of, by the record's study."""
    said = _silence_by_study(bench)
    if said is None:
        return
    yield replace(
        Finding(
            said.state,
            "The alarms are silent while a door is past its limit",
            said.judged(),
            "a combined reading hides what the single ones show, and one that is off hides a door",
            NETWORK,
            _tighter(bench),
        ),
        possible=True,
    )


def _silence_by_study(bench):
    study, ends = bench.fallback, _watches_ends(bench)
    return study and study.silence_of(lambda shown: _rings(bench, shown.readings_pa, shown.combined_pa) | (shown.at_end & ends))


def whose_silence(bench):
    """No entry mends it where the record's own limits, as far as a strategy can state them, are silent on as much: tighter ones would ring
    on a sound stair."""
    study, said = bench.fallback, _silence_by_study(bench)
    limits = study and study.alarm_limits
    left = limits and study.silence_of(lambda shown: np.logical_or(*limits.passed(shown.readings_pa)) | shown.at_end)
    as_much = said and left and said.out_pa <= left.out_pa + bench.errors.max() and said.state == left.state
    return BUILDING if as_much else STRATEGY


def _watches_ends(bench):
    return bench.strategy.alarms.end_stop_after_s is not None


def exit_silent(bench):
    """A final exit or a lobby door is out of what the site allows it while every alarm is silent, where the loop at rest has it inside.

    Where it is out with the loop at rest, that is told as such.
    """
    if not _any(bench) or bench.curves.others is None:
        return
    resting = (bench.others_out(bench.held) > bench.tolerance_pa)[:, None]
    values = np.where(resting, np.nan, bench.curves.others)
    for amount, case, speed, other, word, asked in _silences(bench, values, *bench.other_limits):
        has = f"{bench.other_text(other)} has {bench.show(values[case, speed, other])}, too {word}"
        yield _silence(
            bench,
            silence_state(amount, asked),
            has,
            f"{'min.' if word == 'low' else 'max.'} {limit_text(asked, bench.dimension, 'least' if word == 'low' else 'most')}",
            case,
            speed,
        )


def _silences(bench, values, least, most):
    """The worst value [cases, speeds, n] beyond each end while no alarm rings: (amount, case, speed, number, "low" or "high", limit)."""
    ringing = _ringing(bench)
    for word, out, limit in (("low", least - values, least), ("high", values - most, most)):
        quiet = bench.settled[:, None, None] & ~ringing[..., None] & np.isfinite(out)
        out = np.where(quiet, out, -np.inf)
        case, speed, number = np.unravel_index(out.argmax(), out.shape)
        if out[case, speed, number] > max(bench.errors.max(), bench.tolerance_pa):
            yield float(out[case, speed, number]), case, speed, number, word, float(np.broadcast_to(limit, out.shape)[case, speed, number])


def _silence(bench, state, has, limit, case, speed):
    """The finding of one of them."""
    display = displayed(bench.strategy.inputs, bench.curves.tubes_pa[case, speed])
    shown = " and ".join(bench.show(value) for value in display)
    found = Finding(
        state,
        f"The alarms are silent while {has}",
        f"{limit}, {bench.cases[case].name}, fan at {with_unit(bench.curves.speed_hz[speed], 'frequency', 1)}, whatever took it there; "
        f"the readings are then {shown}, the {bench.strategy.loop.rule} of them "
        f"{bench.show(bench.display[case, speed])}",
        "a combined reading hides what the single ones show",
        NETWORK,
        _tighter(bench),
    )
    return replace(found, possible=True)


def _tighter(bench):
    """What rings sooner: the limits of the study of the alarms; where these are entered already, nothing does on a sound stair."""
    if bench.speed_first:
        return bench.alarms_said()
    bands, strategy = bench.alarm_bands, bench.strategy
    entered = {one.name: one.own_limits for one in strategy.inputs} | {DIFFERENCE: (None, strategy.alarms.limits[2])}
    if bands and all(entered[name] == ends for name, ends in bands.items()):
        return "no tighter limits stay silent on every sound loop: readings against a gauge at every test; better transmitters, or one more"
    return f"limits on each reading, on their difference, and on the fan at an end of its speed{_proposed(bench)}"


def can_never_come(bench):
    """A limit lies where the reading never gets, whatever the fan does, with the walls of the file: one that the study of the
    alarms has for other walls as well is no more than CHECK."""
    inputs, alarms = bench.strategy.inputs, bench.strategy.alarms
    own = displayed(inputs, bench.curves.tubes_pa)
    ends = [displayed([one] * 2, _ends(one)[:, None] * np.ones(2))[:, 0] for one in inputs]
    groups = [range(len(inputs))] if bench.alike is None else bench.alike
    widest = max(max(ends[one].max() for one in group) - min(ends[one].min() for one in group) for group in groups)
    watched = [("combined reading", bench.display, alarms.limits[:2])]
    watched += [(one.name, own[..., number], one.own_limits) for number, one in enumerate(inputs)]
    for name, values, (low, high) in watched:
        least, most = float(values.min()), float(values.max())
        ends = bench.between(least, most)
        never = {"low": low is not None and low < least, "high": high is not None and high > most}
        for word, limit, studied, sign in zip(never, (low, high), bench.alarm_bands.get(name, (None, None)), (1, -1), strict=True):
            if never[word]:
                make = attention if studied is not None and sign * (limit - studied) >= -SHOWN_PA else wrong
                yield make(
                    f"The {word} alarm on the {name} can never come",
                    f"{bench.show(limit)}, and from standstill to full speed it is {ends}",
                    "an alarm that cannot ring is none",
                    f"{NETWORK}; end of the entered range",
                    _in_reach(bench, word, least if word == "low" else most),
                )
    if alarms.limits[2] is not None and len(inputs) > 1 and alarms.limits[2] > widest:
        yield wrong(
            "The alarm on the difference of two readings can never come",
            f"{bench.show(alarms.limits[2])}, and from end to end of the ranges there are {bench.show(widest)}",
            "an alarm that cannot ring is none",
            "settings of the strategy",
            "a difference that the readings can have",
        )


def _in_reach(bench, word, end):
    """What to enter in place of a limit that is never reached; no figure before rule and set point suit the doors."""
    said = bench.alarms_said()
    if said:
        return f"limits on each reading and their difference: {said}" if bench.alarm_bands else said
    return f"a limit {'above' if word == 'low' else 'below'} {bench.show(end)}"


def too_soon(bench):
    """An alarm without delay rings at every door."""
    after = bench.strategy.alarms.after_s
    if _any(bench) and after < PASSING_S and bench.dimension == "pressure":
        yield attention(
            "The alarms ring at once",
            f"after {after:g} s",
            "every door that somebody goes through rings them, and an alarm that comes every day is switched off",
            PRACTICE,
            f"a delay above {PASSING_S:g} s: {bench.waits_said()}",
        )


def too_late(bench):
    """An alarm waits so long that it helps nobody."""
    after, alarms = bench.strategy.alarms.after_s, bench.strategy.alarms
    alone = not any_of(alarms.limits[:2]) and not any(any_of(one.own_limits) for one in bench.strategy.inputs)
    if _any(bench) and after > latest_s(difference=alone):  # one delay for all of them
        make = wrong if bench.smoke_control and after >= TOO_LATE_S else attention
        yield make(
            "The alarms come late",
            f"after {three(after / 60)} min",
            "in smoke control nobody has so long" if bench.smoke_control else "nobody learns of it for so long",
            PRACTICE,
            f"a delay of {bench.waits_said()}",
        )


def end_stop_unwatched(bench):
    """Nothing tells that the fan is at an end of its speed, where the loop is not in control."""
    if _any(bench) and bench.smoke_control and bench.strategy.alarms.end_stop_after_s is None:
        yield attention(
            "No alarm tells that the fan is at its highest or lowest speed",
            "none",
            "at an end stop the loop is not in control, and the readings may still look well",
            PRACTICE,
            "an alarm after a minute or two at an end stop",
        )


def _proposed(bench):
    said = bench.alarms_said()
    return f": {said}" if said else ""


def any_of(limits):
    """Whether one of some limits is set."""
    return any(limit is not None for limit in limits)


def _any(bench):
    return any_of(bench.strategy.alarms.limits) or any(any_of(one.own_limits) for one in bench.strategy.inputs)


def _ends(one):
    """What an instrument can tell at most, either way."""
    low, high = one.range
    live = signals.live_zero(one.signal)
    percent = (signals.MEASURES_FROM_PERCENT, signals.MEASURES_TO_PERCENT) if live else (0.0, 100.0)
    return low + (high - low) * np.array(percent) / 100


def _ringing(bench):
    """Whether an alarm rings [cases, speeds]."""
    ringing = _rings(bench, displayed(bench.strategy.inputs, bench.curves.tubes_pa), bench.display)
    slowest, fastest = bench.speed_limits_hz
    return ringing | (_watches_ends(bench) & ((bench.curves.speed_hz <= slowest) | (bench.curves.speed_hz >= fastest)))


def _rings(bench, own, combined):
    """Whether an alarm on readings as displayed [.., inputs], on their difference or on the combined one [..] rings."""
    low, high, difference = bench.strategy.alarms.limits
    pairs = [(combined, low, high)] + [(own[..., number], *one.own_limits) for number, one in enumerate(bench.strategy.inputs)]
    ringing = np.zeros(combined.shape, bool)
    for values, least, most in pairs:
        ringing |= (values < least) if least is not None else False
        ringing |= (values > most) if most is not None else False
    return ringing | (widest_apart(bench, own) > difference) if difference is not None else ringing


def _no_alarm_set(bench):
    return "" if _any(bench) else "no alarm"


KINDS = (
    Kind("no alarms", "no alarm at all", none_at_all),
    Kind("alarms inside", "alarm limits inside the normal band or beside the set point", inside_normal, absent=_no_alarm_set),
    Kind("alarms silent", "alarms that stay silent while a place is out of its limits", silent, whose_silence, absent=_no_alarm_set),
    Kind(
        "exit silent",
        "alarms that stay silent while a final exit or a lobby door is out",
        exit_silent,
        stairs_only=True,
        absent=_no_alarm_set,
    ),
    Kind("alarm never", "an alarm that can never come", can_never_come, absent=_no_alarm_set),
    Kind("alarm at once", "alarms without a delay", too_soon, absent=_no_alarm_set),
    Kind("alarm late", "alarms that come too late to help", too_late, absent=_no_alarm_set),
    Kind("end stop", "a fan at an end of its speed that nobody is told of", end_stop_unwatched, absent=_no_alarm_set),
)
