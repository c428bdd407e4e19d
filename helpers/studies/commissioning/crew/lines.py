"""One line of a test day's report and its columns; which of the lines that are FAIL comes first, and what the headline says of it."""

from dataclasses import dataclass, replace

from helpers.studies.commissioning.hand_back import ALARM_DECISION, BEFORE, CEILING_BACK, CLOSING, COUNTED, FIRE_WATCH, LEFT, READY
from helpers.studies.commissioning.steps.frame import ENTERED
from helpers.studies.commissioning.steps.not_run import NOT_RUN
from helpers.studies.commissioning.steps.plant import OPENS, RESEATS
from helpers.studies.report import listed, passed
from helpers.studies.status import STATUSES, word_of, worst_of
from helpers.units.said import with_unit

COLUMNS = ("Device", "Tag", "Nameplate", "Design", "Measured", "Limit", "What is said", "Deficiency", "Tested again")
# Parts of a report in the order in which what is FAIL in them is named: doors first, papers last.
SHUTTING, GAUGED = "Shuts and latches against the pressure", "Force against gauge"
ORDER = (SHUTTING, "Doors", "Rounds", "Air through open doors", "Clock and plant", "Weather", GAUGED, "Devices", "Steps")
AGREES = "AGREES"  # two readings of one leaf: that they agree says nothing of whether either is inside its limits, so it is no PASS
COARSE = "too coarse to tell"  # of two readings whose errors are wider than what they could show: neither AGREES nor off
ALONE = "by one of several people's readings"  # not by their mean
NAMED, FIRST = 6, 3  # lines that are FAIL, named one by one under the headline; lines not measured yet that are named of each part
MEND = "Do: list each as a deficiency, mend it, and test it again"
# What is done before anything is listed: a fan that is left to run at a speed at which a door may not open, over a day that proves nothing.
LEFT_UNPROVED, BACK_IN = "left in AUTOMATIC, and not proved", "the ceiling back in"
WATCHED = ("somebody watches the stair", "the fire service told that it is not protected")
CEILING_IN = "the day's ceiling back into the drive"
OUT_OF_AUTOMATIC = (CEILING_IN, "the fan out of AUTOMATIC", *WATCHED)
LISTED = "then list each as a deficiency"
NOW = f"Now: {', '.join(OUT_OF_AUTOMATIC)}; {LISTED}"
IN_ROUNDS, ABOVE_CEILING = "fan, in the rounds", "above the day's ceiling"
# What endangers somebody tonight, the gravest first, each with its words for the headline and what is done at once, deed by deed. Ours, on
# the safe side.
DANGERS = {
    LEFT_UNPROVED: ("Fan left in AUTOMATIC, and not proved", OUT_OF_AUTOMATIC),
    BACK_IN: ("The day's ceiling is out of the drive", OUT_OF_AUTOMATIC),
    READY: ("Isolator open, or a lock still on", (*WATCHED, "every hand out of fan and blade, then the lock off by whoever put it on",
            "the isolator seen closed")),
    LEFT: ("Fan not left as it must be", (*WATCHED, "how the fan is left decided in writing")),
    ENTERED: ("The drive may pass the day's ceiling", (CEILING_IN, "the drive's highest speed read back")),
    ABOVE_CEILING: ("A round was read above the day's ceiling", (CEILING_IN, "the drive's highest speed read back")),
    FIRE_WATCH: ("The fire watch is too short", ("a fire watch until the stair is given back", "the fire service told of the hours without "
                 "one")),
    COUNTED: ("An override or a test plug still in", ("what is still in looked for before the fan runs",)),
    CLOSING: ("Not given back as it must be", WATCHED),
    ALARM_DECISION: ("No written decision on a real alarm", ("no test before that decision is there in writing",)),
    BEFORE: ("Not everybody was told", ("those told who were not",)),
}  # fmt: skip
TUBES = "look at the tubes: which side is high?"
TURN = "Do: the tubes the right way round, then read again"
ASKED_FOR = (*BEFORE, *CLOSING, CEILING_BACK)  # lines of the sheets with the words of what is asked for behind their name
# What is wrong with a door, the gravest first (who cannot get out comes before smoke; ours), and where to look.
HEAVY, AJAR, SHORT = "too heavy", "stays ajar", "too little"
LOOK = {
    HEAVY: "closer, leaf; set point only by the designer",
    AJAR: "closer; set point only by the designer",
    SHORT: "leaks, ways for the air, fan",
}


