"""A set for a class, made again exactly from the class code: exercises with each seat's own numbers, sheets, the key, the class table."""

from collections.abc import Callable
from dataclasses import dataclass
from html import escape

from helpers import __version__, require, units
from helpers.classroom.teach_again import exercise_counts, prediction_counts, slip_counts, teach_again
from helpers.lessons import LESSONS
from helpers.model.files import page_part, printable
from helpers.plots.markup import html_table, paragraphs_html
from helpers.record.page import figure_html, plain_page
from helpers.teaching.plan import Planned
from helpers.teaching.questions import Chosen, Exercise, exercise_of, title_of
from helpers.teaching.seeds import MOST_SEATS, PROTECTION, Draw, Seat, class_mark, seat_of
from helpers.units.said import written_out


@dataclass(frozen=True)
class SetQuestion:
    """One question of the set. number: on every sheet; item: name of the exercise, by which records keep it; make: its maker."""

    number: int
    lesson: Planned
    item: str
    title: str
    make: Callable[[Draw], Exercise]


@dataclass(frozen=True)
class SeatSheet:
    """What one seat is asked: an `Exercise` for each question. name: of the learner, or nothing."""

    seat: Seat
    name: str
    exercises: tuple


@dataclass(frozen=True)
class ClassSet:
    """The whole set. mark: of the class, on all its papers; system: of units; questions and sheets in their order."""

    mark: str
    title: str
    system: str
    questions: tuple
    sheets: tuple


def class_set(code, seats, lessons=None, each=None, system="Pa", title="", names=()):
    """The set of a class; the same arguments make the same set on every machine.

    code: the class code, the instructor's own text; seats: how many, 1 to MOST_SEATS; lessons: keys or numbers of those wanted ("09b" for
    one with a letter), all by default; each: how many exercises of each lesson, all by default; system: one of units.SYSTEMS; title: of the
    class; names: of learners in the order of the seats, where they are known. Raises ValueError with a sentence.
    """
    if isinstance(seats, bool) or not isinstance(seats, int) or not 1 <= seats <= MOST_SEATS:
        raise ValueError(f"seats must be a whole number from 1 to {MOST_SEATS}, got {seats!r:.40}")
    require.one_of(units.SYSTEMS, system=system)
    if len(names) > seats:
        raise ValueError(f"names must be {seats} at the most, one for each seat; got {len(names)}")
    questions = questions_of(lessons, each)
    named = [printable(" ".join(str(name).split())) for name in names] + [""] * (seats - len(names))
    seats = [(seat_of(code, number), name) for number, name in enumerate(named, 1)]
    sheets = tuple(SeatSheet(seat, name, tuple(_exercise(seat, one, system) for one in questions)) for seat, name in seats)
    return ClassSet(class_mark(code), printable(" ".join(title.split())), system, questions, sheets)


def questions_of(lessons=None, each=None):
    """The questions of a choice of lessons (keys or numbers), so many of each."""
    if each is not None and (isinstance(each, bool) or not isinstance(each, int) or each < 1):
        raise ValueError(f"each must be a whole number of 1 or more, or None for all exercises; got {each!r:.40}")
    known = {key: one for one in LESSONS for key in (one.key, one.numbered, *(() if one.part else (one.number,)))}
    wanted = [one.key for one in LESSONS] if lessons is None else [lessons] if isinstance(lessons, (str, int)) else list(lessons)
    strange = [one for one in wanted if one not in known]
    if strange or not wanted:
        numbers = ", ".join(f"{one.numbered.lstrip('0')} {one.key}" for one in LESSONS)
        raise ValueError(f"lessons must be some of {numbers}; got {strange[0] if strange else 'none'!r:.60}")
    chosen = sorted({known[one] for one in wanted}, key=lambda one: (one.number, one.part))
    pairs = [(one, make) for one in chosen for make in one.makers[:each]]
    return tuple(SetQuestion(number, one, make.__name__, title_of(make), make) for number, (one, make) in enumerate(pairs, 1))


def expected(exercise):
    """(answer, tolerance) as they are written on a sheet: the letter of an option and nothing, or two numbers in the exercise's units."""
    answer = exercise.answer
    if isinstance(answer, Chosen):
        return option_letter(answer.options.index(answer.value)), None
    if answer.dimension == "number":
        return float(f"{answer.value:.8g}"), float(f"{answer.tolerance:.4g}")
    shown, edge = (
        float(units.to_display(value, answer.dimension, exercise.system)) for value in (answer.value, answer.value + answer.tolerance)
    )
    return float(f"{shown:.8g}"), float(f"{abs(edge - shown):.4g}")


