"""What is judged at a door of the acceptance sheet: by window, by the standard's forces and speeds, by what was to be expected.

One list for every reader of it, panel, page and spreadsheet. Past a limit is wrong; near it, strange or two gauges that disagree, for
somebody to look at. No pressure is judged across an open door: it is too small to be measured, the speed is what counts there.
"""

from dataclasses import replace

from helpers.model.site.criteria import AIR
from helpers.studies.commissioning.fields import (
    DAY,
    READ_BY,
    READ_WORDS,
    SHUT,
    Above,
    All,
    Either,
    Missing,
    Remark,
    Says,
    above,
    below,
    outside,
    present,
    spoken,
)
from helpers.studies.doors.columns import LIMITS
from helpers.studies.doors.forces import GAUGE_N, RELATCH_SHARE
from helpers.studies.doors.open import MISSING_RELEASE, speeds_asked
from helpers.studies.report import apart, fine
from helpers.studies.status import SPARE_PA, TOUCHES, worst_of
from helpers.units.said import with_unit

DIRECTIONS = ("out of the stair", "into the stair", "none")
SHUTS = ("yes", "no")  # and latches, by itself, against the pressure
STRANGE_SHARE = 0.5  # a reading this far from the expected one is looked at, though its door is in its window; common practice, no source
GAUGES_SHARE = 0.3  # force added and pressure measured may differ by so much and two gauges' errors before one is doubted; ours
FIRST_MINUTES = 1.0  # while the stair is as warm as the rooms: the end doors' first reading
FIELD_WORDS = {
    "shut_pa": "pressure", "minutes": "minutes since the start", "later_pa": "pressure again later", "later_minutes": "minutes, later",
    "off_n": "force with the fan off", "latch_n": "latch", "motion_n": "in motion", "width_n": "full width",
    "force_n": "force", "shuts": "shuts again", "open_pa": "pressure with doors open", "speed_m_s": "speed", "direction": "smoke or thread",
}  # fmt: skip
WORDS = {"direction": DIRECTIONS, "shuts": SHUTS, READ_BY: READ_WORDS}
_WHEN = {"later_pa": " later on", "open_pa": " at a steady speed"}


def judged(sheet, row, measured, of_the_day=None):
    """Each thing there is to say about a row, as (key of the status, words); nothing where all that was measured is good.

    sheet: `AcceptanceSheet`; row: one of its rows; measured: `DoorMeasured`; of_the_day: whether what is expected
    is that of the weather in which it was measured, by default whether the sheet's day is stated.
    """
    known = sheet.day.typed if of_the_day is None else of_the_day
    values = vars(measured) | {DAY: 1.0 if known else None}
    for check in spoken(sheet.checks[row.key] if of_the_day is None else chains(sheet, row), values):
        yield check.state, check.say(values)


def asked(row):
    """Conditions under which something is still to be measured at a door, in the order of the sheet."""
    return tuple(Missing(name, WORDS.get(name, ())) for name in row.asked)


def chains(sheet, row):
    """All that is judged at a door: chains of `Remark`, of each of which the first that holds is said."""
    found = [
        *_pressure(sheet, row, "shut_pa"),
        *_minutes(row),
        *later_chains(sheet, row),
        *_forces(row),
        *_second_round(sheet, row),
        _weather(row),
    ]
    return tuple(tuple(chain) for chain in found if chain)


def _weather(row):
    """What hangs on the weather is not judged while nobody has stated it."""
    fields = [name for name in ("shut_pa", "off_n", "motion_n", "force_n") if name in (*row.asked, "force_n")]
    measured = Either(tuple(present(name) for name in fields))
    return [Remark("open", All((Missing(DAY), measured)), lambda values:
        "what hangs on the weather is judged once the temperatures of the day are stated")]  # fmt: skip


def _of_the_day(condition):
    """A condition that hangs on what is expected in the weather of the day: it never holds while that is not stated."""
    return All((present(DAY), condition))


