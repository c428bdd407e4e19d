"""The enquiry list: what this site's file leaves out or has filled in, what its schedule leaves open, what no file knows; whom to ask.

Each question says why it matters in the site's own figures. An answer is kept as told; no figure of the record follows from it.
"""

from dataclasses import dataclass
from itertools import count
from textwrap import wrap

from helpers.model.answers import GivenAnswer
from helpers.model.files import texts
from helpers.model.site.file import toml_text
from helpers.model.site.tolerances import boxes, left_open
from helpers.record.papers.beyond.answered import unanswered, with_numbers
from helpers.record.papers.paper import ENQUIRY, Paper, Part
from helpers.record.settings.differences import TO_DO
from helpers.studies.report import Table, listed

CLOSING = "doors.closing_share"  # key of the file
REMARK = 110  # letters of a line of the blank file of answers
NOT_ASKED = ("sheet",)  # groups of the schedule that are signed and no question
ANYBODY = "whoever enters the settings"  # asked where no question of the file covers an open line
NOTHING_TAKEN = "nothing: the site file cannot say it"
HEADS = ("No.", "Key", "Question", "Taken until answered", "Why it matters here", "Answer, by whom, date")


@dataclass(frozen=True)
class Question:
    """One question: its key, whom to ask, what, what is taken until it is answered, why it matters in this site's figures, and its
    `GivenAnswer`, None without one; covers: lines of the schedule that it settles; told, state: the answer in words and the key of its
    status, where it was held against the site's bounds."""

    key: str
    whom: str
    asks: str
    taken: str
    matters: str
    covers: tuple[str, ...] = ()
    answer: GivenAnswer | None = None
    told: str = ""
    state: str = "open"

    @property
    def answered(self):
        """The answer in words, as told; "" without one."""
        return "" if self.answer is None else f"{self.told} ({self.answer.by}, {self.answer.date})"


def questions_of(quoted):
    """The `Question`s of what is `Quoted` of a record, with its answers. Raises ValueError for an answer to what is asked nowhere."""
    told, taken, lines = texts(quoted.enquiry_words)["questions"], _taken(quoted), _open_lines(quoted)
    answers = {} if quoted.answers is None else quoted.answers.by_question()
    known = {one["key"] for one in told} | set(lines)
    if unknown := [key for key in answers if key not in known]:
        raise ValueError(f"question must be a key of the enquiry list ({', '.join(sorted(known))}); got {unknown[0]!r:.60}")
    asked = [one for one in told if quoted.has(one) and (one.get("always") or one["key"] in taken or one["key"] in lines)]
    found = [_question(quoted, one, taken | lines, answers) for one in asked]
    covered = {line for one in told for line in (one["key"], *one.get("covers", ()))}
    rest = [{"key": key, "whom": ANYBODY, "asks": f"What is laid down here: {key.replace('/', ', ')}?", "matters": quoted.why(key)}
            for key in lines if key not in covered]  # fmt: skip
    return (*found, *(_question(quoted, one, lines, answers) for one in rest))


def _question(quoted, one, taken, answers):
    filled = quoted.filled(one)
    said = taken.get(one["key"], filled.get("taken", NOTHING_TAKEN))
    if until := filled.get("until", ""):  # how it is built as long as nobody has answered
        said = until if said == NOTHING_TAKEN else f"{said.rstrip('.')}. {until}"
    answer = answers.get(one["key"])
    told, state = ("", "open") if answer is None else quoted.answer_judged(one["key"])
    covers = tuple(one.get("covers", ()))
    return Question(
        one["key"], one["whom"], filled["asks"], said, filled["matters"], covers, answer, told, "" if state == "good" else state
    )


def _taken(quoted):
    """{key of the file: what is taken in its place}, of all that it leaves open."""
    found = {}
    for key, sentence in quoted.left_open():
        found[key] = f"{found[key]} {sentence}" if key in found else sentence
    return found | closers_asked(quoted.design.site)


