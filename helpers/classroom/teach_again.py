"""What to teach again tomorrow: slips by how many learners made them, exercises and predictions by how the class stands with them."""

from collections import Counter
from dataclasses import dataclass

from helpers.classroom.table import NO_SLIP
from helpers.lessons import LESSONS
from helpers.teaching.plan import Planned
from helpers.teaching.questions import title_of

FEW = 3  # learners: a slip of fewer is somebody's and not the class's


@dataclass(frozen=True)
class SlipCount:
    """One slip. title: of the exercise; hint: what it means, in the words learners are told; learners: how many made it, of how many who
    tried; times: how often; still: how many of them have not solved the exercise since."""

    lesson: Planned
    item: str
    title: str
    slip: str
    hint: str
    learners: int
    tried: int
    times: int
    still: int

    @property
    def share(self):
        """Of those who tried."""
        return self.learners / self.tried


@dataclass(frozen=True)
class ExerciseCount:
    """One exercise: how many learners tried it, solved it, and solved the sheet's numbers at once."""

    lesson: Planned
    item: str
    title: str
    tried: int
    solved: int
    at_once: int


@dataclass(frozen=True)
class PredictionCount:
    """One prediction: the question, how many learners made one, how many agree with the model, the commonest wrong one and how common."""

    lesson: Planned
    key: str
    asked: str
    made: int
    agreed: int
    commonest: str
    so_many: int


def slip_counts(table):
    """All slips of the class, those of most learners first."""
    rows = table.counted
    tried = Counter(key for row in rows for key in row.tried)
    learners, times, still = Counter(), Counter(), Counter()
    for row in rows:
        for slip, often in row.slips.items():
            learners[slip] += 1
            times[slip] += often
            still[slip] += slip[:2] not in row.solved
    hints = _hints(rows)
    found = [
        SlipCount(
            lesson, make.__name__, title_of(make), slip[2], hints.get(slip, ""), learners[slip], tried[slip[:2]], times[slip], still[slip]
        )
        for lesson, make in _exercises()
        for slip in sorted(learners)
        if slip[:2] == (lesson.key, make.__name__)
    ]
    return tuple(sorted(found, key=lambda one: (-one.learners, -one.still, -one.times)))


def exercise_counts(table):
    """Every exercise that somebody tried, in the order of the pages."""
    tried, solved, at_once = (
        Counter(key for row in table.counted for key in getattr(row, what)) for what in ("tried", "solved", "at_once")
    )
    pairs = [(lesson, make, (lesson.key, make.__name__)) for lesson, make in _exercises()]
    return tuple(
        ExerciseCount(lesson, key[1], title_of(make), tried[key], solved[key], at_once[key]) for lesson, make, key in pairs if tried[key]
    )


def prediction_counts(table):
    """Every prediction that somebody made, in the order of the pages; the question in any system of units."""
    made = {}
    for row in table.counted:
        for key, item, text, agree in row.predictions:
            made.setdefault((key, item), []).append((text, agree))
    pairs = [(lesson, prediction) for lesson in LESSONS for prediction in lesson.predictions]
    return tuple(_prediction_count(lesson, one, made[lesson.key, one.key]) for lesson, one in pairs if (lesson.key, one.key) in made)


def teach_again(table, most=3):
    """What to teach again, in sentences: the slips that most learners have not put right yet, then the prediction that failed most."""
    if table.rows and not table.counted:
        return (f"None of {len(table.rows)} records counts: of another class, or changed after signing. Is the class code the right one?",)
    slips = [one for one in slip_counts(table) if one.slip != NO_SLIP and one.learners >= min(FEW, len(table.counted))]
    told = [_slip_told(one) for one in sorted(slips, key=lambda one: (-one.still, -one.learners))[:most]]
    wrong = sorted(prediction_counts(table), key=lambda one: one.agreed / one.made)
    told += [_prediction_told(one) for one in wrong[:1] if one.agreed < one.made / 2 and one.made >= FEW]
    return tuple(told) or ("Nothing that several learners got wrong: go on.",)


def _exercises():
    return [(lesson, make) for lesson in LESSONS for make in lesson.makers]


def _hints(rows):
    """What each slip means: the first hint that was told for it."""
    found = {}
    for row in rows:
        for answer in row.own:
            if answer.hint:
                found.setdefault((answer.lesson, answer.item, answer.slip), answer.hint)
    return found


def _prediction_count(lesson, prediction, made):
    wrong = Counter(text for text, agree in made if not agree).most_common(1)
    text, often = wrong[0] if wrong else ("", 0)
    return PredictionCount(lesson, prediction.key, prediction.ask(), len(made), sum(agree for _, agree in made), text, often)


def _page(lesson):
    return f"Page {lesson.numbered}, {lesson.title}"


def _slip_told(one):
    standing = f"{one.still} of them have not put it right" if one.still else "all of them have put it right since"
    lead = f'{_page(one.lesson)}: {one.title}. {one.learners} of {one.tried} made the slip "{one.slip}"; {standing}.'
    return f"{lead} {one.hint}"


def _prediction_told(one):
    lead = f"{_page(one.lesson)}: {one.made - one.agreed} of {one.made} predicted otherwise than the model."
    return f'{lead} {one.asked} Most often: "{one.commonest}".'