def later_chains(sheet, row):
    """What is judged of an end door's second reading, with the stair's air changed."""
    if row.later_minute is None:
        return ()
    least = f"{row.later_minute:.0f}"
    early = Remark("open", below("later_minutes", row.later_minute),
                  lambda values: f"minute {values['later_minutes']:g}: again from minute {least}, the stair changes")  # fmt: skip
    again = []
    if row.window.relatch_pa:
        surely, name = row.window.relatch_pa[0], "later_pa"
        more = All((above(name, surely), below("shut_pa", surely + 2 * TOUCHES)))
        again = [
            Remark("attention", more, lambda values: "more than in the first minute: try again whether it shuts"),
            Remark("attention", above(name, surely), lambda values:
                f"{fine(values[name])} later is more than its closer surely shuts against ({fine(surely)}): try again whether it shuts"),
            Remark("attention", above(name, (1 - RELATCH_SHARE) * surely), lambda values:
                f"{fine(values[name])} later is near what its closer surely shuts against ({fine(surely)}): try again whether it shuts"),
        ]  # fmt: skip
    return tuple(tuple(chain) for chain in (*_pressure(sheet, row, "later_pa"), [early], again) if chain)


def _fine(value_pa, limit_pa, end):
    return apart((value_pa, limit_pa), "pressure", end, (1, 3))


def _against(name, limit_pa, end, text):
    """Words of a pressure against a limit, a "least" or a "most": {0} the reading, {1} the limit."""
    return lambda values: text.format(*_fine(values[name], limit_pa, end))


def in_a_round(sheet, row, pressure_pa, fan_held, exit_open=False, tried_pa=None):
    """(state, words) of a pressure read across a door that stays shut, in any round but that of the sheet's own columns.

    fan_held: whether the loop holds its set point, so that a least is asked for, as with the sheet's doors open; at a steady speed only
    the most counts, and nobody goes through a door. exit_open: whether a final exit stands open; tried_pa: at which the leaf was
    seen to shut, None where it was not. "good" where nothing is past an end.
    """
    row = replace(row, opened=False)
    exits = sheet.open_exits if exit_open else ()
    found = (
        _second_round(replace(sheet, open_exits=exits), row)
        if fan_held
        else [[*_ends(sheet, row, "open_pa", ("high",)), *_closes(sheet, row, "open_pa", ("high",))]]
    )
    told = [(check.state, check.say({"open_pa": pressure_pa})) for check in spoken(found, {"open_pa": pressure_pa})]
    if not fan_held and sheet.ends(row)[1] is None and row.shuts_to_pa is not None and pressure_pa - row.shuts_to_pa > TOUCHES:
        value, limit = _fine(pressure_pa, row.shuts_to_pa, "most")
        told.append(("wrong", f"{value} at a steady speed, its maximum is {limit}: opened, it stands ajar; a lower speed, the round again"))
    surely = row.window.relatch_pa and row.window.relatch_pa[0]
    if fan_held and surely and pressure_pa - surely > TOUCHES:
        tried = tried_pa is not None and pressure_pa <= tried_pa
        words = f"one trial at {fine(tried_pa)} is no proof of it" if tried else "once opened it stands ajar"
        value, limit = _fine(pressure_pa, surely, "most")
        told.append(("attention" if tried else "wrong", f"{value} is more than its closer surely shuts against ({limit}): {words}"))
    return (worst_of(state for state, _ in told), "; ".join(words for _, words in told)) if told else ("good", "")


def _ends(sheet, row, name, which=("low", "high")):
    """A shut door past an end of its window, or of the standard's own limits whatever the site file asks: a `Remark` each."""
    criteria = sheet.criteria
    when = _WHEN.get(name, "")
    least, most = criteria.least_doors_shut, criteria.most_doors_shut
    own = row.window.stated
    asked_for = own.least_pa if row.least_pa == least.limit else row.least_pa  # so has the least that it asks for by its pressure
    if asked_for is not None and "low" in which:
        text = f"{{0}}{when}, at least {{1}} asked for: {row.window.means('low')}"
        yield Remark("wrong", below(name, asked_for), _against(name, asked_for, "least", text), name in SHUT)
    bears = own.most_pa if row.most_pa == most.limit else row.most_pa  # what the standard allows by its pressure has words of its own
    if bears is not None and "high" in which:
        text = f"{{0}}{when}, at most {{1}} allowed: {own.means('high')}"
        yield Remark("wrong", above(name, bears), _against(name, bears, "most", text))
    if row.use == "stair door":
        if least.limit is not None and "low" in which:
            text = f"{{0}}{when}, {criteria.name} asks for {{1}} at least"
            yield Remark("wrong", below(name, least.limit), _against(name, least.limit, "least", text), name in SHUT)
        if most.limit is not None and "high" in which:
            text = f"{{0}}{when}, {criteria.name} allows {{1}}"
            yield Remark("wrong", above(name, most.limit), _against(name, most.limit, "most", text))


