"""A figure in a sentence stands in every system of units until the sentence is written out, and nobody's text is taken for one."""

import ast
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from helpers import units
from helpers.model.files import printable
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import SITES_FOLDER, read_site_text
from helpers.units.said import drawn, has_mark, in_each, of_system, three, two, unit_of, with_unit, written_out

PA, INCHES = units.SYSTEMS
HELPERS = Path(units.__file__).parents[1]
FORGED = "\x02one\x1aanother\x03"


@dataclass(frozen=True)
class Told:
    words: str
    rows: tuple = ()
    chart: object = None


@drawn
def chart(pressure_pa, *, system):
    return Told(f"{with_unit(pressure_pa, 'pressure')} in {system}")


@pytest.mark.parametrize("system", units.SYSTEMS)
@pytest.mark.parametrize(("value", "dimension", "digits"), [(24.9, "pressure", None), (-0.04, "pressure", 2), (1e-12, "area", None)])
def test_a_figure_is_written_out_as_it_is_shown(value, dimension, digits, system):
    said = with_unit(value, dimension, digits)
    assert written_out(f"Hold {said} here", system) == f"Hold {units.show(value, dimension, system, digits)} here"


def test_digits_may_differ_by_system_and_what_is_alike_in_all_is_plain_text():
    assert [written_out(with_unit(2.5, "pressure", (1, 3)), system) for system in units.SYSTEMS] == ["2.5 Pa", "0.010 in. w.c."]
    assert (of_system((1, 3), INCHES), of_system(None, PA), with_unit(49.9, "frequency")) == (3, None, "49.9 Hz")
    assert has_mark(unit_of("pressure"))
    assert not has_mark(unit_of("time"))


@pytest.mark.parametrize("value", [float("nan"), float("inf"), np.float64("-inf")])
def test_no_number_is_refused_in_a_sentence(value):
    with pytest.raises(ValueError, match="value_si must be a finite number"):
        with_unit(value, "pressure")


def test_an_unknown_dimension_or_system_is_refused_in_a_sentence():
    for refused in (lambda: with_unit(1.0, "weight"), lambda: unit_of("weight")):
        with pytest.raises(ValueError, match="dimension must be one of"):
            refused()
    with pytest.raises(ValueError, match="system must be one of Pa, in\\. w\\.c\\.; got 'psi'"):
        written_out("plain", "psi")


def test_everything_that_holds_texts_and_charts_is_written_out_and_the_rest_stays_itself():
    plain = Told("no figure", ("a", 1), np.ones(2))
    assert written_out(plain, INCHES) is plain
    told = Told(with_unit(25.0, "pressure"), ({"at": [with_unit(133.4, "force")]},), chart(249.0889))
    out = written_out((told, 3.0), INCHES)[0]
    assert (out.words, out.rows, out.chart) == ("0.10 in. w.c.", ({"at": ["30 lbf"]},), Told("1.00 in. w.c. in in. w.c."))
    assert [has_mark(one) for one in (told, out, plain, chart(1.0))] == [True, False, False, True]


def test_no_figure_of_a_sentence_is_written_as_a_power_of_ten():
    """.2g makes 1.2e+02 of 120 s: a time, gain or lag of two digits is written by `two`, what counts with three by `three`."""
    assert (two(99.4), two(99.6), two(1234.0), two(0.00012), three(999.6), three(12345.0)) == (
        "99",
        "100",
        "1200",
        "0.00012",
        "1000",
        "12300",
    )
    times = re.compile(r":\.[23]g\} (s|min|%/%|repeats|times)\b|:\.2g\} (to|and) \{")
    found = [
        f"{path.name}: {line.strip()}"
        for path in sorted(HELPERS.rglob("*.py"))
        for line in path.read_text("utf-8").splitlines()
        if times.search(line)
    ]
    assert found == []


def test_a_sentence_that_ends_in_a_unit_has_one_full_stop():
    assert written_out(f"Hold {with_unit(40.0, 'pressure')}. Not more.", INCHES) == "Hold 0.16 in. w.c. Not more."


