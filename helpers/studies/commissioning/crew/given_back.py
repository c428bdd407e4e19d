"""What is written on a test day as proof: that everybody was told and the stair given back, each line by its words, not by its being
filled; who recorded it; which gauges read it, and until when each was calibrated.

A line that asks for a yes passes on a yes alone: no is not done, and what says neither is shown for somebody to ask. A stair of which
something is not laid down, or a door or a figure of the plant is past its limit or not measured to the end, is not left in AUTOMATIC on a
yes: somebody's decision has to be written, and what it left, in AUTOMATIC or in MANUAL, is CHECK.
"""

import re
from dataclasses import dataclass, replace

from helpers.studies.commissioning.crew.lines import BACK_IN, GAUGED, IN_ROUNDS, LEFT_UNPROVED, SHUTTING, ReportLine, numbers_said
from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL, OFF
from helpers.studies.commissioning.crew.times import LAST_PART, WATCH_TIMES, clocks_in, out_of_order, told_lines, watch_held
from helpers.studies.commissioning.hand_back import (
    ANSWERED,
    BEFORE,
    CEILING_BACK,
    CLOSING,
    COUNTED,
    DECIDED,
    FIRE_WATCH,
    IN_AUTOMATIC,
    LEFT,
    TIME,
    WORDED,
)
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.commissioning.steps.frame import AGAIN, NONE_LAID, PAIRS
from helpers.studies.commissioning.steps.not_run import NOT_RUN, by_the_record
from helpers.studies.commissioning.steps.plant import OPENS, RESEATS
from helpers.studies.report import listed
from helpers.studies.status import word_of, worst_of
from helpers.units.said import written_out

YES = ("yes", "y", "ok", "done")
NO = ("no", "not", "n", "none", "never", "nobody")
NOTHING = ("nothing", *NO)
DOUBT = (*NO, "but", "except", "later", "manual", "off", "without")  # after a yes: somebody has to ask
ASKS_YES = tuple(
    line for line in (*CLOSING, CEILING_BACK) if line not in WORDED
)  # the rest asks for figures, a decision, a time, a name or a certificate
ASKS_TIME = (*(line for line in BEFORE if line.endswith("time, name")), TIME)
HEAD = f"{YES[0]} or {NO[0]}; time, name"
HOW = (
    f"Told and given back: a line that says what was done begins with {YES[0]} or {NO[0]}, then time and name. Initials alone, or another "
    "word, prove nothing. How many went in and came out: two figures, '4 in, 4 out'."
)
PART, WITH_WHAT = "Told and given back", "Who recorded it, with which gauges"
AS_FOUND, AS_LEFT, AUTHORITY = "as found by", "as left by", "seen by the authority having jurisdiction"
WHO = (AS_FOUND, AS_LEFT, AUTHORITY)
AT_THE_PANEL = "at the alarm panel, from the first step to the last"
GAUGES = (*(f"{gauge}, {pair}" for pair in PAIRS for gauge in ("pressure gauge", "force gauge")), "flow by traverse", "anemometer",
          "thermometer", "motor current", "clock")  # fmt: skip
READ_PRESSURE, FORCES, FLOW, ANEMOMETER, THERMOMETER, CURRENT, CLOCK = (
    "pressure gauge", "force gauge", *GAUGES[-5:])  # fmt: skip
# The day's ceiling is of the site file's leaks; the day itself may say that a door bears less.
LOWER_AS_FOUND = (
    "it is of the site file: fit the day tonight (command fit), and a lower ceiling as found goes into the drive, the fire service told"
)
_HERTZ = re.compile(r"(\d+(?:\.\d+)?)\s*Hz\b", re.IGNORECASE)
NOT_USED = "not used"  # what is written of a gauge that nobody took along