def _closes(sheet, row, name, which=("low", "high")):
    """The same of a reading inside its ends with too little room."""
    return [_close(name, end, side) for side, end in zip(("low", "high"), sheet.ends(row), strict=True)
            if side in which and isinstance(end, int | float)]  # fmt: skip


def _close(name, limit_pa, side, when=""):
    """A `Remark` on a reading with less room than SPARE_PA."""
    low, when = side == "low", when or _WHEN.get(name, "")
    near = below(name, limit_pa + SPARE_PA) if low else above(name, limit_pa - SPARE_PA)
    room = f"less than {with_unit(SPARE_PA, 'pressure')} of room: wind and leaks of another day take as much"
    end = "least" if low else "most"
    return Remark("attention", near, _against(name, limit_pa, end, f"{{0}}{when}, {LIMITS[end]} {{1}}: {room}"), low and name in SHUT)


def _pressure(sheet, row, name):
    """A shut door's pressure: the door's window, the standard's own limits whatever the site file asks, what was to be expected."""
    chain, least, most = [*_ends(sheet, row, name)], sheet.criteria.least_doors_shut, sheet.criteria.most_doors_shut
    if name == "shut_pa":  # the later reading's expected figure is another one: the stair's air has changed
        strange = _of_the_day(outside(name, row.shut_pa, STRANGE_SHARE * abs(row.shut_pa)))
        chain.append(Remark("attention", strange, lambda values:
            f"{fine(values[name])} where {fine(row.shut_pa)} was expected: look for a door ajar, a leak, another "
            "reference", True))  # fmt: skip
    yield [*chain, *_closes(sheet, row, name)]
    for blank, which in ((least.blank, "least"), (most.blank, "most")) if row.use == "stair door" else ():
        if blank:
            yield [Remark("open", present(name), lambda values, which=which:
                f"the {which} pressure asked for is blank in the standard's file")]  # fmt: skip
    if row.window.relatch_pa and name == "shut_pa":
        surely = row.window.relatch_pa[0]
        untried, near = Missing("shuts", SHUTS), above(name, (1 - RELATCH_SHARE) * surely)
        yield [
            Remark("attention", All((above(name, surely), untried)), lambda values:
                f"{fine(values[name])} is more than its closer surely shuts against ({fine(surely)}): try it"),
            Remark("attention", All((near, untried)), lambda values:
                f"{fine(values[name])} is near what its closer surely shuts against ({fine(surely)}): try it"),
            Remark("attention", above(name, surely), lambda values:
                f"{fine(values[name])} is more than its closer surely shuts against ({fine(surely)}): one trial is no proof of it"),
        ]  # fmt: skip


def _minutes(row):
    yield [Remark("open", below("minutes", 0.0), lambda values:
        f"minute {values['minutes']:g}: no reading is older than the fan's start; write the minutes since it started")]  # fmt: skip
    if row.later_minute is not None:
        yield [Remark("attention", above("minutes", FIRST_MINUTES), lambda values:
            f"minute {values['minutes']:g}: an end door's first reading belongs in the first minute, the stair "
            "still as warm as the rooms")]  # fmt: skip


def _forces(row):
    for force in row.forces:
        yield _force(row, force)
    if all(force.field != "force_n" for force in row.forces):
        yield _older(row)
    if row.off_n is not None:  # a door that nobody works by hand has no force to expect
        yield from _fan_off(row)
    yield _together(row)
    yield [Remark("wrong", Says("shuts", ("no",)), lambda values:
        "it does not shut and latch by itself against the pressure: it will stand ajar")]  # fmt: skip