def test_what_looks_at_letters_sees_them_written_out_in_each_system():
    same = in_each(lambda one, other: f"{one} both" if one == other else f"{one} and {other}")
    said = same(with_unit(24.9, "pressure"), with_unit(25.6, "pressure"))
    assert [written_out(said, system) for system in units.SYSTEMS] == ["25 Pa and 26 Pa", "0.10 in. w.c. both"]
    assert same("a", "a") == "a both"
    ends = in_each(lambda low, *, system: (f"{low:g} in {system}", "end"))(3)
    assert written_out(ends, INCHES) == ("3 in in. w.c.", "end")
    assert written_out(in_each(lambda text: f"<{text}>")(f"{said}: {said}"), INCHES).startswith("<0.10 in. w.c. both: ")  # marks in marks


def test_a_text_of_somebody_else_is_never_taken_for_a_figure():
    assert not has_mark(printable(FORGED))
    assert written_out("\x02no mark of ours\x03", INCHES) == "\x02no mark of ours\x03"
    text = (SITES_FOLDER / "larkfield_house.toml").read_text(encoding="utf-8")
    named = text.replace('name = "Larkfield House"', 'name = "\\u0002one\\u001aanother\\u0003"', 1)
    assert named != text
    with pytest.raises(SiteFileError, match="must hold no sign that is not seen"):
        read_site_text(named)


# Who may ask for the system: what hangs on it by itself (its digits, its round steps, a value that somebody types), and what writes a file.
ASKED = {
    "fault_bench/record.py": {"BenchRecord.judged"},
    "record/plot_builders.py": {"flow_steps", "range_chart", "signal_ladder"},  # charts whose axes end at round numbers
    "lessons/pressure_window/lesson.py": {"chart"},
    "studies/report.py": {"apart", "inside_text", "Written.in_system"},
    "studies/signals/plates.py": {"_is_shown", "_plate", "span_text"},
    "studies/measured/intervals.py": {"at_limit", "beside_window"},
    "studies/commissioning/sheets.py": {"write_injection_sheet", "_range_row", "_Readings.__init__", "Page.__init__"},
    "studies/commissioning/workbook.py": {"write_acceptance_sheet", "_DoorRows.__init__", "_si", "_day", "_plant"},
    "studies/commissioning/crew/book.py": {"write_book", "write_report", "_form", "_shown"},
    "studies/commissioning/cell_values.py": {"_number", "_typed_number", "in_si", "value_of"},
    "studies/commissioning/crew/read_back.py": {"_SheetReader.__init__"},
    "lessons/leakage_and_fan_duty/lesson.py": {"_tightness"},
    "teaching/questions.py": {"Measured.read", "Chosen.read", "exercise_of", "Prediction.read", "Story.typed_wrong", "Story.wrong_words"},
    "teaching/reading.py": {"quantity"},
    "teaching/record.py": {"LearnerRecord.predicted", "LearnerRecord.answered", "LearnerRecord.benched", "LearnerRecord._add"},
    "teaching/seeds.py": {"Draw.__init__"},
    "record/design.py": {"Design.record", "Design.section"},
    "record/plants/design.py": {"PlantDesign.record", "PlantDesign.section"},
    "record/plants/sections.py": {"_profile"},  # a chart of the review under another key
    "record/review/study.py": {"Review.in_system", "review"},
}


def test_who_makes_words_asks_for_no_system_of_units():
    found = {}
    for layer in ("model", "studies", "teaching", "record", "lessons", "fault_bench"):
        for path in sorted((HELPERS / layer).rglob("*.py")):
            for name, function in _functions(ast.parse(path.read_text(encoding="utf-8")).body):
                if any(one.arg == "system" for one in (*function.args.args, *function.args.kwonlyargs)):
                    found.setdefault(path.relative_to(HELPERS).as_posix(), set()).add(name)
    assert found == ASKED


def _functions(body, before=""):
    """(name with its class, function) of a module's functions and methods, and of lambdas by the function they stand in."""
    for node in body:
        if isinstance(node, ast.ClassDef):
            yield from _functions(node.body, f"{before}{node.name}.")
        elif isinstance(node, ast.FunctionDef):
            yield from ((f"{before}{node.name}", one) for one in ast.walk(node) if isinstance(one, ast.FunctionDef | ast.Lambda))
