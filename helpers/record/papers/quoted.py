"""What the record of a design holds, looked up for a paper by its own names: a paper quotes, and never states a value of its own.

Where the record fails a value or has not laid it down, its words stand in the value's place.
"""

import re
from dataclasses import replace
from functools import cached_property

from helpers.model.files import texts
from helpers.model.site.tolerances import left_open
from helpers.record.board import board_of, state_of
from helpers.record.damper import RESTING, one_damper
from helpers.record.papers.beyond import stated
from helpers.record.papers.beyond.answered import CHECK_LIST, who_answered, with_answers, with_answers_beside
from helpers.record.papers.beyond.site_has import site_has
from helpers.record.sections.signed import design_schedule
from helpers.record.settings.schedule import NOT_STATED
from helpers.record.standing import ACTION, CHOSEN, FAN, NOT_LAID_DOWN, SET_POINT, STANDARD
from helpers.studies.commissioning.hand_back import QUOTED
from helpers.studies.duty.override_speed import override_speed
from helpers.studies.report import Setting, Table, listed
from helpers.studies.status import word_of, worst_of

_NAMED = re.compile(r"\{([^/{}]+)/([^{}]+)\}")
COMBINED = "combining", "which reading runs the loop"  # a line that a schedule of one transmitter does not need
DIFFER = "failure", "alarm on difference of any two readings"
LIMITS, FAILED = ("failure", "alarm limits"), ("failure", "on a failed reading")
INSTEAD = {  # lines that the record leaves out where another says it
    ("failure", "two readings that disagree"): (DIFFER, LIMITS), DIFFER: (LIMITS,),
    ("failure", "every reading failed"): (("failure", "fallback speed"), FAILED), ("failure", "fallback speed"): (FAILED,),
}  # fmt: skip
HIGHEST = "fan", "highest speed in smoke control"
ASKED = ("Flow asked of the fan", "Fan pressure asked", "The same on a catalogue curve", "Shaft power asked")
STATED = ("Maximum shaft power", "Motor")  # of the fan stated
DOORS_BEAR = "fan", "Highest speed at which no door passes its limit"
TRIED_WITH = ("Lag in the box", "Delay in the box", "Delay tolerated")  # of the tuning: no settings
TRIED_IN_TUNING = ("filter time", "lag of the transmitter", "damping at the transmitter's dial")  # of a transmitter: they stand with one
NO_TUNING = "no tuning is laid down that it was tried with; see the loop's gain"
WOULD_BE, NOT_HELD = "indicative, not laid down", "cases are not held at any speed"
NOT_COMPUTED = "(not computed: no pressure suits the doors)"
NO_LINE, NO_FIGURE = "the settings schedule of this site has no such line", "the record of this site has no such figure"
AS_TOLD = "an answer kept as told, judged by nobody"
IN_BOUNDS = "inside its bounds on the model, an answer that nobody else has judged"
SAID = "said"  # group of what people do in a fire: no line of the schedule
BEYOND = "beyond", "final exit open"  # no figure of a section: what stands at the head of every paper
IN_DESIGN, NO_EXIT = "The design counts a final exit as open.", "The stair has no final exit."
FILE_WORST = "beyond", "least room in the file's weathers"  # the same
READY = "beyond", "drive ready"  # the same of a drive whose power is back
FIXED = "beyond", "fixed speed"  # the same of the override, on one line
AGREE = "to be agreed with the fire service"  # as the schedule begins that line
OVERRIDE = "fan", "speed of the override"
SPEEDS_ASKED = "/".join(OVERRIDE), "fan.smoke_highest_speed", "until a fallback"  # questions whose answer is a speed with bounds
_HERTZ = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:hz|hertz)\b", re.IGNORECASE)
NO_SPEED = "no speed in hertz was read out of it: held against no bound"
SETTLED_FIRST = "after what fails is settled"
UNSETTLED = "it hangs on what is not settled yet: see the record's summary"


def _reason(why, word):
    """What follows a mark in the reason of a line, to the end of its clause; else that of cases not held, else the first."""
    clauses = (why.partition(f"{word}: ")[2] or why).split("; ")
    return next((one for one in clauses if NOT_HELD in one and f"{word}: " not in why), clauses[0]).rstrip(".")