def _newton(value, limit):
    return apart((value, limit), "force", "most", 1)


def _fan_off(row):
    """With the fan off the gauge reads the closer and the stack effect of the day: the closer's part is what is left of it."""
    air = row.off_n - row.closer_n
    for force in row.forces:
        if force.criterion.step == "release the latch" or force.limit_n is None:
            continue
        in_motion = force.criterion.step in AIR

        def say(values, force=force, in_motion=in_motion):
            off_n = values["off_n"]
            part, limit = _newton(off_n if in_motion else off_n - air, force.limit_n)
            said = part if in_motion else with_unit(off_n, "force", 1)
            stack = f"{with_unit(abs(air), 'force', 1)}"
            by_air = f"suction helped by {stack}" if air < 0 else f"the stack effect took {stack} of it"
            what = f"{said} with the fan off" if in_motion else f"{said} with the fan off; {by_air}, so the closer alone takes {part}"
            return f"{what}: past {limit} to {force.criterion.step} without any fan"

        past = above("off_n", force.limit_n + (0.0 if in_motion else air))
        inferred = _of_the_day(All((past, Missing(force.field))))  # a full width that was measured has its own limit, and no need of this
        yield [Remark("wrong", past if in_motion else inferred, say)]
    strange = _of_the_day(outside("off_n", row.off_n, max(STRANGE_SHARE * row.off_n, GAUGE_N)))

    def looked_at(values):
        said, expected = (with_unit(value, "force", 1) for value in (values["off_n"], row.off_n))
        return f"{said} with the fan off where {expected} was expected: look at the closer"

    yield [Remark("attention", strange, looked_at)]


def _force(row, force):
    name, step, at, limit = force.field, force.criterion.step, force.criterion.at, force.limit_n
    if limit is None:
        return [Remark("open", present(name), lambda values:
            f"{with_unit(values[name], 'force', 1)} to {step}: its limit is blank in the standard's file")]  # fmt: skip
    chain = [
        Remark("wrong", above(name, limit), lambda values:
            f"{_newton(values[name], limit)[0]} at the {at} to {step}, limit {_newton(values[name], limit)[1]}"),
        Remark("attention", above(name, limit - GAUGE_N), lambda values:
            f"{_newton(values[name], limit)[0]} at the {at} to {step}, just under the limit of {_newton(values[name], limit)[1]}"),
    ]  # fmt: skip
    if step in AIR and force.expected_n is not None:
        strange = _of_the_day(outside(name, force.expected_n, max(STRANGE_SHARE * force.expected_n, GAUGE_N)))
        chain.append(Remark("attention", strange, lambda values:
            f"{with_unit(values[name], 'force', 1)} to {step} where {with_unit(force.expected_n, 'force')} was expected: "
            "look at the closer"))  # fmt: skip
    return chain


def _older(row):
    """A force at the handle, as older sheets asked for it."""
    chain = []

    def said(values, words):
        force, limit = apart((values["force_n"], row.limit_n), "force", "most")
        return f"{force} at the handle{words} {limit}"

    if row.limit_n is not None:
        for state, limit, words in (
            ("wrong", row.limit_n, ", limit"), ("attention", row.limit_n - GAUGE_N, ", just under the limit of"),
        ):  # fmt: skip
            chain.append(Remark(state, above("force_n", limit), lambda values, words=words: said(values, words)))
    if row.force_n is not None:
        strange = _of_the_day(outside("force_n", row.force_n, STRANGE_SHARE * row.force_n))
        chain.append(Remark("attention", strange, lambda values:
            f"{with_unit(values['force_n'], 'force')} at the handle where {with_unit(row.force_n, 'force')} was expected: "
            "look at the closer"))  # fmt: skip
    return chain


