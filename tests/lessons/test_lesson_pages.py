"""Every lesson's page has the shape of a lesson: what one will be able to, a prediction before the picture, exercises, a card."""

import ast
import re
from pathlib import Path

import nbformat
import pytest

from helpers import formulas as f
from helpers.teaching.plan import LESSONS
from helpers.teaching.plan import lesson as lesson_of

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
HEADINGS = (
    "Cautions, first",
    "The words, said out loud",
    "Exercises",
    "What goes wrong on site",
    "Summary for the reviewing engineer",
    "What to read",
)
CALLS_IN_ORDER = ("predict", "panel", "compare", "worked_example", "exercises", "senior_card")
TEXT_CELLS_A_CODE_CELL = (0.9, 3.0)


def page(lesson):
    return nbformat.read(NOTEBOOKS / lesson.notebook, as_version=4)


def texts(notebook):
    return [cell.source for cell in notebook.cells if cell.cell_type == "markdown"]


def code(notebook):
    return [cell.source for cell in notebook.cells if cell.cell_type == "code"]


def headings(notebook):
    return [found for text in texts(notebook) for found in re.findall(r"^##? (.+)$", text, re.MULTILINE)]


def calls(notebook):
    """Names of the lesson's parts in the order in which the page shows them."""
    trees = [ast.parse(source) for source in code(notebook)]
    found = [node for tree in trees for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return [call.func.attr for call in found if isinstance(call.func, ast.Attribute) and getattr(call.func.value, "id", "") == "lesson"]


def section(notebook, title):
    """The text under a heading, up to the next one."""
    whole = "\n".join(texts(notebook))
    return re.split(r"^##? ", whole.split(f"## {title}", 1)[1], maxsplit=1, flags=re.MULTILINE)[0]


@pytest.fixture(params=LESSONS, ids=lambda lesson: lesson.key)
def lesson(request):
    return request.param


def test_the_first_lines_say_title_time_and_what_it_builds_on(lesson):
    first = texts(page(lesson))[0]
    assert first.startswith(f"# {lesson.name}\n")
    assert re.search(rf"^\*\*Time:\*\* {lesson.minutes} minutes\b", first, re.MULTILINE)
    builds_on = first.split("**Builds on:**")[1]
    assert {lesson_of(key).notebook for key in lesson.builds_on} <= set(re.findall(r"\((\S+\.ipynb)\)", builds_on))


def test_three_lines_or_four_say_what_one_will_be_able_to(lesson):
    between = re.search(r"\*\*You will be able to\*\*\n(.*?)\*\*Time:", texts(page(lesson))[0], re.DOTALL)[1]
    assert len(re.findall(r"^- ", between, re.MULTILINE)) in (3, 4)


def test_the_page_has_every_part_of_a_lesson(lesson):
    assert [heading for heading in HEADINGS if heading not in headings(page(lesson))] == []


def test_one_predicts_before_the_picture_and_compares_after_it(lesson):
    order = calls(page(lesson))
    assert [name for name in CALLS_IN_ORDER if name not in order] == []
    assert order.index("predict") < order.index("panel") < order.index("compare")
    assert order.index("exercises") < order.index("senior_card")
    assert order.count("predict") == order.count("compare")


def test_every_comparison_answers_a_prediction_that_was_asked_before(lesson):
    asked, compared = [], []
    for source in code(page(lesson)):
        asked += re.findall(r"lesson\.predict\((.*?)\)", source)
        for name in re.findall(r"lesson\.compare\((.*?)\)", source):
            assert name in asked
            compared.append(name)
    assert sorted(asked) == sorted(compared)


def test_a_few_real_failures_with_symptom_cause_and_check(lesson):
    rows = [row for row in section(page(lesson), "What goes wrong on site").splitlines() if row.startswith("|")]
    assert [cell.strip().lower() for cell in rows[0].strip("|").split("|")][1:] == ["cause", "check"]
    assert 3 <= len(rows) - 2 <= 6


def test_cautions_say_who_decides(lesson):
    cautions = section(page(lesson), "Cautions, first").lower()
    assert "local code" in cautions
    assert "having jurisdiction" in re.sub(r"\s+", " ", cautions)


def test_text_and_code_take_turns(lesson):
    notebook = page(lesson)
    low, high = TEXT_CELLS_A_CODE_CELL
    assert low <= len(texts(notebook)) / len(code(notebook)) <= high


def test_the_page_leads_to_the_next_one(lesson):
    following = [other.notebook for other in LESSONS[LESSONS.index(lesson) + 1 :][:1]]
    assert all(f"({target})" in texts(page(lesson))[-1] for target in following)


def test_the_formula_just_derived_is_called_right_after_its_derivation(lesson):
    cells = page(lesson).cells
    (at,) = [number for number, cell in enumerate(cells) if "from helpers import formulas as f" in cell.source]
    assert cells[at - 2].source.startswith("lesson.derivation(")
    assert cells[at - 1].source.startswith("**Now you: the formula itself.**")
    called = re.search(r"= f\.(\w+\.\w+)\(", cells[at].source)[1]
    derived = NOTEBOOKS.parent / "helpers" / "lessons" / lesson.key / "derivations.py"
    assert f'"helpers.formulas.{called}"' in derived.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("key", "changed", "words"),
    [
        ("pressure_window", f.doors.opening_force(75, 0.91, 2.10, closer_force_n=70) - f.doors.opening_force(75, 0.91, 2.10, 40), "30 N"),
        ("leakage_and_fan_duty", 1e4 * f.leakage.in_series([1.9, 0.010]), "100 cm²"),
        ("transmitter_range", f.signals.resolution(0, 500, bits=12, signal="4-20 mA"), "0.153 Pa"),
        ("transmitter_range", f.signals.resolution(0, 125, bits=10, signal="4-20 mA"), "0.153 Pa"),
        ("scaling_the_signal", f.signals.to_units(9.12, "4-20 mA", 0, 250), "80 Pa"),
        ("scaling_the_signal", f.signals.to_units(9.12, "0-20 mA", 0, 125), "57 Pa"),
        ("average_lowest_highest", f.combining.combine([28, 53], "lowest"), "28 Pa"),
        ("where_the_transmitters_go", f.air.neutral_plane_height(42, 0.1, 0.2, -9, 10), "33.1 m"),
        ("tested_in_may", f.leakage.pressure_in_another_weather(45.9, 18.9, 0.170, 0.865, 0.907), "57.8 Pa"),
    ],
)
def test_what_the_page_says_will_come_out_does(key, changed, words):
    number, unit = words.split()
    digits = len(number.partition(".")[2])
    assert f"{changed:.{digits}f} {unit}" == words
    assert words in next(text for text in texts(page(lesson_of(key))) if text.startswith("**Now you"))