def option_letter(place):
    """Letter of an option on paper, a for the first."""
    return "abcdefghijklmnopqrstuvwxyz"[place]


def _exercise(seat, question, system) -> Exercise:
    return exercise_of(question.make, seat.seed(question.lesson.key, question.item), system)


TITLE = "Exercises with your own numbers"
LONGEST = 60  # letters of a name on a page
STYLE = f"<style>\n{page_part('class_sheets.css')}\n</style>"
OPTIONS_NOTE = "Write a figure in the unit beside the line, to three digits, or mark one letter. Show your way on the back."
PAPER_NOTE = (
    "Invented buildings, for practice on paper: try none of it on a live stair. The local code, the authority having jurisdiction and "
    "a licensed (UK: competent) engineer decide."
)
SEAT_NOTE = (
    "On the start page, type this key under Seat key: the exercises on the screen then have the numbers of this sheet, and your record is "
    "signed when you export it. The key is yours; it signs for you."
)
KEY_NOTE = "For the instructor only: answers and seat keys. Whoever has a seat's key can sign for that seat."


def sheets_page(class_set, sheets=None):
    """All seats' sheets, or some, as one page, each beginning on a new sheet of paper."""
    return plain_page(_titled(TITLE, class_set), [STYLE, *(_seat(class_set, sheet) for sheet in sheets or class_set.sheets)])


def seat_page(class_set, sheet):
    """One seat's sheet."""
    return plain_page(_titled(f"{TITLE}, seat {sheet.seat.number}", class_set), [STYLE, _seat(class_set, sheet)])


def key_page(class_set, questions=None):
    """The key: seats and their keys, then for every question, or some, each seat's answer with its tolerance and the way there."""
    seats = [(sheet.seat.number, sheet.name, sheet.seat.key) for sheet in class_set.sheets]
    parts = [STYLE, paragraphs_html([KEY_NOTE, *PROTECTION]), html_table(("Seat", "Name", "Seat key"), seats, title="Seats")]
    for question in questions or class_set.questions:
        rows = [_answer_row(sheet, sheet.exercises[question.number - 1]) for sheet in class_set.sheets]
        page = f"Page {question.lesson.numbered}, {question.lesson.title}."
        parts.append(f"<h2>{question.number}. {escape(question.title)}</h2>{paragraphs_html([page])}")
        parts.append(_plain_table(("Seat", "Answer", "Counts within", "The way"), rows))
    return plain_page(_titled("KEY", class_set), parts)


def table_page(table, system="Pa", picture=None):
    """The class table as a page of its own; picture: a `Picture` of its slips."""
    title = "Class table" + (f", class mark {table.mark}" if table.mark else "")
    return plain_page(
        title,
        [
            table_html(table, system, picture),
            paragraphs_html(PROTECTION),
            paragraphs_html([f"Made with the pressure-loop workbook {__version__}"]),
        ],
    )


NOTHING = 0, "", "0 of 0", "<bdi></bdi>"  # in a cell


def table_html(table, system="Pa", picture=None):
    """What to teach again, the picture, learners, slips, exercises, predictions, and the files that were left out."""
    learners = [
        [row.seat or "", name_html(row.name), escape(row.state), len(row.predictions), row.agreed, len(row.tried), len(row.solved),
         len(row.at_once), sum(row.slips.values()), f"{row.found} of {len(row.cases)}", escape(row.remark), name_html(row.file)]
        for row in table.rows
    ]  # fmt: skip
    columns = ("Seat", "Name", "Record", "Predicted", "Agreed", "Tried", "Solved", "Right at once", "Wrong answers", "Bench found",
               "Remark", "File")  # fmt: skip
    slips = [
        (one.lesson.numbered, one.title, one.slip, f"{one.learners} of {one.tried}", one.still, one.times, one.hint)
        for one in slip_counts(table)
    ]
    exercises = [(one.lesson.numbered, one.title, one.tried, one.solved, one.at_once) for one in exercise_counts(table)]
    predictions = [
        (one.lesson.numbered, one.asked, f"{one.agreed} of {one.made}", one.commonest, one.so_many or "")
        for one in written_out(prediction_counts(table), system)
    ]
    parts = [
        f"<h2>What to teach again</h2><ol>{''.join(f'<li>{escape(text)}</li>' for text in written_out(teach_again(table), system))}</ol>",
        "" if picture is None else figure_html(picture),
        f"<h2>Learners</h2>{_plain_table(*_with_content(columns, learners), ready=True)}",
        _listed("Slips", ("Page", "Exercise", "Slip", "Learners", "Not put right", "Times", "What it is"), slips),
        _listed("Exercises", ("Page", "Exercise", "Tried", "Solved", "Right at once"), exercises),
        _listed("Predictions", ("Page", "Question", "Agreed", "Commonest other answer", "So many"), predictions),
        _left_out(table.left_out),
    ]
    return "\n".join(filter(None, parts))