def _together(row):
    """Whether the force that the fan adds and the pressure measured go together: one of the two gauges may be wrong.

    By pressure b = k (p - p off), by gauge g = on - off; strange where |b - g| is above c + s |b|, written out without the bars.
    """
    on = next((force.field for force in row.forces if force.criterion.step in AIR), None)
    if on is None or row.arm_n_pa is None:
        return []
    k, c = (-row.arm_n_pa if row.window.opens_with_pressure else row.arm_n_pa), 2 * GAUGE_N

    def apart(way, share):
        """That way (b - g) is above c + share b, with way +1 or -1."""
        b = way - share
        return Above((("shut_pa", b * k), (on, -way), ("off_n", way)), c + b * k * row.off_pa)

    differ = Either(tuple(All((apart(way, GAUGES_SHARE), apart(way, -GAUGES_SHARE))) for way in (1.0, -1.0)))

    def say(values):
        figures = values[on] - values["off_n"], k * (values["shut_pa"] - row.off_pa)
        adds, should = (with_unit(value, "force") for value in figures)
        return f"the fan adds {adds} at the gauge, by the pressure measured {should}: one of the two gauges is off"

    return [Remark("attention", _of_the_day(All((above("off_n", 0.0), above(on, 0.0), differ))), say)]


def _second_round(sheet, row):
    yield [
        Remark("wrong", Says("direction", DIRECTIONS[1:2]), lambda values: "the air goes into the stair: smoke would, too"),
        Remark("attention", Says("direction", DIRECTIONS[2:]), lambda values: "no air moves at the gap"),
    ]
    if row.opened:
        yield from _speed(sheet.criteria, row.use)
        return  # the pressure across an open door is too small to be measured: nothing is judged by it
    chain, name = [], "open_pa"
    least_open = sheet.criteria.least_exit_open.limit if sheet.open_exits else None
    if row.use != "final exit":
        chain.append(Remark("wrong", below(name, 0.0), lambda values: "with the doors open the pressure here turns round"))
    if row.use == "stair door" and least_open is not None:
        text = "{0} with the final exit open, {1} asked for"
        chain.append(Remark("wrong", below(name, least_open), _against(name, least_open, "least", text)))
    close = []
    if row.most_pa is not None:
        text = f"{{0}} with the doors open, at most {{1}} allowed: {row.window.means('high')}"
        chain.append(Remark("wrong", above(name, row.most_pa), _against(name, row.most_pa, "most", text)))
        close.append(_close(name, row.most_pa, "high", " with the doors open"))
    least = row.window.open_least_pa
    if least is not None:
        text = f"{{0}} with the design's doors open, at least {{1}} asked for: {row.window.means('low')}"
        text = text if sheet.designed else "{0} with the doors open, {1} with all shut: does the design ask for it then?"
        state = "wrong" if sheet.designed else "attention"
        chain.append(Remark(state, below(name, least), _against(name, least, "least", text)))
        close += [_close(name, least, "low", " with the doors open")] * sheet.designed
    yield [*chain, *close]


def _speed(criteria, use):
    digits = (2, 0)
    still = Above((("speed_m_s", -1.0),), -2 * TOUCHES)  # none at all, or the wrong way
    yield [Remark("wrong", still, lambda values:
        f"{with_unit(values['speed_m_s'], 'speed', digits)} through the open door: the air does not go out")]  # fmt: skip
    if use == "final exit":
        return  # the standards' speeds are those through the door to the fire floor
    (least, *_), own = speeds_asked(criteria)
    if not own:

        def hardly(values):
            said, limit = apart((values["speed_m_s"], least.limit), "speed", "least", digits)
            return f"{said} through the open door, {limit} is the smallest in print that we know: {MISSING_RELEASE}"

        yield [Remark("attention", All((above("speed_m_s", 0.0), below("speed_m_s", least.limit))), hardly)]
    if any(one.blank for one in criteria.open_door_speeds):
        yield [Remark("open", above("speed_m_s", 0.0), lambda values:
            f"{with_unit(values['speed_m_s'], 'speed', digits)} through the open door: the speed asked for is blank in "
            "the standard's file")]  # fmt: skip
    limits = [one for one in criteria.open_door_speeds if one.limit is not None]
    for one in limits:
        state = "wrong" if one.limit == min(other.limit for other in limits) else "attention"

        def say(values, one=one):
            said, limit = apart((values["speed_m_s"], one.limit), "speed", "least", digits)
            return f"{said} through the open door, {limit} asked for in classes {one.classes} ({use})"

        yield [Remark(state, All((above("speed_m_s", 0.0), below("speed_m_s", one.limit))), say)]