def test_a_loop_with_the_wrong_sign_runs_away_at_any_gain_and_twice_the_delay_halves_the_gain():
    assert (
        f.action.error_rate_per_s(1, 1.2, 0.6, 4)
        > f.action.error_rate_per_s(1, 1.2, 0.3, 4)
        > 0
        > f.action.error_rate_per_s(-1, 1.2, 0.6, 4)
    )
    assert f.tuning.simc_pi(1.41, 0.53, 0.28).gain == pytest.approx(f.tuning.simc_pi(1.41, 0.53, 0.14).gain / 2)
    assert f.fan.lowest_speed_for(600, 1150) == pytest.approx(2 * f.fan.lowest_speed_for(150, 1150))


def test_a_page_without_a_kernel_keeps_its_answers_folded_and_shows_no_way_to_an_exercise(lesson):
    """What the model says to a prediction is there to be read without a kernel, but only for who unfolds it."""
    for cell in page(lesson).cells:
        shown = "".join(text for output in cell.get("outputs", ()) for text in output.get("data", {}).get("text/html", ""))
        if "lesson.compare(" in cell.source:
            before, folded, answer = shown.partition("<details>")
            assert folded
            assert "Predict first" in before
            assert "the model says" not in before.lower()
            assert "The model says" in answer
        elif "lesson.exercises(" in cell.source:
            assert "The way there" not in shown