class Quoted:
    """The lines of a `Design`'s record: of its settings schedule, its sections and its board, for any system of units.

    answers: `AnswersFile` of the enquiry list, or None. Raises ValueError for a stair whose doors suit no pressure: of that
    one the record lays nothing down.
    """

    asks_first_alone = False  # whether the list asks for what may mend the doors, and holds the rest
    enquiry_words, no_line = "enquiry", (NOT_STATED, NO_LINE)

    def __init__(self, design, answers=None):
        if not design.standing.window.feasible:
            said = "no pressure suits the doors of this stair; they must change first, see the pressure window of its record"
            raise ValueError(f"no paper is written of {design.site.name}: {said}")
        self.design, self.site, self.answers = design, design.built, answers

    @property
    def _all_lines(self):
        return design_schedule(self.design)

    @cached_property
    def _settings(self):
        return {(line.group, line.name): line for line in self._all_lines}

    def left_open(self):
        """(key, sentence) of what the site file leaves out, and what is taken in its place."""
        return left_open(self.design.site)

    @cached_property
    def _board(self):
        board = board_of(self.design)
        return {line.what: line for line in (*board.buy, *board.set, *board.check)}

    @cached_property
    def _given(self):
        """{key of a question, or line of the schedule that it covers: its `GivenAnswer`}."""
        given = {} if self.answers is None else self.answers.by_question()
        asked = [one for one in texts(self.enquiry_words)["questions"] if one["key"] in given]
        return {line: given[one["key"]] for one in asked for line in one.get("covers", ())} | given

    def has_answer(self, key):
        """Whether the question of the enquiry list with that key has an answer."""
        return key in self._given

    def with_answers(self, text):
        """A text that sends to questions of the enquiry list, with the answers in place of the words that send there."""
        return with_answers(text, self.enquiry_words, self._given, lambda key: self.answer_judged(key)[0])

    @cached_property
    def fixed_speed(self):
        """`OverrideSpeed`: the bounds of a speed that no loop gives."""
        return override_speed(self.design.tower, self.design.standing.window, self.design.duty.full)

    def answer_judged(self, key):
        """(an answer in words, key of its status) of the question with that key: one that is a speed is held against its bounds, and with
        no speed to be read in it says so; others are judged by nobody ("")."""
        answer = self._given[key]
        if key not in SPEEDS_ASKED:
            return answer.answer, ""
        speeds = [float(speed.replace(",", ".")) for speed in _HERTZ.findall(answer.answer)]
        if not speeds:
            return f"{answer.answer} ({word_of('attention')}: {NO_SPEED})", "attention"
        judged = [(speed, *self.fixed_speed.judged(speed)) for speed in speeds]
        state = worst_of(key for *_, key in judged)
        if state == "good":
            return answer.answer, state
        against = "; ".join(f"{speed:g} Hz: {said.removeprefix(f'{word_of(state)}: ')}" for speed, said, key in judged if key == state)
        if state == "wrong":
            return f"{word_of(state)}: {answer.answer.rstrip('.')} is answered; {against}", state
        return f"{answer.answer.rstrip('.')} (beside it, by the record, {word_of(state)}: {against})", state

    @property
    def exit_left_out(self):
        """What the head of every paper says of a final exit that the design leaves out, and who has answered whether it may; "" else."""
        told, answer = stated.final_exit_open(self.design), self._given.get(BEYOND[1])
        return told if answer is None or not told else f"{told.replace(stated.UNANSWERED, '')} {stated.counts_as_answered(answer)}"

    @property
    def lines(self):
        """All lines of the settings schedule."""
        return tuple(self._settings.values())

    def why(self, place):
        """Why a line of the schedule, "group/name", has its value."""
        return self.setting(*place.split("/", 1)).why

    def settings(self, group):
        """All lines of a group of the settings schedule."""
        return tuple(line for (of, _), line in self._settings.items() if of == group)

    def setting(self, group, name):
        """As `stated`; in place of one that is open the answer to its question in the enquiry list, where there is one."""
        line, answer = self.stated(group, name), self._given.get(f"{group}/{name}")
        if answer is None or state_of(line) != "open":
            return line
        if (group, name) != OVERRIDE:
            value, why = f"{answer.answer.rstrip('.')}, {who_answered(answer)}", f"{word_of('attention')}: {AS_TOLD}; {line.why}"
            return replace(line, value=value, why=why)
        told, state = self.answer_judged("/".join(OVERRIDE))
        judged = IN_BOUNDS if state != "wrong" and NO_SPEED not in told else AS_TOLD
        why = f"{word_of('attention')}: {judged}; {line.why}"
        return replace(
            line, value=f"{told}, {who_answered(answer)}; bounds: {self.fixed_speed.said}", why=line.why if state == "wrong" else why
        )

    def stated(self, group, name):
        """A line of the settings schedule, or the one that stands in its place where the record has no such line; one that says "not
        stated" where the schedule has neither."""
        if (group, name) == COMBINED and len(self.site.transmitters) == 1:
            return Setting(group, name, "the only reading", "there is one transmitter")
        found = (self._settings.get(place) for place in ((group, name), *INSTEAD.get((group, name), ())))
        line = next(filter(None, found), Setting(group, name, NOT_STATED, NO_LINE))
        if name in TRIED_IN_TUNING and group in (tap.name for tap in self.site.transmitters) and state_of(line) in ("good", "attention"):
            gain = self._settings.get(("loop", "gain"))
            no_tuning = gain is None or state_of(gain) in ("open", "wrong")
            return replace(line, why=f"{word_of('attention')}: {NO_TUNING}") if no_tuning else line
        if group == "fan" and name in stated.SECOND_SHAFT and self.design.standing.window.feasible:
            return stated.judged_line(self, line)
        if (group, name) == OVERRIDE and line.value.startswith(AGREE) and self.design.duty.full.limited:
            return replace(line, value=f"{AGREE}: {self.fixed_speed.said}")  # both its ends, and not the upper one alone
        return line

    def row(self, group, name, label="", first=""):
        """(cells, status) of a line of the schedule: what, value, why; label: what it is called on the paper, if not by its name; first: as
        in `figure`. What is only stated is judged by nobody, and no PASS."""
        line, called = self.setting(group, name), label or name
        if first:
            line = replace(line, value=f"{first}; the site file has {line.value}", why=UNSETTLED)
        state = "attention" if NOT_HELD in line.why and state_of(line) == "good" else state_of(line)
        return (f"{called[0].upper()}{called[1:]}", line.value, line.why), "" if state == "good" else state

    def rows(self, key, title, group, names):
        """Lines of the schedule as a table of a paper."""
        cells, states = zip(*(self.row(group, name) for name in names), strict=True)
        return Table(key, title, ("What", "As the record has it", "Why"), cells, states)

    def filled(self, thing, tap=None):
        """Words of data/texts/papers.toml (texts, in lists and mappings) with the values of the schedule's lines that they name.

        {group/name}: of that line; {tap/name}: of the transmitter given; {each/name}: of every transmitter, with its name;
        {=section/label}: of a figure of a section; {said/key}: what people do in a fire, of that list in the same file, and of QUOTED.
        """
        if isinstance(thing, dict):
            return {key: self.filled(value, tap) for key, value in thing.items()}
        if isinstance(thing, list):
            return tuple(self.filled(one, tap) for one in thing)
        return _NAMED.sub(lambda found: self._named(*found.groups(), tap), thing) if isinstance(thing, str) else thing

    def lines_for(self, entries):
        """Lines of a file of words, filled in, of which one may hold only for some sites: a mapping with `only` and `line`."""
        there = (one["line"] if isinstance(one, dict) else one for one in entries if not isinstance(one, dict) or self.has(one))
        return self.filled(list(there))

    def lines_named(self, thing):
        """(group, name) of the lines of the schedule that words name, a line of each transmitter for each of them."""
        if isinstance(thing, dict | list):
            for one in thing.values() if isinstance(thing, dict) else thing:
                yield from self.lines_named(one)
        named = _NAMED.findall(thing) if isinstance(thing, str) else ()
        for group, name in (one for one in named if one[0] != SAID):
            yield from ((tap.name, name) for tap in self.site.transmitters) if group == "each" else ((group, name),)

    def _named(self, group, name, tap):
        if group == SAID:
            return (texts("papers")[SAID] | QUOTED)[name]
        if group.startswith("="):
            return self.figure(group[1:], name)[0][1]
        if group == "each":
            return listed(f"{one.name} {self.marked(one.name, name)}" for one in self.site.transmitters)
        return self.marked(tap.name if group == "tap" else group, name)

    def marked(self, group, name):
        """The value of a line of the schedule, with FAIL or CHECK beside it where its reason alone says so."""
        line, state = self.setting(group, name), self.row(group, name)[1]
        word = word_of(state) if state in ("wrong", "attention") else ""
        return line.value if not word or word in line.value else f"{line.value} ({word}: {_reason(line.why, word)})"

    def has(self, words):
        """Whether this site has what an entry of that file is `only` for, one thing or several; an entry for a stair whose doors suit no
        pressure alone (`refused = "alone"`) it has not."""
        asked = words.get("only", [])
        return words.get("refused") != "alone" and all(map(self._is_there, [asked] if isinstance(asked, str) else asked))

    def _is_there(self, one):
        """The same of one thing; "answer: key" and "no answer: key": whether that question of the enquiry list is answered."""
        asked, answer, key = one.rpartition("answer: ")
        return (key in self._given) != (asked == "no ") if answer else self._there[one]

    @cached_property
    def _there(self):
        """{what a site may have: whether this one has it}: asked by some hundred entries of the papers."""
        return site_has(self, FAILED, DIFFER)

    def decided(self, what, label=""):
        """(cells, status) of a line of the record's board, such as "Fan"; nothing is bought or kept, and so none is PASS, while the record
        fails something."""
        line = self._board.get(what)
        if line is None:
            return (label or what, NOT_STATED, "the site file has none"), "open"
        fails, state = word_of("wrong"), line.status
        value = f"{fails}: {line.value}" if state == "wrong" else line.value
        if what == "Relief damper" and state == "wrong" and one_damper(self.design):
            value = f"stated: {fails}; needed: {line.value}"
        settled = [one for one in (self.setting(*HIGHEST), self.setting(*RESTING)) if state_of(one) == "wrong"]
        if what == "Fan" and state == "good" and settled:
            state = "attention"
            value = f"{word_of(state)}: {value}, after {listed(one.name for one in settled)} are settled"
        cells, state = stated.fan_beside_exit(self.design, what, (label or what, value, line.why), state, self.has_answer(BEYOND[1]))
        if state != "good" or not self.design.record().fails:
            return cells, state
        return (cells[0], f"{word_of('attention')}, {SETTLED_FIRST}: {cells[1]}", *cells[2:]), "attention"  # nothing is bought before that

    def figure(self, key, label, first=""):
        """(cells, status) of a figure of a section, of one that says "not stated" where the section has none; first: what has to be settled
        before anybody may go by it, in words."""
        if (key, label) == FIXED:
            line = self.setting(*OVERRIDE)
            told = {"open": "to be agreed", "wrong": "not set yet"}.get(state_of(line), line.value.partition("; bounds: ")[0])
            return (label, f"{told}: {self.fixed_speed.brief}", line.why), state_of(line)
        if (key, label) == READY:
            return (label, stated.drive_ready(self.site), "tried by nobody"), ""
        if (key, label) == FILE_WORST:
            return (label, stated.file_worst_said(self.design), "tried in the record's cases"), ""
        if label in stated.STRATEGY:
            return stated.strategy_stated(self.site, label)
        if (key, label) == BEYOND:
            told = self.exit_left_out
            without = IN_DESIGN if stated.has_exit(self.design.site) else NO_EXIT
            open_ = stated.exit_undecided(self.design, self.has_answer(label))
            state = "open" if open_ else "attention" if told else ""
            return (label, told or without, "tried in the record's cases"), state
        value = next((one for one in self.design.section(key).figures if one.label == label), None)
        if value is None:
            return (label, NOT_STATED, NO_FIGURE), "open"
        if first:
            return (label, first, UNSETTLED), "open"
        why = "; ".join(filter(None, (value.reason, value.source)))
        if (key, label) == DOORS_BEAR:
            told, state = self.doors_bear
            return (label, told, why), state
        late = self._late(key, label, value.value)
        text = f"{word_of('wrong')}: {value.text}" if late else value.text
        if would := self.would_be(key, label):
            return (label, f"{text} ({WOULD_BE}: {would})", why), "wrong" if late else "open"
        if late:
            return (label, text, why), "wrong"
        return (label, value.text, why), next((key for key in ("wrong", "attention") if f"{word_of(key)}: " in value.reason), "")

    def _late(self, key, label, seconds):
        """Whether a recovery after a door is past what the site's own standard asks for: FAIL, laid down or not, as its finding is."""
        asked = self.design.window.criteria.response_s
        recovers = key == "tuning" and label.startswith(("Door opens, the proposed", "Door shuts, the proposed"))
        return recovers and asked is not None and not (seconds is not None and seconds <= asked)

    def would_be(self, key, label=""):
        """Why a figure of a section, or what its tables lay down, is indicative alone, in words; "" where it is laid down."""
        if key == "fan":
            return (self.no_fan_to_buy if label in ASKED else self.no_stated_fan if label in STATED else "").removeprefix(NOT_LAID_DOWN)
        hangs = key in ("failure", "tuning") and label not in TRIED_WITH
        return self.design.standing.first(SET_POINT, ACTION, FAN).removeprefix(NOT_LAID_DOWN) if hangs else ""

    @cached_property
    def doors_bear(self):
        """(words, status) of the speeds up to which the doors are within their limits and final exits close, the lowest first, each with
        what it was found with; what the record has against the highest speed in smoke control beside them."""
        full, closes = self.design.duty.full, "a final exit, once opened, closes again"
        stuck = "with the relief damper stuck shut"
        found = [
            (full.stuck_hz, full.safe_hz, f"no door passes its limit {stuck}"),
            (full.stuck_closing_hz, full.closes_hz, f"{closes} {stuck}"),
            (full.box_closing_hz, full.closing_hz, f"{closes} with walls x {full.box_walls:.2f}"),
            (full.closing_hz, full.full_hz, closes),
            (
                full.safe_hz,
                float("inf"),
                f"no door passes its limit{f', at a fixed speed, walls x {full.safe_walls:.2f}' * bool(full.safe_door)}",
            ),
        ]
        ends = sorted((-1.0 if hz != hz else float(hz), why) for hz, other, why in found if hz is not None and not hz >= other)
        told = [f"{'at no speed of this drive' if hz < 0 else f'up to {hz:.1f} Hz'} {why}" for hz, why in ends]
        line = self.setting(*HIGHEST)
        state = state_of(line)
        fails = [f"highest speed in smoke control, {self.marked(*HIGHEST)}"] if state in ("wrong", "attention") else []
        return "; ".join((*told, *fails)), "" if state == "good" else state

    def table(self, section, key):
        """A table of a section by its key; None where the section has none of that key. The check list of fan and drive has its answers."""
        table = next((one for one in self.design.section(section).tables if one.key == key), None)
        return with_answers_beside(table, self.has_answer) if (section, key) == CHECK_LIST else table

    @property
    def no_fan_to_buy(self):
        """Why no figure of a fan may be ordered by, in words; "" where the record has a fan to buy or keep."""
        first = self.design.standing.first(STANDARD, SET_POINT)
        return first or (self.decided("Fan")[0][1] if self.design.duty.fan_open else "")

    @property
    def no_stated_fan(self):
        """Why what holds for the stated fan alone may not be ordered by, in words; "" where that fan is kept."""
        return self.design.standing.first(STANDARD, SET_POINT, CHOSEN)


class RefusedQuoted(Quoted):
    """The lines of the record of a `Design` whose doors suit no pressure: building, window, sources, and a schedule that lays nothing down.

    answers: `AnswersFile` of the enquiry list, or None. Limits: nothing that asks for the air of the stair is computed.
    """

    asks_first_alone = True

    def __init__(self, design, answers=None):
        self.design, self.site, self.answers = design, design.site, answers

    def has(self, words):
        """As of any stair; of the headings of the analysis those alone that hold without any air."""
        if words.get("refused") is None and ("title" in words or "asks" in words):
            return False
        return super().has({name: value for name, value in words.items() if name != "refused"})

    def figure(self, key, label, first=""):
        """As of any stair; what hangs on its air was not computed."""
        if (key, label) == FIXED:
            return (label, NOT_COMPUTED, ""), "open"
        cells, state = super().figure(key, label, first)
        return ((label, NOT_COMPUTED, cells[2]), state) if cells[1] == NOT_STATED else (cells, state)

    def answer_judged(self, key):
        """An answer as it was told: without a pressure there are no bounds of a speed to hold it against."""
        return self._given[key].answer, ""