def proof_said(line, text, unproved=(), decided=False, decision=""):
    """(status, words) of what stands in a line of BEFORE or CLOSING; text None where nothing does.

    unproved: what is not proved or not laid down, in words; decided: whether somebody's decision of it is written: then a fan that is left,
    in AUTOMATIC or not, is CHECK, never PASS, and FAIL where it is not left as the decision says; decision: its words. Limits: the first
    word says yes or no; a word of DOUBT or a question mark anywhere behind a yes makes it one to ask about.
    """
    if text is None:
        return "open", "still to fill in"
    words = re.findall(r"[^\W\d_]+", text.casefold())
    if line == COUNTED:
        return _counted(text)
    if line == DECIDED:
        none = bool(words) and words[0] in NOTHING
        return ("wrong", f"says {text!r}, and not proved: {listed(unproved)}") if none and unproved else ("good", "") if none else (
            "attention", "read what was decided, and until when its measures hold")  # fmt: skip
    if line == LEFT and decided and (against := _against(decision, words)):
        return "wrong", against
    if line == LEFT and decided and words and words[0] in (*NO, *YES):
        how = "left as it was decided, and not in AUTOMATIC" if words[0] in NO else "left in AUTOMATIC by decision"
        return "attention", "; ".join(filter(None, (how, f"not proved: {listed(unproved)}" if unproved else "")))
    if line == CEILING_BACK and words and words[0] in (*NO, *YES):
        return _ceiling_left(text, words[0] in YES, unproved, decided, decision)
    if words and words[0] in NO:
        return "wrong", f"not done: {text!r}"
    if line in ASKS_YES and (not words or words[0] not in YES):
        return "attention", f"says neither {YES[0]} nor {NO[0]}: {text!r}"
    if line in ASKS_TIME and not re.search(r"\d", text):
        return "attention", f"no time in it: {text!r}"
    if line == FIRE_WATCH and len(clocks_in(text)) < WATCH_TIMES:
        return "attention", f"no two times in it, from and to: {text!r}"
    if "?" in text or set(words) & set(DOUBT):
        return "attention", f"ask what is meant: {text!r}"
    if line == LEFT and unproved:
        return "wrong", f"{LEFT_UNPROVED}: {listed(unproved)}; nobody's decision is written"
    return "good", ""


def _ceiling_left(text, out, unproved, decided, decision):
    """(status, words) of the day's ceiling, out of the drive or left in it, with what is not proved, in words: nothing goes above it over
    that but by a written decision that names the speed."""
    if "?" in text or not _HERTZ.search(text):
        return "attention", f"which highest speed, in Hz, is in the drive now? {text!r}"
    if out and unproved:
        what = f"the day's ceiling is out of the drive, and not proved: {listed(unproved)}"
        named = set(map(float, _HERTZ.findall(decision)))
        if decided and named & set(map(float, _HERTZ.findall(text))):
            return "attention", f"{what}; the written decision names this speed: read it"
        names = "the written decision does not name this speed" if decided else "no written decision names this speed"
        return "wrong", f"{what}; {names}: {BACK_IN}"
    if out:
        return "good", ""
    stays = f"the day's ceiling is still in the drive: the fan gives no more, in a fire too; {LOWER_AS_FOUND}"
    if unproved:
        return ("attention", f"{stays}; by decision") if decided else ("open", f"{stays}; a decision of the speed is still to be written")
    return "wrong", f"{stays}, and nothing is unproved: the speed that stood there back in"


def _against(decision, words):
    """That a fan is not left as the decision says, in words; "" where the two agree, or one of them says nothing of it."""
    says = decision.casefold()
    otherwise = re.search(r"\b(not|no|never|nobody)\b[^.;,]*\bautomatic\b", says)
    automatic = "automatic" in says and not otherwise
    other = next((state for state in (MANUAL, OFF) if re.search(rf"\b{state.casefold()}\b", says)), "not in AUTOMATIC" * bool(otherwise))
    if words and words[0] in NO and automatic and not other:
        return f"the decision says {AUTOMATIC}, this line says {words[0]}: go and look how the fan is left"
    if words and words[0] in YES and other and not automatic:
        return f"the decision says {other}, this line says {words[0]}: go and look how the fan is left"
    return ""


def _counted(text):
    """(status, words) of how many overrides went in, and how many came out."""
    counts = re.findall(r"(?<![\d:])\d+(?![\d:])", text)
    if len(counts) != 2:
        return "attention", f"must be two counts, such as '4 in, 4 out': {text!r}"
    if int(counts[0]) != int(counts[1]):
        return "wrong", f"{counts[0]} went in, {counts[1]} came out: look for the rest before the fan is left in AUTOMATIC"
    return "good", ""