@dataclass(frozen=True)
class Excess:
    """By how much a door is past a limit. kind: of LOOK; share: of the limit; words: by how much, past which limit; figure: what was
    measured, as a judgement writes it."""

    kind: str
    share: float
    words: str
    figure: str = ""

    @classmethod
    def of(cls, kind, value, limit, dimension):
        """The `Excess` of a value (SI) beyond a limit."""
        return cls(kind, abs(value - limit) / max(abs(limit), 1e-9), passed(value, limit, dimension),
                   with_unit(value, dimension, {"pressure": (1, 3), "force": 1}[dimension]))  # fmt: skip

    @property
    def rank(self):
        """To sort by: the worst first."""
        return [*LOOK].index(self.kind), -self.share


@dataclass(frozen=True)
class ReportLine:
    """One line: part of the report it stands in; state: key of the status, "" where nothing is judged; left: whether something is still to
    be measured, whatever else is said; excess: `Excess` of a door, the worst, None for none; past: of what is said the first that is past a
    limit, figure and limit, "" where that is all that is said; the rest as COLUMNS."""

    part: str
    device: str
    tag: str = ""
    plate: str = ""
    design: str = ""
    measured: str = ""
    limit: str = ""
    state: str = ""
    words: str = ""
    deficiency: str = ""
    retest: str = ""
    left: bool = False
    excess: Excess | None = None
    past: str = ""

    @property
    def cells(self):
        """Its cells in the order of COLUMNS."""
        return (self.device, self.tag, self.plate, self.design, self.measured, self.limit, self.words, self.deficiency, self.retest)

    @property
    def word(self):
        """The word of its status; of two readings that agree AGREES."""
        return AGREES if self.part == GAUGED and self.state == "good" else word_of(self.state)

    @property
    def wrong_said(self):
        """A line that is FAIL, with the first of what is said of it that is past a limit."""
        device = self.device.partition(",")[0].partition(":")[0] if self.device in ASKED_FOR else self.device
        named, clauses = " ".join(filter(None, (device, self.tag))), self.words.split("; ")
        return ": ".join(filter(None, (named, self.past or clauses[0])))

    @property
    def danger(self):
        """Key of DANGERS of what endangers somebody tonight, None for nothing: of a line that is FAIL."""
        told = {READY, LEFT, FIRE_WATCH, ALARM_DECISION, COUNTED} & {self.device}
        sure = [key for key in (LEFT_UNPROVED, BACK_IN) if key in self.words]
        sure += [ENTERED] if self.part == "Steps" and f"{word_of('wrong')} {ENTERED}" in self.words else []
        sure += [ABOVE_CEILING] if self.device == IN_ROUNDS and ABOVE_CEILING in self.words else []
        sure += [*told, *(key for key in (CLOSING, BEFORE) if self.device in key)]
        return sure[0] if self.state == "wrong" and sure else None


def graver(line, other):
    """A line by the mean of several people's readings, with what one of them alone says where that is as grave or graver."""
    state, known = worst_of((line.state, other.state)), line.words.split("; ")
    more = "; ".join(clause for clause in other.words.split("; ") if clause not in known)
    if not more or other.state != state or (state == line.state and state != "wrong"):
        return line
    return replace(line, state=state, excess=line.excess or other.excess, past=line.past or other.past,
                   words="; ".join(filter(None, (line.words, f"{ALONE}: {more}"))))  # fmt: skip


def wrong_first(lines):
    """The lines that are FAIL: what endangers somebody tonight first (`DANGERS`), then doors before papers. Of doors the worst of each kind
    (a leaf that nobody opens, one that stays ajar, a pressure that is too small), by the share of its limit, then the rest alike: many
    leaves a little too heavy do not hide the one exit that stands open."""
    wrong = [line for line in lines if line.state == "wrong"]
    tonight = sorted((line for line in wrong if line.danger), key=lambda line: [*DANGERS].index(line.danger))
    wrong = [line for line in wrong if not line.danger]
    doors = sorted((line for line in wrong if line.excess), key=lambda line: line.excess.rank)
    worst = [next(line for line in doors if line.excess.kind == kind) for kind in dict.fromkeys(line.excess.kind for line in doors)]
    rest = [line for line in doors if line not in worst]
    others = sorted((line for line in wrong if not line.excess), key=_place)
    return [*tonight, *worst, *rest, *others]


def _place(line):
    return ORDER.index(line.part) if line.part in ORDER else len(ORDER)


def worst_line(wrong, apart=()):
    """The first line that is FAIL (all that endanger somebody tonight, and the first door after them), and what to do, in sentences; ""
    for none. apart: as of `to_do`."""
    tonight = [*{line.danger: line.wrong_said for line in reversed(wrong) if line.danger}.values()][::-1]
    then = next((f" Then: {line.wrong_said}." for line in wrong if line.excess), "") if tonight else ""
    return f" First: {'; '.join(tonight or [wrong[0].wrong_said])}.{then} {to_do(wrong, apart)}." if wrong else ""