def name_html(name):
    """A name of any script, kept apart from what stands beside it, whichever way it is written."""
    short = name if len(name) <= LONGEST else f"{name[: LONGEST - 1]}…"
    return f"<bdi>{escape(short)}</bdi>"


def _seat(class_set, sheet):
    who = f"<bdi>{escape(sheet.name)}</bdi>" if sheet.name else '<span class="line"></span>'
    title = f" · {escape(class_set.title)}" if class_set.title else ""
    top = f'<tr><td><b>Seat {sheet.seat.number}{title}</b></td><td>Name: {who}</td><td>Date: <span class="line"></span></td></tr>'
    key = f'<tr><td colspan="3">Seat key: <code>{sheet.seat.key}</code> &ensp;class mark <code>{class_set.mark}</code></td></tr>'
    notes = paragraphs_html([SEAT_NOTE, OPTIONS_NOTE, PAPER_NOTE])
    questions = "\n".join(_question(one, exercise) for one, exercise in zip(class_set.questions, sheet.exercises, strict=True))
    return f'<section class="seat"><table class="top">{top}{key}</table>{notes}{questions}</section>'


def _question(question, exercise):
    answer = exercise.answer
    head = f"<p><b>{question.number}. {escape(question.title)}.</b> {escape(exercise.question)}</p>"
    if isinstance(answer, Chosen):
        below = f"<ol>{''.join(f'<li>{escape(option)}</li>' for option in answer.options)}</ol>"
    else:
        below = f'<p>Answer: <span class="line"></span> {escape(written_out(answer.unit, exercise.system))}</p>'
    return f'<div class="question">{head}{below}</div>'


def _answer_row(sheet, exercise):
    answer, (value, tolerance) = exercise.answer, expected(exercise)
    if isinstance(answer, Chosen):
        told, within = f"{option_letter(answer.options.index(answer.value))}) {answer.value}", ""
    else:
        told, within = (
            f"{sign}{number:.4g} {written_out(answer.unit, exercise.system)}".strip() for sign, number in (("", value), ("± ", tolerance))
        )
    return sheet.seat.number, told, within, " ".join(exercise.way)


def _plain_table(columns, rows, ready=False):
    """A table without a style in every cell: a key of 200 seats has tens of thousands. ready: cells are HTML already."""
    head = "".join(f'<th scope="col" style="text-align:left">{escape(column)}</th>' for column in columns)
    looks = 'style="border-collapse:collapse;font-size:14px" border="1" cellpadding="4"'
    body = "".join(f"<tr>{''.join(_ready_cell(cell) if ready else f'<td>{escape(str(cell))}</td>' for cell in row)}</tr>" for row in rows)
    return f'<div style="overflow-x:auto"><table {looks}><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'


def _with_content(columns, rows):
    """(columns, rows) without those columns in which nobody has anything."""
    kept = [place for place in range(len(columns)) if any(row[place] not in NOTHING for row in rows)]
    return [columns[place] for place in kept], [[row[place] for place in kept] for row in rows]


def _ready_cell(cell):
    """Words to the left, numbers to the right: in a notebook all cells would go to the right."""
    return f'<td style="text-align:{"right" if isinstance(cell, int) else "left"}">{cell}</td>'


def _listed(title, columns, rows):
    return f"<h2>{title}</h2>{html_table(columns, rows)}" if rows else ""


def _left_out(left_out):
    if not left_out:
        return "<h2>Files left out</h2><p>None.</p>"
    return f"<h2>Files left out</h2><ul>{''.join(f'<li><bdi>{escape(one.why)}</bdi></li>' for one in left_out)}</ul>"


def _titled(title, class_set):
    return " · ".join(filter(None, [title, class_set.title, f"class mark {class_set.mark}"]))