def _unproved(found):
    """Steps of a day of which nothing is laid down, or which came out otherwise, in words; none where there is none."""
    numbers = []
    for step in found.procedure.steps:
        seen = found.filled.value("steps", step.number, "done")
        barred = step.against and (step.loop or not step.judged)  # what else is barred has lines of its own, which are not measured
        if barred or step.limit == NONE_LAID or (seen == SEEN[1] and step.part != LAST_PART):
            numbers.append(step.number)
    if numbers:
        yield f"step{'s' * (len(numbers) > 1)} {numbers_said(numbers)}"


def _not_proved(lines):
    """Lines of a report that a stair is not proved by, in words: past a limit, or not measured to the end."""
    for names, what in (
        ([line.device for line in lines if line.state == "wrong"], word_of("wrong")),
        ([line.device for line in lines if line.state != "wrong" and (line.state == "open" or line.left)], "not measured to the end"),
    ):
        if names:
            yield f"{names[0]}{f' and {len(names) - 1} more' if len(names) > 1 else ''} ({what})"


def given_back_lines(found, measured=()):
    """A `ReportLine` of every line that was to be filled in, as it was filled in; measured: lines of doors, rounds, air and plant, none of
    which is proved while it is FAIL or not measured: the fan is not left in AUTOMATIC on it without a written decision."""
    unproved = (*_unproved(found), *_not_proved(measured))
    decision = found.filled.value("told", DECIDED, "given")
    decided = decision is not None and proof_said(DECIDED, decision, unproved)[0] == "attention"
    order = out_of_order(found)
    for line in told_lines(found):
        text = found.filled.value("told", line, "given")
        state, words = proof_said(line, text, unproved, decided, decision or "")
        if found.procedure.first and line in (IN_AUTOMATIC, ANSWERED) and state in ("wrong", "good"):
            state, words = _by_the_loop(state, found.procedure.first, decided)
        if line == FIRE_WATCH:
            held = watch_held(found)
            state, words = worst_of((state, held[0])), "; ".join(filter(None, (words, held[1])))
        if line in order:
            state, words = worst_of((state, "attention")), "; ".join(filter(None, (words, order[line])))
        yield ReportLine(PART, line, measured=text or "", state=state, words=words)


def _by_the_loop(state, first, decided):
    """(status, words) of a line that runs the loop while the record fails: no is as it must be, and no PASS."""
    why = f"{NOT_RUN} while {by_the_record(first)}"
    if state == "wrong":
        return "open", why
    return ("attention", f"done, though {why}: read the written decision") if decided else ("wrong", f"done, though {why}; nobody's "
                                                                                          "decision is written")  # fmt: skip


def recorded_lines(found):
    """A `ReportLine` of every gauge, in date on the day or not, and of everybody who recorded as found and as left."""
    day = found.filled.value("day", "date", "found")
    for name in GAUGES:
        instrument, serial, until = (found.filled.value("gauges", name, column) for column in ("instrument", "serial", "until"))
        left = [what for what, value in (("instrument", instrument), ("serial number", serial), ("calibrated until", until))
                if value is None]  # fmt: skip
        state, words = ("open", f"still to fill in: {', '.join(left)}") if left else ("good", "")
        if (instrument or "").casefold().strip() == NOT_USED:
            state, words = "good", NOT_USED
        elif until is not None and day is not None and until < day:  # dates as year-month-day sort as they follow
            state, words = "wrong", f"calibrated until {until}, the test is of {day}: what it read proves nothing"
        elif until is not None and day is None:
            state, words = "open", "; ".join(filter(None, (words, "the date of the test is still to fill in")))
        yield ReportLine(WITH_WHAT, name, serial or "", instrument or "", "", f"calibrated until {until}" if until else "",
                         "calibrated until the day of the test, or beyond", state, words)  # fmt: skip
    for line in (*WHO, *kept_by(found.procedure)):
        name = found.filled.value("people", line, "name")
        state, words = ("open", "still to fill in") if name is None else ("good", "")
        yield ReportLine(WITH_WHAT, line, measured=name or "", state=state, words=words)


def kept_by(procedure):
    """Lines of a `Procedure` with the names of who watches the alarm panel and of those who relieve: all named before the start."""
    return (AT_THE_PANEL, *(f"relieves the {who}" for who in procedure.relieved()))


