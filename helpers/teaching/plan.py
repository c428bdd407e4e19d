"""The pages of the workbook in the order one learns them; what each lesson promises, in which of its sections it is taught and by what it
is tested; and the words of the trade, with the lesson that explains each."""

from dataclasses import dataclass
from functools import cache

from helpers import require
from helpers.model.files import texts


@dataclass(frozen=True)
class Planned:
    """One page: `key` names it in files and records; builds_on holds keys of other lessons; in_class: what is taught of it in each of
    CLASS_LENGTHS, a name of `PORTIONS` in `helpers.classroom.day`, or nothing; part: a letter of pages that share a number. minutes: in a
    class, which leaves derivations and most exercises for home; alone: for one learner with every task and exercise, from what trial
    readers took, 0 for as in a class."""

    number: int
    key: str
    title: str
    minutes: int
    builds_on: tuple[str, ...] = ()
    in_class: tuple[str, ...] = ("", "", "")
    part: str = ""
    alone: int = 0

    @property
    def minutes_alone(self):
        """For one learner."""
        return self.alone or self.minutes

    @property
    def numbered(self):
        """Number and letter, as they stand before its title: 09, 09b."""
        return f"{self.number:02d}{self.part}"

    @property
    def notebook(self):
        """File name of its notebook."""
        return f"{self.numbered}_{self.key}.ipynb"

    @property
    def name(self):
        """What it is called wherever it is named: number and title."""
        return f"{self.numbered} {self.title}"


CLASS_LENGTHS = ("half a day", "a day", "two days")
# What half a day, a day and two days teach of a lesson; ours.
_LONG, _SHORT, _LATE = ("core", "core", "whole"), ("", "core", "whole"), ("", "shown", "whole")
_EVENING = ("", "", "")  # none of it: two days are full; an evening of its own, or alone

LESSONS = (
    Planned(1, "pressure_window", "The pressure window", 75, (), _LONG, alone=100),
    Planned(2, "leakage_and_fan_duty", "Leakage, stack effect and fan duty", 100, ("pressure_window",), _SHORT, alone=150),
    Planned(3, "transmitter_range", "The transmitter's range", 60, ("pressure_window",), _SHORT, alone=85),
    Planned(4, "scaling_the_signal", "Scaling the signal", 75, ("transmitter_range",), _LONG, alone=105),
    Planned(5, "reverse_or_direct", "Reverse or direct", 60, ("scaling_the_signal",), _LONG, alone=85),
    Planned(
        6, "average_lowest_highest", "Average, lowest or highest", 75, ("leakage_and_fan_duty", "scaling_the_signal"), _LONG, alone=140
    ),
    Planned(7, "where_the_transmitters_go", "Where the transmitters go", 90, ("average_lowest_highest",), _LATE, alone=115),
    Planned(8, "tuning_and_door_events", "Tuning and door events", 100, ("reverse_or_direct", "average_lowest_highest"), _LATE, alone=205),
    Planned(9, "low_demand_stop", "Low-demand stop and sleep thresholds", 80, ("tuning_and_door_events",), _LATE, alone=95),
    Planned(9, "tested_in_may", "Tested in May, good in January?", 90, ("leakage_and_fan_duty",), _EVENING, "b", alone=120),
)

# Pages for the work itself, with nothing to predict or solve.
FURTHER_PAGES = (
    Planned(10, "fault_bench", "The fault bench", 90),
    Planned(11, "commissioning_checks", "Commissioning checks", 45),
    Planned(12, "design_record", "The design record", 15),
    Planned(12, "record_step_by_step", "The record, step by step", 45, part="b"),
    Planned(13, "strategy_review", "Strategy review", 30),
    Planned(14, "your_own_site", "A site of your own", 15),
    Planned(17, "test_day", "The test day's package", 20),
    Planned(18, "building_as_found", "The building as its test day found it", 20),
    Planned(19, "trend_files", "Trend files", 20),
    Planned(30, "papers", "The papers of a job", 20),
    Planned(31, "concept_study", "The concept study", 15),
)
START = Planned(0, "start_here", "Start here", 10)
REFERENCES = (Planned(15, "how_right_is_it", "How right is it?", 15), Planned(16, "glossary", "Glossary", 0))
PAGES = tuple(sorted((START, *LESSONS, *FURTHER_PAGES, *REFERENCES), key=lambda page: (page.number, page.part)))
INSTRUCTORS_PAGES = (  # in a folder of their own, beside the others
    Planned(20, "plan_of_the_class", "The plan of the class", 10),
    Planned(21, "what_rooms_answer", "What rooms answer", 45),
    Planned(22, "projector_and_demos", "The projector, and demonstrations in one cell", 5),
    Planned(23, "class_sets", "Class sets and the class table", 10),
)

HINT = (
    "<details><summary>Nothing moves yet? Press <i>Run the page</i> above.</summary>\n\n"
    "Or in the menu *Run*, *Run All Cells*; a server of your class has done it. "
    "The code is folded away: click on its three dots to read it, or *View*, *Expand All Code*.\n\n</details>"
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

    @property
    def says(self):
        """What it means and what it is not, in a sentence each."""
        return f"{self.meaning}. Not {self.not_the}." if self.not_the else f"{self.meaning}."


@cache
def terms():
    """All `Term`s of data/texts/glossary.toml, by the alphabet."""
    found = [Term(word, said[0], key, *said[1:]) for key, words in texts("glossary").items() for word, said in words.items()]
    return tuple(sorted(found, key=lambda term: term.word.casefold()))


@dataclass(frozen=True)
class Objective:
    """One line of "You will be able to". taught: sections of the page; exercises: names of makers; predictions: their keys."""

    lesson: str
    taught: tuple[str, ...]
    exercises: tuple[str, ...]
    predictions: tuple[str, ...] = ()


def objectives(key):
    """The objectives of a lesson, in the order of its page; none for a lesson that promises nothing."""
    return tuple(
        Objective(key, *(tuple(one.get(part, ())) for part in ("taught", "exercises", "predictions")))
        for one in _promises().get(key, {}).get("objective", ())
    )


def section_of(key, exercise):
    """The section of a lesson's page that an exercise goes back to, or nothing."""
    return _promises().get(key, {}).get("read", {}).get(exercise, "")


@cache
def _promises():
    return texts("objectives")
