"""The pages of the workbook in the order one learns them; and the words of the trade, with the lesson that explains each."""

from dataclasses import dataclass

from helpers import require


@dataclass(frozen=True)
class Planned:
    """One page: `key` names it in files and records; builds_on holds keys of other lessons; in_class: what is taught of it in each of
    CLASS_LENGTHS, a name of `PORTIONS` in `helpers.classroom.day`, or nothing."""

    number: int
    key: str
    title: str
    minutes: int
    builds_on: tuple[str, ...] = ()
    in_class: tuple[str, ...] = ("", "", "")

    @property
    def notebook(self):
        """File name of its notebook."""
        return f"{self.number:02d}_{self.key}.ipynb"

    @property
    def name(self):
        """What it is called wherever it is named: number and title."""
        return f"{self.number:02d} {self.title}"


CLASS_LENGTHS = ("half a day", "a day", "two days")
# What half a day, a day and two days teach of a lesson; ours.
_LONG, _SHORT, _LATE = ("core", "core", "whole"), ("", "core", "whole"), ("", "shown", "whole")

LESSONS = (
    Planned(1, "pressure_window", "The pressure window", 75, (), _LONG),
    Planned(2, "leakage_and_fan_duty", "Leakage, stack effect and fan duty", 100, ("pressure_window",), _SHORT),
    Planned(3, "transmitter_range", "The transmitter's range", 60, ("pressure_window",), _SHORT),
    Planned(4, "scaling_the_signal", "Scaling the signal", 75, ("transmitter_range",), _LONG),
    Planned(5, "reverse_or_direct", "Reverse or direct", 60, ("scaling_the_signal",), _LONG),
    Planned(6, "average_lowest_highest", "Average, lowest or highest", 75, ("leakage_and_fan_duty", "scaling_the_signal"), _LONG),
    Planned(7, "where_the_transmitters_go", "Where the transmitters go", 60, ("average_lowest_highest",), _LATE),
    Planned(8, "tuning_and_door_events", "Tuning and door events", 100, ("reverse_or_direct", "average_lowest_highest"), _LATE),
    Planned(9, "low_demand_stop", "Low-demand stop and sleep thresholds", 75, ("tuning_and_door_events",), _LATE),
)

# Pages for the work itself, with nothing to predict or solve.
FURTHER_PAGES = (
    Planned(10, "fault_bench", "The fault bench", 90),
    Planned(11, "commissioning_checks", "Commissioning checks", 45),
    Planned(12, "design_record", "The design record", 45),
    Planned(13, "strategy_review", "Strategy review", 30),
    Planned(14, "your_own_site", "A site of your own", 15),
)
START = Planned(0, "start_here", "Start here", 10)
PAGES = (START, *LESSONS, *FURTHER_PAGES, Planned(15, "how_right_is_it", "How right is it?", 15), Planned(16, "glossary", "Glossary", 0))
INSTRUCTORS_PAGES = (  # in a folder of their own, beside the others
    Planned(20, "plan_of_the_class", "The plan of the class", 10),
    Planned(21, "what_rooms_answer", "What rooms answer", 45),
    Planned(22, "projector_and_demos", "The projector, and demonstrations in one cell", 5),
    Planned(23, "class_sets", "Class sets and the class table", 10),
)

HINT = (
    "Nothing moves yet? Press *Run the page* above, or in the menu *Run*, *Run All Cells*; a server of your class has done it. "
    "The code is folded away: click on its three dots to read it, or *View*, *Expand All Code*."
)


def foot(notebook):
    """The last line of a page, from the file name of its notebook: back, start, next, as far as there are such pages, each once."""
    course, up = (PAGES, "") if notebook in [page.notebook for page in PAGES] else (INSTRUCTORS_PAGES, "../")
    place = [page.notebook for page in course].index(notebook)
    steps = {"Back": course[place - 1 : place], "Start": (START,), "Next": course[place + 1 : place + 2]}
    if place < 2 and course is PAGES:
        del steps["Start"]  # it is the page itself, or the one before
    links = [f"**{step}:** [{page.name}]({up if page is START else ''}{page.notebook})" for step, pages in steps.items() for page in pages]
    return "\n\n".join(["---", " · ".join(links)])