def wrong_said(wrong):
    """The first NAMED lines that are FAIL, each with figure and limit, and how many more there are."""
    yield from (line.wrong_said for line in wrong[:NAMED])
    more = len(wrong) - NAMED
    if more > 0:
        yield f"{more} more line{' is' if more == 1 else 's are'} {word_of('wrong')}, in the tables"


def open_said(parts):
    """What is not measured or not filled in yet, a line for each part of a report, doors first; parts: {part: its lines}. A line with a
    figure past a limit of which nobody has proved that it does no harm stands with that figure."""
    for part, lines in sorted(parts.items(), key=lambda one: ORDER.index(one[0]) if one[0] in ORDER else len(ORDER)):
        told = [line for line in lines if line.state == "open"]
        names = [": ".join(filter(None, (line.device.partition(",")[0], line.past))) for line in told]
        besides = [line.word for line in lines if line.left and line.state != "open"]
        rest = [f"{len(names) - FIRST} more"] if len(names) > FIRST else []
        told = [f"{len(names)} {word_of('open')}{': ' * bool(names)}{listed([*names[:FIRST], *rest])}"] if names or besides else []
        counts = listed(f"{besides.count(word)} {word}" for word in dict.fromkeys(map(word_of, STATUSES)) if word in besides)
        told += [f"{counts} {'lacks' if len(besides) == 1 else 'lack'} a figure besides"] if besides else []
        if told:
            yield f"{part}: {'; '.join(told)}"


def head_said(state, wrong, judged):
    """The verdict of a day in a few words: what endangers somebody tonight, else the worst door and by how much; and how many lines are
    FAIL, it among them."""
    more = f"; {len(wrong)} {word_of('wrong')} in all" if len(wrong) > 1 else ""
    if wrong and wrong[0].danger:
        return f"{DANGERS[wrong[0].danger][0]}{more}"
    if wrong and wrong[0].excess:
        return f"{wrong[0].device[0].upper()}{wrong[0].device[1:]}: {wrong[0].excess.words}{more}"
    if wrong:
        return f"{len(wrong)} of {judged} lines {word_of('wrong')}; first {wrong[0].device.partition(',')[0]}"
    return {"wrong": "Settle first what stands below", "open": "Nothing past a limit so far; not all is measured",
            "attention": "Nothing past a limit; somebody has to look", "good": f"All {judged} lines pass"}[state]  # fmt: skip


def to_do(wrong, apart=()):
    """What to do first, "" where nothing is FAIL; apart: leaves whose force and pressure do not agree: which of the two readings is right
    nobody knows yet, so that leaf is measured again before a hand goes to its closer. What endangers somebody tonight comes before all."""
    if tonight := dict.fromkeys(deed for line in wrong if line.danger for deed in DANGERS[line.danger][1]):
        return f"Now: {', '.join(tonight)}; {LISTED}"
    if wrong and TUBES in wrong[0].words:
        return TURN
    if not wrong or not wrong[0].excess:
        return MEND if wrong else ""
    leaf, look = wrong[0].device.partition(",")[0], LOOK[wrong[0].excess.kind]
    if leaf in apart:
        return f"Do: measure {leaf} again, fan off and on; then {look}; list each as a deficiency, mend it, test it again"
    return f"Do: {leaf} first: {look}; list each as a deficiency, mend it, test it again"


def at_the_best(against, read, state, words):
    """(state, words) of a line as they stand where its step is not run: what was read all the same is NOT YET at the best.

    against: what the step waits for, in words, None for one that is run; read: what was read, None for nothing.
    """
    if against is None or read is None or not state:
        return state, words
    best = f"{NOT_RUN} while {against}: {word_of('open')} at the best"
    return worst_of([state, "open"]), "; ".join(filter(None, (words, best)))


def numbers_said(numbers):
    """Numbers of steps in their order, those that follow each other as from and to.

    >>> numbers_said([9, 10, 15, 16, 17])
    '9 to 10 and 15 to 17'
    """
    runs = [[numbers[0], numbers[0]]]
    for number in numbers[1:]:
        runs = [*runs[:-1], [runs[-1][0], number]] if number == runs[-1][1] + 1 else [*runs, [number, number]]
    return listed([f"{low} to {high}" if high > low else f"{low}" for low, high in runs])


def crossed_said(found):
    """That a relief damper cannot shut above the pressure at which it opens, in words; "" where it reads as it can be."""
    opens, again = (found.filled.value("clock", field, "read") for field in (OPENS, RESEATS))
    if None in (opens, again) or again <= opens:
        return ""
    shown = " and ".join(with_unit(one, "pressure", (1, 3)) for one in (again, opens))
    return f"it cannot shut again above the pressure at which it opens ({shown}): read both again"