def out_of_date(found):
    """Names of the gauges that were past their date on the day."""
    day = found.filled.value("day", "date", "found")
    for_one = ((name, *(found.filled.value("gauges", name, column) for column in ("instrument", "until"))) for name in GAUGES)
    return tuple(name for name, instrument, until in for_one
                 if None not in (until, day) and until < day and (instrument or "").casefold().strip() != NOT_USED)  # fmt: skip


@dataclass(frozen=True)
class OutOfDate:
    """What the gauges past their date may have read: names: of `out_of_date`; levels: {device of a line without what follows: its storey};
    upper_from: storey from which on the upper pair reads, None where one gauge read all; read: {label of a round: storeys read in it}."""

    names: tuple
    levels: dict
    upper_from: int | None
    read: dict

    def doubted(self, line):
        """A line of the report with CHECK at least where one of these gauges read it; what nobody read stays as it is."""
        names = [name for name in self.names if _may_have_read(name.partition(",")[0], line) and self._of_pair(name, self._level(line))]
        if not names:
            return line
        words = f"may be read with a gauge past its date: {listed(names)}"
        return replace(line, state=worst_of((line.state, "attention")) if line.state else "",
                       words="; ".join(filter(None, (line.words, words))))  # fmt: skip

    def doubts_round(self, label):
        """Whether one of these gauges read a pressure of a round."""
        return any(self._of_pair(name, level) for name in self.names if READ_PRESSURE in name for level in self.read.get(label, ()))

    def _level(self, line):
        names = [name for name in self.levels if f"{line.device},".startswith(f"{name},")]
        return self.levels[max(names, key=len)] if names else None

    def _of_pair(self, name, level):
        """Whether a gauge is of the pair that reads a storey: at the storey where the two meet, and where none is named, of either."""
        if None in (level, self.upper_from) or level == self.upper_from:
            return True
        return not name.endswith(PAIRS) or name.endswith(PAIRS[level > self.upper_from])


def gauges_doubted(found, levels):
    """`OutOfDate` of a `DayFound`; levels: as its field."""
    storeys, read = [storey.level for storey in found.procedure.rounds.site.storeys], {}
    for table, line, column in found.filled.readings:
        if table in ("pressures", "again") and column not in ("minutes", "later_minutes", "remark"):
            read.setdefault(column if table == "pressures" else AGAIN, set()).add(
                line[1] if table == "pressures" else found.procedure.rounds.sheet.row(line).level)  # fmt: skip
    given = found.filled.value("day", "upper_pair_from", "found")
    upper = storeys[len(storeys) // 2] if given is None else int(given)
    one = str(found.filled.value("day", "pressure_gauges", "found") or "2") == "1"
    return OutOfDate(out_of_date(found), levels, None if one else upper, read)


_SHOWS = {READ_PRESSURE: re.compile(r"\d Pa\b"), FORCES: re.compile(r"\d N\b")}


def _may_have_read(gauge, line):
    """Whether a kind of gauge read something of what stands in a line."""
    fan, pressures = line.device == IN_ROUNDS, line.part in ("Doors", SHUTTING, GAUGED, "Rounds") or line.device in (OPENS, RESEATS)
    reads = {READ_PRESSURE: pressures and not fan, FORCES: line.part in ("Doors", GAUGED), FLOW: fan, CURRENT: fan,
             ANEMOMETER: line.part in ("Air through open doors", "Weather"), THERMOMETER: line.part == "Weather",
             CLOCK: line.part == "Clock and plant"}[gauge]  # fmt: skip
    shows = _SHOWS.get(gauge) if line.part in ("Doors", SHUTTING) else None
    return bool(reads and line.measured and (shows is None or shows.search(written_out(line.measured, "Pa"))))


def signatures(found):
    """Labels of the signatures of a day, each with the name that was filled in."""
    for line in WHO:
        name = found.filled.value("people", line, "name")
        yield f"{line[0].upper()}{line[1:]}{f': {name}' if name else ', name and date'}"


def left_in_manual(step, note):
    """That the note of a step says MANUAL where the step must leave the fan in AUTOMATIC, in words; "" where it does not."""
    if step.leaves != AUTOMATIC or MANUAL.casefold() not in (note or "").casefold():
        return ""
    return f"the note says {MANUAL}, and the step must leave the fan in {AUTOMATIC}: go and look"