def lesson(key):
    """The lesson of a key; raises ValueError for a key that is not there, naming those that are."""
    found = {one.key: one for one in LESSONS}
    return found[require.one_of(found, key=key)]


@dataclass(frozen=True)
class Term:
    """A word, what it means here, the key of the lesson that explains it, and what it is often taken for."""

    word: str
    meaning: str
    lesson: str
    not_the: str = ""


WINDOW, DUTY, RANGE, SCALING = "pressure_window", "leakage_and_fan_duty", "transmitter_range", "scaling_the_signal"
ACTION, RULE, PLACES = "reverse_or_direct", "average_lowest_highest", "where_the_transmitters_go"
TUNING, STOP = "tuning_and_door_events", "low_demand_stop"

TERMS = (
    Term("accuracy", "by how much a reading may be off, as a share of the span or of the reading", RANGE, "resolution"),
    Term("action", "the sign of the controller: whether its output rises or falls with the reading", ACTION, "the way the fan turns"),
    Term("average", "the rule that holds the sum of the readings shared by their number", RULE),
    Term("closer force", "what the arm that shuts the door asks of the hand, at the handle, without any pressure", WINDOW),
    Term("combining rule", "how one reading is made of several: average, lowest, highest, middle, weighted", RULE),
    Term("condition", "one hour the building may meet: weather, doors, how leaky it was built", PLACES),
    Term("controller", "compares the reading with the set point and moves the speed", ACTION),
    Term("converter", "the part of the drive's input that cuts the signal into steps", RANGE),
    Term("cycle", "from one start of the fan to the next", STOP, "restart delay"),
    Term("delay", "the time in which a reading does nothing at all after the fan has moved; dead time", TUNING, "lag"),
    Term("direct acting", "the output rises when the reading rises: for a fan that takes air out", ACTION, "air that goes straight"),
    Term("discharge coefficient", "the share of a hole that the jet of air really fills, about two thirds", DUTY),
    Term("drive", "feeds the motor with a frequency, and so sets its speed", STOP),
    Term("duty", "what a fan must give: so much air against so much pressure", DUTY),
    Term("error", "what the controller works on; above zero it always asks for more speed", ACTION, "accuracy"),
    Term("failed signal", "so far below a live zero, or above the top, that it can be no pressure", SCALING, "a reading of zero"),
    Term("fan curve", "how much pressure a fan makes at each flow, at one speed", DUTY),
    Term("filter", "evens out a restless reading and makes it late", TUNING),
    Term("fire mode", "the fan keeps a way out free of smoke, and nothing stops it to save energy", STOP, "low demand"),
    Term("force limit", "the most that the code lets a hand be asked for, at the handle", WINDOW, "pressure"),
    Term("gain", "per cent of output for each per cent of span of error", TUNING, "the building's gain"),
    Term("high side", "the tube that ends in the space whose pressure is held", PLACES),
    Term("highest", "the rule by which no transmitter reads more than the set point", RULE, "the highest storey"),
    Term("hysteresis", "stop and start ask for different things, so that the fan does not hover between them", STOP),
    Term("in. w.c.", "inch of water column, a unit of pressure; some 249 Pa, and not quite the same in all books", WINDOW),
    Term("injected signal", "a known current or voltage fed in instead of the transmitter's, to see what the drive makes of it", SCALING),
    Term("integral time", "in which a lasting error moves the output as far again as gain alone did", TUNING, "repeats per minute"),
    Term("lag", "how slowly a reading follows: after one lag 63 % of the way is done", TUNING, "delay"),
    Term("leakage area", "one sharp-edged hole that lets as much air through as all the cracks together", DUTY),
    Term("least pressure", "what must stand across a shut door so that hot smoke stays out", WINDOW),
    Term("live zero", "a bottom of the signal that is more than nothing, so that a broken wire tells itself", SCALING, "no pressure"),
    Term("loop", "transmitter, controller, drive and fan: measure, compare, change the speed, measure again", ACTION),
    Term("low demand", "nobody asks for air", STOP, "a low reading"),
    Term("low side", "the tube that ends where the pressure is compared with; the reference", PLACES),
    Term("lowest", "the rule by which no transmitter reads less than the set point", RULE, "the lowest storey"),
    Term("low-demand stop", "lets the fan rest while nobody asks for air; never active in the fire mode", STOP),
    Term("neutral plane", "the height at which indoors and outdoors have the same pressure", PLACES),
    Term("offset", "an error that is the same everywhere in the range", SCALING, "gain"),
    Term("Pa", "pascal, the unit of pressure: one newton on a square metre", WINDOW),
    Term("point", "of per cent: the difference of two shares", PLACES, "per cent"),
    Term("proportional band", "100 divided by the gain, in per cent; wider is calmer", TUNING, "gain"),
    Term("ramp", "how fast the drive may change the speed, in seconds from standstill to full speed", TUNING, "a part of the tuning"),
    Term("range", "both ends, from where to where a transmitter measures", RANGE, "span"),
    Term("reading", "the pressure the drive believes in, after wire, converter, scaling and filter", SCALING, "the pressure itself"),
    Term("relief damper", "a flap from the stair to outdoors that lifts when the pressure gets too high", DUTY),
    Term("resolution", "the smallest step of a reading", RANGE, "accuracy"),
    Term("restart deficit", "how far below the set point the reading must fall before the fan starts again", STOP, "the reading itself"),
    Term("reverse acting", "the output falls when the reading rises: for a fan that brings air in", ACTION, "a fan that turns backwards"),
    Term("scaling", "entering which pressures the two ends of the signal stand for", SCALING),
    Term("set point", "the one pressure that the loop holds", WINDOW, "window"),
    Term("shut-off", "the fan runs and no air flows", STOP, "the fan switched off"),
    Term("span", "top less bottom of a range, one figure", RANGE, "range"),
    Term("stack effect", "warm air is lighter than the cold air outdoors, so that the pressure difference grows with height", DUTY),
    Term("stop threshold", "a speed: below it for long enough the fan may stop", STOP, "a pressure"),
    Term("transmitter", "measures the pressure in one tube less the pressure in another and sends it on as a signal", RANGE),
    Term("weighted", "an average in which some readings count more", RULE),
    Term("window", "from the least pressure that keeps smoke out to the most at which the door still opens", WINDOW, "set point"),
    Term("zero drift", "the reading that nothing at all gives creeps away over months", RANGE),
)  # fmt: skip


class Glossary:
    """The words in the order of the alphabet, as a table whose last column links to the lessons' pages."""

    def __init__(self, terms=TERMS):
        self.terms = tuple(sorted(terms, key=lambda term: term.word.casefold()))

    def __str__(self):
        return "\n".join(f"{term.word}: {_meaning(term)} (lesson {lesson(term.lesson).number:02d})" for term in self.terms)

    def _repr_mimebundle_(self, include=None, exclude=None):
        rows = [f"| **{term.word}** | {_meaning(term)} | {_link(lesson(term.lesson))} |" for term in self.terms]
        return {"text/markdown": "\n".join(["| Word | What it means here | Lesson |", "|:--|:--|:--|", *rows]), "text/plain": str(self)}


def glossary():
    """All words. Returns `Glossary`."""
    return Glossary()


def _meaning(term):
    return f"{term.meaning}. Not {term.not_the}." if term.not_the else f"{term.meaning}."


def _link(page):
    return f"[{page.name}]({page.notebook})"