def closers_asked(site):
    """{key: sentence} of the closers that have to shut a leaf which the pressure pushes open: whether a share was measured, and over which
    range, no site file says. Empty for a plant without doors, and where no leaf is pushed."""
    known, doors = boxes(site), getattr(site, "doors", {})
    shares = {
        name: known.get(f"{CLOSING.partition('.')[0]}.{name}.closing_share")
        for name, door in doors.items()
        if door.opens == "with pressure"
    }
    shares = {name: box for name, box in shares.items() if box is not None}
    if not shares:
        return {}
    told = " ".join(sentence for key, sentence in left_open(site) if key == CLOSING)
    kinds = {
        "one figure, and no range measured at the closer": [name for name, box in shares.items() if box.low == box.high],
        "a range of the site file, its low end counts; whether it was measured there the file does not say": [
            name for name, box in shares.items() if box.stated and box.low < box.high
        ],
        "a range as is common practice, and no measurement of the closer": [name for name, box in shares.items() if not box.stated],
    }
    said = [
        f"Door{'s' * (len(names) > 1)} {listed(map(repr, names))}, which the pressure pushes open and the closer has to shut: {what}."
        for what, names in kinds.items() if names
    ]  # fmt: skip
    return {CLOSING: " ".join(filter(None, (told, *said)))}


def _open_lines(quoted):
    """{"group/name": value} of the schedule's lines that somebody still has to state; transmitters' are asked by the file's keys."""
    names = {tap.name for tap in quoted.site.transmitters}
    return {
        f"{line.group}/{line.name}": quoted.stated(line.group, line.name).value
        for line in quoted.lines
        if line.group not in (*names, *NOT_ASKED) and line.value.startswith(TO_DO)
    }


def enquiry(quoted, number=7):
    """The `Paper` of all questions, a part for each person asked; number: of the paper."""
    words, questions = texts(quoted.enquiry_words), questions_of(quoted)
    asked = {whom: [one for one in questions if one.whom == whom] for whom in dict.fromkeys(one.whom for one in questions)}
    numbers, parts = count(1), []
    for whom, own in asked.items():
        rows = tuple((f"Q{next(numbers)}", one.key, one.asks, one.taken, one.matters, one.answered) for one in own)
        who = whom if whom == ANYBODY else f"the {whom}"
        table = Table(f"asked {whom}", f"Asked of {who}", HEADS, rows, tuple(one.state for one in own))
        parts.append(Part(f"To {who}", tables=(table,)))
    lines = (*words.get("refused_lines", ()) * quoted.asks_first_alone, *words["lines"])
    first = Part("What this list is", lines, cautions=tuple(words["cautions"]))
    return Paper(ENQUIRY, number, words["title"], words["for_whom"], (first, *parts))


def blank_answers(quoted):
    """The text of a file of answers with all questions of the list, none of them answered: each is a remark until somebody fills it in."""
    words = wrap(" ".join(texts("enquiry")["blank_file"]), REMARK)
    told = [*(f"# {line}" for line in words), "", 'kind = "answers"', f"name = {toml_text(f'Answers of {quoted.site.name}')}"]
    told += [f"site = {toml_text(quoted.site.name)}", f"invented = {str(quoted.site.invented).lower()}"]
    for place, one in enumerate(in_order(questions_of(quoted)), 1):
        told += ["", *(f"# {line}" for line in wrap(f"Q{place}, of the {one.whom}: {one.asks}", REMARK))]
        told += [f"#{line}" for line in ("[[answers]]", f"question = {toml_text(one.key)}", 'answer = ""', 'by = ""', 'date = ""')]
    return "\n".join(told) + "\n"


def in_order(questions):
    """`Question`s in the order of their numbers: by whom they are asked."""
    return [one for whom in dict.fromkeys(one.whom for one in questions) for one in questions if one.whom == whom]


def numbered(quoted):
    """A function of a text: the same with the number of the enquiry list before each key that it is sent to, and that it quotes."""
    numbers = {one.key: f"Q{place}" for place, one in enumerate(in_order(questions_of(quoted)), 1)}

    def with_number(found):
        key = found[2]
        return f"{found[1] or ''}enquiry list: {numbers[key]}, {key}" if key in numbers else found[0]

    def number(text):
        return with_numbers(unanswered(quoted.enquiry_words).sub(with_number, text), quoted.enquiry_words, numbers)

    return number


def answered_table(quoted):
    """`Table` of what was answered, kept as an assumption; None where nothing was."""
    if quoted.answers is None:
        return None
    asked = {one.key: one for one in questions_of(quoted)}
    told = {one["key"]: one["asks"] for one in texts(quoted.enquiry_words)["questions"]}
    asks = {key: asked[key].asks if key in asked else f"{told[key]} (asked no more: the site file says it)" for key in (*told, *asked)}
    given = quoted.answers.by_question()
    rows = tuple((asks[key], quoted.answer_judged(key)[0], one.by, one.date) for key, one in given.items())
    note = "Kept as told. No figure of the record follows from an answer until the site file states it and the record is made anew."
    return Table("answers", "Answers to the enquiry list", ("Question", "Answer as told", "By", "Date"), rows, note=note)
