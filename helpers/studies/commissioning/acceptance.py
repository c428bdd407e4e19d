"""The acceptance sheet: door by door what pressure, force, speed and direction are to be expected in the weather of the day, and what was
measured, judged at once.

Expected figures come from leaks out of tables: they show whether a reading is strange, the window and the standard say whether it is good.
A sheet is passed when every door is measured, nothing is past a limit, and the stair has been given back as it was.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.criteria import BLANK, Criteria, in_its_mode
from helpers.studies.cases import known_weather, two_neighbours
from helpers.studies.commissioning.expected_at_door import by_hand, counted_over, later_word, row_of, run_states
from helpers.studies.commissioning.fields import (
    DEFICIENCIES,
    OF_THE_DAY,
    READ_BY,
    READ_LINE,
    Day,
    DoorMeasured,
    as_read,
    as_run,
    is_filled,
    made_for,
    spoken,
    tested_again,
)
from helpers.studies.commissioning.further_tests import (
    NEVER,
    fastest_of,
    first_minute_hz,
    heaviest_after,
    on_paper,
    settled_of,
    twice_of,
    worst_jump,
)
from helpers.studies.commissioning.further_tests import worst_of_doors as doors_at_worst
from helpers.studies.commissioning.hand_back import BEFORE, CLOSING
from helpers.studies.commissioning.judgement import FIELD_WORDS, WORDS, chains, judged, later_chains
from helpers.studies.commissioning.steps.not_run import (
    BY_LOOP,
    FAST,
    NOT_RUN,
    by_the_record,
    is_entered,
    too_fast,
    word_shown,
)
from helpers.studies.commissioning.steps.plant import barred_test, comes_first, plant_tests
from helpers.studies.doors.columns import across_by_use
from helpers.studies.doors.forces import Relatching
from helpers.studies.doors.open import door_speed
from helpers.studies.doors.window import USES, pressure_window
from helpers.studies.duty.permissible_speed import Ceiling, ceiling_of
from helpers.studies.status import SEVERITIES, STATUSES, word_of, worst_of
from helpers.units.said import with_unit

NO_DAY = Day()
ENTERED = "drive's highest speed, entered and read back"
MOST_NAMED = 4  # lines still to be filled in that are named at once


@dataclass(frozen=True)
class AcceptanceSheet:
    """All doors of a stair, bottom up, in one weather. open_doors, open_exits: levels whose doors stand open in the second round; state:
    whether the fan holds its set point, by round; speed_hz, flow_m3_s of the fan by round; day_said: the weather of the day in words;
    designed: whether the design itself takes these doors as open, so that the windows hold in the second round too; day: what was stated of
    the weather, made_for: (field of `Day`, value) of all that the figures hold for; jump: (pressure [Pa], key of the door) at the heaviest
    shut door in the moment in which the open ones shut, the fan still at its speed of the second round; worst_jump: the same with the case
    in words, of all weathers and times of the stair's air; worst: of `WorstDay`, every door's; plant: of `PlantTest`; first: what has to be
    settled before anybody goes out, "" for nothing; ceiling: the `Ceiling` of speed of the day; before_loop: what the design record has to
    settle before the loop is run, as `first` of a test day's `procedure`: "" for nothing, None where no record was asked; fastest: (speed
    [Hz], minute since the start) that the loop takes the fan to with all doors shut, () where nobody knows how the stair's air changes."""

    site_name: str
    weather: str
    rows: tuple
    open_doors: tuple
    open_exits: tuple
    state: tuple
    speed_hz: tuple
    criteria: Criteria
    day_said: str = ""
    flow_m3_s: tuple = ()
    designed: bool = False
    day: Day = NO_DAY
    made_for: tuple = ()
    jump: tuple = ()
    worst_jump: tuple = ()
    worst: tuple = ()
    plant: tuple = ()
    first: str = ""
    ceiling: Ceiling | None = None
    before_loop: str | None = None
    fastest: tuple = ()

    @property
    def too_fast(self):
        """That the fan goes above the day's ceiling, in words, by round; "" where it does not: with all doors shut by the fastest that the
        loop takes it to while the stair's air changes. Held at the ceiling it would prove no loop."""
        moments = [(speed, None) for speed in self.speed_hz]
        if self.fastest and self.fastest[0] > moments[0][0]:
            moments[0] = self.fastest
        return tuple("" if self.ceiling is None else too_fast(speed, self.ceiling, minute) for speed, minute in moments)

    @property
    def against(self):
        """Why each of the two rounds is NOT RUN, in words; "" for one that is: what the record has to settle, and a fan above the day's
        ceiling. A test day bars its steps by the same."""
        record = by_the_record(self.before_loop)
        return tuple("; and ".join(filter(None, (record, fast))) for fast in self.too_fast)

    def measure(self, number):
        """What makes a round safe that is run all the same, by who may decide it, in words: the first is 1."""
        return FAST if self.too_fast[number - 1] else BY_LOOP

    @property
    def hand_hz(self):
        """Speed [Hz] in MANUAL, doors shut, at which the forces with the fan on are expected where the first round is NOT RUN; None where
        it is run, where no record was asked, and where no speed of this drive may be run."""
        barred = self.against[0] and self.before_loop is not None and self.ceiling is not None
        speed = np.minimum(self.ceiling.by_hand_hz, self.ceiling.full_hz) if barred else np.nan
        return None if np.isnan(speed) else float(speed)

    @property
    def enters_ceiling(self):
        """Whether the day's ceiling of speed is entered in the drive before the fan starts."""
        return self.ceiling is not None and is_entered(self.ceiling)

    @property
    def crew(self):
        """(people in round 1, in round 2): nobody measures alone, a pair at each end, one for each open door, one at the manual switch."""
        levels = {row.level for row in self.rows if row.later_minute is not None}
        return 2 * min(max(len(levels), 1), 2) + 1, len(self.open_doors) + len(self.open_exits) + 2 + 1

    def ends(self, row):
        """(least, most) pressure across a shut door [Pa]: the stricter of window and standard; None where nothing is asked.

        BLANK (a text) where the standard's place is blank: then nobody can say that a reading is inside.
        """
        if row.use != "stair door":
            return row.least_pa, row.most_pa
        found = []
        for own, asked, stricter in (
            (row.least_pa, self.criteria.least_doors_shut, max),
            (row.most_pa, self.criteria.most_doors_shut, min),
        ):
            known = [limit for limit in (own, asked.limit) if limit is not None]
            found.append(BLANK if asked.blank else stricter(known) if known else None)
        return tuple(found)

    @property
    def stair_said(self):
        """The temperature of the stair that speed and flow of the fan are expected at: in the first minute, as warm as the rooms, and an
        hour later they are others."""
        ends = [as_read(dict(self.made_for)[f"stair_{end}_c"], "temperature") for end in ("bottom", "top")]
        return f"with the stair at {' to '.join(dict.fromkeys(ends))}"

    def fan_lines(self):
        """What to write down of the fan: (what, expected in words) by round."""
        lines = [(ENTERED, f"{self.ceiling.keyed_said}, before the first start")] if self.enters_ceiling else []
        lines += [READ_LINE] * (self.hand_hz is not None)
        of_both = zip(self.speed_hz, self.flow_m3_s, self.state, self.against, strict=True)
        for number, (speed, flow, state, against) in enumerate(of_both, 1):
            told = "" if state == "held" else f", {state}"
            speed_said, flow_said = with_unit(speed, "frequency"), with_unit(flow, "flow")
            if against:
                speed_said, flow_said = f"{NOT_RUN} while {against}", f"{NOT_RUN}, as its fan speed"
                lines += [(f"round {number}: fan speed", speed_said), (f"round {number}: fan flow, by traverse", flow_said)]
            else:
                lines += [(f"round {number}: fan speed", f"{speed_said}{told}, {self.stair_said}"),
                          (f"round {number}: fan flow, by traverse", f"{flow_said}, {self.stair_said}")]  # fmt: skip
            lines.append((f"round {number}: motor current", flow_said if against else "below the plate"))
        return tuple(lines)

    @cached_property
    def fails_elsewhere(self):
        """Whether a door is past its window in another weather, or with the stair's air at its other end."""
        return any(one.state == "wrong" for one in self.worst)

    def worst_of(self, key):
        """Worst figure of a door of all weathers, in words."""
        return next((one.short(self.against[0]) for one in self.worst if one.key == key and np.isfinite(one.room_pa)), "")

    def row(self, key):
        """The row of a key. Raises ValueError naming those there are."""
        if (found := next((row for row in self.rows if row.key == key), None)) is None:
            raise ValueError(f"row must be one on the sheet ({', '.join(str(row.key) for row in self.rows)}); got {key!r:.60}")
        return found

    def judge(self, key, measured):
        """(state, words) of what was measured at a door: a key of status.SEVERITIES, or "" where nothing was.

        "open" while something that is asked is not measured. Raises ValueError for a row that is not on the sheet, or a word that is none
        of DIRECTIONS or SHUTS.
        """
        row = self.row(key)
        for name, words in WORDS.items():
            if (value := getattr(measured, name)) is not None and value not in words:
                raise ValueError(f"{name} must be one of {', '.join(words)}; got {value!r:.60}")
        if all(value is None for name, value in vars(measured).items() if name != READ_BY):
            return "", ""
        told = tuple(judged(self, row, measured))
        left = [name for name in row.asked if getattr(measured, name) is None]
        if told:
            more = f"; still to measure: {_named(left)}" if left else ""
            return worst_of(state for state, _ in told), "; ".join(words for _, words in told) + more
        return ("open", f"inside its limits so far; still to measure: {_named(left)}") if left else ("good", "inside its limits")

    def judge_later(self, key, measured):
        """(state, words) of an end door's second reading alone; as `judge`, of which it is a part."""
        values = vars(measured)
        if measured.later_pa is None and measured.later_minutes is None:
            return "", ""
        told = [(check.state, check.say(values)) for check in spoken(as_run(self, later_chains(self, self.row(key))), values)]
        left = [name for name in ("later_pa", "later_minutes") if values[name] is None]
        told += [("open", f"still to measure: {_named(left)}")] * bool(left)
        return (worst_of(state for state, _ in told), "; ".join(words for _, words in told)) if told else ("good", "inside its limits")

    @cached_property
    def checks(self):
        """Chains of checks by row, of which panel, page and spreadsheet are made."""
        return {row.key: as_run(self, chains(self, row)) for row in self.rows}

    @cached_property
    def expected_states(self):
        """Key of the status of every door that reads just what is expected of it."""
        return {row.key: self.expected(row.key)[0] for row in self.rows}

    def expected_parts(self, key):
        """(state, words) of what is expected of a door, each by itself: its pressure, its forces, the second round."""
        if key not in self._parts:
            self._parts[key] = self._parts_of(self.row(key))
        return self._parts[key]

    @cached_property
    def _parts(self):
        """`expected_parts` so far, by row: a sheet that is typed into asks for them at every key."""
        return {}

    def _parts_of(self, row):
        told = [tuple(judged(self, row, DoorMeasured(**one), True)) for one in row.as_expected]
        first, *more = ((worst_of(state for state, _ in one) or "good", "; ".join(words for _, words in one)) for one in told)
        return on_paper(self.worst, row, *first), *more

    def expected_words(self, key):
        """Words of the status of `expected_parts`."""
        return tuple(word_of(state) for state, _ in self.expected_parts(key))

    @cached_property
    def later_words(self):
        """What each door's second reading as expected would be, by row, as `word_shown`; no row where nobody knows it."""
        return {row.key: later_word(self, row) for row in self.rows if row.later_as_expected}

    def expected(self, key, again=True):
        """(state, words) of a door that reads just what is expected of it: one that fails then is known before anybody goes out.

        again: with an end door's second reading; without it, what the door's own line says beside that reading's.
        """
        row = self.row(key)
        shut, forces, second = row.as_expected
        closes = Relatching(row.window, row.shut_pa, "").state if row.window.relatch_pa else "good"
        shuts = {"wrong": "no", "good": "yes"}.get(closes)  # near what its closer shuts against nobody knows
        later = row.later_as_expected if again else {}
        measured = DoorMeasured(shuts=shuts, **shut, **later, **second), DoorMeasured(**forces)  # those may be of another speed
        told = [one for some in measured for one in judged(self, row, some, True)]
        words = "; ".join(words for _, words in told)
        return on_paper(self.worst, row, worst_of(state for state, _ in told) or "good", words, *list(later.values())[:1])

    @cached_property
    def expected_said(self):
        """How many doors would fail if all read just as expected, in a sentence; before anybody goes out, what comes first."""
        states, out = [*self.expected_states.values()], f"{word_of('wrong')}: do not go out with this sheet, {self.first}."
        return out if self.first else self.expected_counts + " Correct the design before you measure." * ("wrong" in states)

    @property
    def expected_counts(self):
        """How many doors would fail if all read just as expected, and how many of them by what is NOT RUN, without what to do about it."""
        states = list(self.expected_states.values())
        words = {key: word_shown(STATUSES[key].word, any(self.against)).replace(" its ", " their ") for key in SEVERITIES}
        told = ", ".join(f"{states.count(key)} {words[key]}" for key in SEVERITIES if key in states)
        counts = f"If every door reads just as expected, {self.weather}, {counted_over(self)}: {told} of {len(states)} doors"
        unread = sum("wrong" not in run_states(self, row) for row in self.rows if self.expected_states[row.key] == "wrong")
        return f"{counts}; {unread} of the {word_of('wrong')} by rounds that are {NOT_RUN}: the design's, nobody reads them." if (
            unread) else f"{counts}."  # fmt: skip

    @property
    def design_fails_said(self):
        """That the design fails before anybody has measured, the headline of sheet and steps then; "" where no door is expected to."""
        fails = [row for row in self.rows if self.expected_states[row.key] == "wrong"]
        when = "today" if self.day.typed else self.weather  # another one's count is another: another day's sheet differs
        also = next((f", exit {row.storey}" for row in fails if row.use == "final exit"), "")
        return f"Design, {when}, {counted_over(self)}: {len(fails)} of {len(self.rows)} fail{also}" if fails else ""

    @property
    def title(self):
        """Title of the sheet: for which weather its figures are."""
        return f"{self.site_name}: door by door, {'weather of the day' if self.day.typed else self.weather}"

    def left(self, key, measured):
        """Whether something is still to be measured at a door."""
        return any(getattr(measured, name) is None for name in self.row(key).asked)

    @property
    def lines(self):
        """Lines that must be filled in before the sheet can pass, in its order; the fields of `Day` as "day ..."."""
        day = [f"day {name}" for name in OF_THE_DAY if name != "stair_middle_c"]
        return (*BEFORE, *day, *(what for what, _ in self.fan_lines()), *(one.field for one in self.plant), *CLOSING)

    def missing(self, filled):
        """What is still to be filled in besides the doors, in words; filled: what stands in the fields, by name."""
        left = [line for line in self.lines if not is_filled(filled.get(line))]
        told = [OF_THE_DAY[line.removeprefix("day ")][0] + " on the day" if line.startswith("day ") else line for line in left]
        for number in range(1, DEFICIENCIES + 1):
            if is_filled(filled.get(f"deficiency {number}")) and not is_filled(filled.get(tested_again(number))):
                told.append(f"deficiency {number} is open")
        return tuple(told)

    def totals(self, states, missing, left=0, beside=()):
        """(state, words) of the whole sheet; states: by row ("" where nothing was measured), missing: of `missing`, left: at how many doors
        something is still to be measured, whatever else is said of them; beside: (state, words) of the plant's tests."""
        counts = {key: sum((state or "open") == key for state in states) for key in SEVERITIES}
        said = ", ".join(f"{counts[key]} {STATUSES[key].word}" for key in SEVERITIES) + f" of {len(self.rows)} doors"
        if left:
            said += f"; something is still to be measured at {left} of them"
        if missing:
            more = f"; and {len(missing) - MOST_NAMED} lines more" if len(missing) > MOST_NAMED else ""
            said += f". Still to be filled in: {'; '.join(missing[:MOST_NAMED])}{more}"
        said += "".join(f". {word_of(state)}: {words}" for state, words in beside if words)
        worst = {key: counts[key] or key in [state for state, _ in beside] for key in SEVERITIES}
        barred = [f"round {number}, {NOT_RUN} while {why}" for number, why in enumerate(self.against, 1) if why]
        said += "".join(f". {word_of('open')}, never {word_of('good')}: {one}" for one in barred)
        held, looked_at = worst["open"] or missing or left or barred, worst["attention"] or self.fails_elsewhere
        state = "wrong" if worst["wrong"] or self.first else "open" if held else "attention" if looked_at else "good"
        return state, f"{said}."


def acceptance_sheet(site, weather="winter", open_doors=None, open_exits=None, day=None, out_of_mode="", before_loop=None):
    """The sheet of a stair site in one of its weathers.

    open_doors, open_exits: levels of stair doors and final exits for the second round (default: those that the site's design takes as open
    at once, else two neighbours half way up and no exit); day: `Day`, the weather found on the day; out_of_mode: as of a `Design`, whose
    site is in its mode; before_loop: as of `AcceptanceSheet`. Returns `AcceptanceSheet`. Raises ValueError for a weather that is not there.
    """
    site, mode = in_its_mode(site)
    known_weather(site, weather)
    first, stated, day = comes_first(site, out_of_mode or mode), _stated_open(site), day or Day()
    if day.typed and day.lacking:
        raise ValueError(f"day must state all its temperatures or none; still to state: {', '.join(day.lacking)}")
    opened, open_exits = (tuple(usual if given is None else given) for given, usual in zip((open_doors, open_exits), stated, strict=True))
    tower, window, changes = Tower(site), pressure_window(site), day.changes(site, weather)
    shut, second = (Conditions.of(site, weather, *doors, **changes) for doors in (((), ()), (opened, tuple(open_exits))))
    both = Conditions.joined([shut, second])
    held, off = tower.hold(both), tower.solve(shut, 0.0)
    on, still = across_by_use(held.air), across_by_use(off)
    twice, settled, rows = twice_of(tower, weather), {} if day.typed else settled_of(tower, weather), []
    for use in USES.values():
        windows = {level: door for door in window.doors if door.use == use for level in door.levels}
        for level in sorted(windows):
            place = tower.storey(level)
            pressures = (float(on[use][0, place]), float(on[use][1, place]), float(still[use][0, place]))
            is_open = level in (open_exits if use == "final exit" else opened)
            speed = door_speed(tower, held.air, both, 1, level, use) if is_open else None
            later = twice.get((use, level), NEVER)
            later = replace(later, first_pa=None, again_pa=None) if day.typed else later
            row = row_of(site, window.criteria, windows[level], use, level, pressures, is_open, speed, later)
            minute, settled_pa = settled.get(level, (None, None)) if use == "stair door" and later.minute is None else (None, None)
            rows.append(replace(row, settled_minute=minute, settled_pa=settled_pa))
    starts_at = None if day.typed else first_minute_hz(tower, weather)  # the clock of the alarm runs in the first minute
    starts_at = float(held.air.speed_hz[0]) if starts_at is None else float(np.fmin(starts_at, ceiling_of(site).hz))
    plant = plant_tests(tower, window, shut, starts_at)
    sheet = AcceptanceSheet(
        site.title, weather, tuple(rows), tuple(opened), tuple(open_exits), tuple(map(str, held.state)),
        tuple(map(float, held.air.speed_hz)), window.criteria, day.said(site, weather), tuple(map(float, held.air.fan_flow_m3_s)),
        site.design is not None and (opened, tuple(open_exits)) == stated, day, made_for(changes),
        heaviest_after(tower, window, shut, held.air.speed_hz[1]), worst_jump(tower, opened, tuple(open_exits)),
        doors_at_worst(tower), plant, first, ceiling_of(site), before_loop, () if day.typed else fastest_of(tower, weather),
    )  # fmt: skip
    if sheet.hand_hz is not None:
        hand = across_by_use(tower.solve(shut, sheet.hand_hz))
        rows = [by_hand(site, row, float(hand[row.use][0, tower.storey(row.level)])) for row in rows]
    return replace(sheet, plant=tuple(barred_test(one, sheet) for one in plant), rows=tuple(rows))


def _stated_open(site):
    """Levels of stair doors and of final exits that stand open in the second round."""
    design = site.design
    if design is not None and (design.open_doors or design.open_exits):
        return tuple(design.open_doors), tuple(design.open_exits)
    return two_neighbours(site), ()


def _named(left):
    return ", ".join(map(FIELD_WORDS.get, left))
