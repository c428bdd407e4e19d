"""Every stored notebook reads complete without a kernel, and says nothing of the machine or the hour it was stored on.

nbval runs the cells and compares their outputs; this looks at what lies in the file. The remedy is nearly always
`.venv/bin/python tests/notebooks/store_outputs.py`.
"""

import ast
import copy
import re
import statistics

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output
from store_outputs import NOTEBOOKS, WIDGET_VIEW, framed, made_plain

from helpers.teaching.plan import INSTRUCTORS_PAGES, LESSONS, PAGES

PATHS = {
    path.relative_to(NOTEBOOKS).as_posix(): path for path in sorted(NOTEBOOKS.rglob("*.ipynb")) if ".ipynb_checkpoints" not in path.parts
}
MOST_BYTES = 400_000
MOST_LINES, MOST_LINES_MEDIAN = 15, 5

OF_THIS_MACHINE = {
    "a path of this machine": r"(?<![\w.:/])/(?:home|root|tmp|work|Users|usr|var|opt|mnt)/|\b[A-Za-z]:\\|file://",
    "the address of an object": r"\b0x[0-9a-fA-F]{6,}",
    "a figure that waits for its system of units": r"[\x02\x03\x1a]",
    "a date or a time of day": r"\b20\d\d-\d\d-\d\d\b|\b\d\d:\d\d:\d\d\b",
}
LINK = re.compile(r"""(?:\]\(|(?:href|src)=["'])([^)#\s"']+)""")
EMBEDDED_PICTURE = re.compile(r"data:[\w/+.-]+;base64,[A-Za-z0-9+/=\s]+")


def code_cells(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def words(output):
    """All text of one output, pictures left out."""
    kinds = {kind: text for kind, text in output.get("data", {}).items() if kind.startswith("text/") or kind == "image/svg+xml"}
    return EMBEDDED_PICTURE.sub("", "\n".join([output.get("text", ""), *kinds.values()]))


def prose(notebook):
    return [cell.source for cell in notebook.cells if cell.cell_type == "markdown"]


def only_imports(cell):
    statements = ast.parse(re.sub(r"^\s*[%!].*$", "", cell.source, flags=re.MULTILINE)).body
    return bool(statements) and all(isinstance(statement, ast.Import | ast.ImportFrom) for statement in statements)


def run_once_from_top_to_bottom(notebook):
    counts = [cell.execution_count for cell in code_cells(notebook)]
    return [] if counts == list(range(1, len(counts) + 1)) else [f"cells were run in the order {counts}"]


def every_cell_shows_something(notebook):
    """Imports alone may stay silent. A cell that only prepares belongs to the one that shows what it prepared."""
    return [f"cell shows nothing: {cell.source[:60]!r}" for cell in code_cells(notebook) if not cell.outputs and not only_imports(cell)]


def no_cell_failed_or_warned(notebook):
    outputs = (output for cell in code_cells(notebook) for output in cell.outputs)
    return [f"{o.output_type}: {o.get('evalue', words(o))[:80]}" for o in outputs if o.output_type == "error" or o.get("name") == "stderr"]


def no_cell_is_let_off(notebook):
    """nbval is strict: no mark may take a cell out of the comparison."""
    marks = re.compile(r"nbval|raises-exception|validate_ignore", re.IGNORECASE)
    return [
        f"a mark for nbval: {cell.source[:60]!r}"
        for cell in notebook.cells
        if marks.search(f"{cell.source}{cell.metadata.get('tags', '')}")
    ]


def nothing_of_this_machine_or_hour(notebook):
    texts = [words(output) for cell in code_cells(notebook) for output in cell.outputs]
    found = [(what, re.search(pattern, text)) for what, pattern in OF_THIS_MACHINE.items() for text in texts]
    path = OF_THIS_MACHINE["a path of this machine"]
    found += [("a path of this machine", re.search(path, cell.source)) for cell in notebook.cells]
    return [f"{what}: {match.string[match.start() :][:60]!r}" for what, match in found if match]


def cells_are_short(notebook):
    lengths = [len(cell.source.splitlines()) for cell in code_cells(notebook)] or [0]
    short = max(lengths) <= MOST_LINES and statistics.median(lengths) <= MOST_LINES_MEDIAN
    return [] if short else [f"code cells: median {statistics.median(lengths)} lines, longest {max(lengths)}; long code belongs in helpers"]


def reads_without_a_kernel(notebook):
    """A live widget in a stored page says "model not found": a picture or words must stand in its place."""
    cells = (cell for cell in code_cells(notebook) if any(WIDGET_VIEW in output.get("data", {}) for output in cell.outputs))
    return [f"a live widget and nothing in its place: {cell.source[:60]!r}" for cell in cells]


def stored_by_the_tool(notebook):
    """Numbered cells, a plain python3 kernel, no releases, no timings: what store_outputs.py makes of it is what it is."""
    return [] if made_plain(copy.deepcopy(notebook)) == notebook else ["not in the stored form: run tests/notebooks/store_outputs.py"]


RULES = [
    run_once_from_top_to_bottom,
    every_cell_shows_something,
    no_cell_failed_or_warned,
    no_cell_is_let_off,
    nothing_of_this_machine_or_hour,
    cells_are_short,
    reads_without_a_kernel,
    stored_by_the_tool,
]


def test_the_page_the_readme_opens_is_here():
    assert "00_start_here.ipynb" in PATHS


@pytest.mark.parametrize("name", PATHS)
def test_a_page_reads_complete_before_it_is_run(name):
    notebook = nbformat.read(PATHS[name], as_version=4)
    assert [fault for rule in RULES for fault in rule(notebook)] == []


def test_the_plan_names_every_page_and_no_other():
    instructors = {f"instructor/{page.notebook}" for page in INSTRUCTORS_PAGES}
    assert {page.notebook for page in PAGES} | instructors == PATHS.keys()


@pytest.mark.parametrize("name", PATHS)
def test_a_page_begins_with_how_to_run_it_and_ends_with_the_way_on(name):
    notebook = nbformat.read(PATHS[name], as_version=4)
    assert framed(copy.deepcopy(notebook), PATHS[name].name) == notebook


@pytest.mark.parametrize("name", PATHS)
def test_code_is_folded_away_but_for_the_formula_of_a_lesson(name):
    cells = code_cells(nbformat.read(PATHS[name], as_version=4))
    in_view = [cell.source for cell in cells if not cell.metadata.get("jupyter", {}).get("source_hidden")]
    assert ["= f." in source for source in in_view] == [True] * (name in {lesson.notebook for lesson in LESSONS})


@pytest.mark.parametrize("name", [*PATHS, "../README.md"])
def test_a_page_is_called_by_its_number_and_title_wherever_a_link_leads_to_it(name):
    path = NOTEBOOKS / name
    texts = [path.read_text(encoding="utf-8")] if path.suffix == ".md" else prose(nbformat.read(path, as_version=4))
    names = {page.notebook: page.name for page in (*PAGES, *INSTRUCTORS_PAGES)}
    links = [link for text in texts for link in re.findall(r"\[(\d\d[^\]]*)\]\((?:[\w.]+/)*(\w+\.ipynb)\)", text)]
    assert [link for link in links if link[0] not in (link[1][:2], names[link[1]])] == []


SECTIONS = ("Cautions, first", "The words, said out loud", "Predict first", "What you predicted, and what comes out",
            "By hand, and against a published figure", "Exercises", "What goes wrong on site", "Summary for the reviewing engineer",
            "Take it along",
            "What to read")  # fmt: skip
LIKE_ONE_OF_THEM = re.compile(
    r"caution|\bwords\b|predict|by hand, and|exercises?$|goes wrong|summary for|take it|what to read", re.IGNORECASE
)


@pytest.mark.parametrize("name", PATHS)
def test_a_section_that_many_pages_have_has_one_name_on_all_of_them(name):
    texts = prose(nbformat.read(PATHS[name], as_version=4))
    heads = [head for text in texts for head in re.findall(r"^## (?:\d+\. )?(.+)$", text, re.MULTILINE)]
    assert [head for head in heads if LIKE_ONE_OF_THEM.search(head) and head not in SECTIONS] == []
    assert heads == [] or heads[0] == SECTIONS[0]
    listed = (NOTEBOOKS.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert [section for section in SECTIONS if f"*{section}*" not in listed] == []


GOES_WRONG, HEADS = "What goes wrong on site", "| Symptom | Cause | Check |"


@pytest.mark.parametrize("name", PATHS)
def test_the_table_of_what_goes_wrong_has_the_same_heads_on_every_page_and_every_table_begins_with_capitals(name):
    """Who has read one page finds the check in the same column of the next."""
    text = "\n".join(prose(nbformat.read(PATHS[name], as_version=4)))
    sections = re.findall(rf"^## {GOES_WRONG}\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    heads = [re.findall(r"^(\|.*\|)\n\|:?-", section, re.MULTILINE) for section in sections]
    assert heads == [[HEADS]] * len(sections)
    assert text.count(HEADS) == len(sections)
    every = [cell.strip() for row in re.findall(r"^\|(.*)\|\n\|:?-", text, re.MULTILINE) for cell in row.split("|")]
    assert [cell for cell in every if cell[:1].islower() and name[:2] not in ("04", "06")] == []  # there sentences that go on in the row


@pytest.mark.parametrize("name", PATHS)
def test_a_question_that_no_box_takes_an_answer_to_is_no_prediction(name):
    """To predict is to keep an answer; elsewhere one is asked before one looks."""
    assert [text for text in prose(nbformat.read(PATHS[name], as_version=4)) if re.search(r"\*\*Predict\b|^Predict:", text)] == []


@pytest.mark.parametrize("page", [*PAGES, *INSTRUCTORS_PAGES], ids=lambda page: page.key)
def test_a_page_bears_number_and_title_of_the_plan(page):
    (path,) = NOTEBOOKS.rglob(page.notebook)
    assert nbformat.read(path, as_version=4).cells[0].source.startswith(f"# {page.name}\n")


@pytest.mark.parametrize("name", PATHS)
def test_a_page_is_small_enough_to_open_on_site(name):
    assert PATHS[name].stat().st_size < MOST_BYTES


@pytest.mark.parametrize("name", [*PATHS, "../README.md", "../DEVELOPERS.md"])
def test_a_link_in_a_page_leads_somewhere(name):
    path = NOTEBOOKS / name
    texts = [path.read_text(encoding="utf-8")] if path.suffix == ".md" else prose(nbformat.read(path, as_version=4))
    targets = {target for text in texts for target in LINK.findall(text) if not re.match(r"\w+:", target)}
    assert [target for target in targets if not (path.parent / target).exists()] == []


def page():
    """A page without fault: words, imports, a figure."""
    figure = new_output("execute_result", {"text/plain": "25.0"}, execution_count=2)
    cells = [new_code_cell("import math", execution_count=1), new_code_cell("25.0", execution_count=2, outputs=[figure])]
    return made_plain(new_notebook(cells=[new_markdown_cell("# Pressure window"), *cells]))


def text(notebook):
    return notebook.cells[2].outputs[0].data


def spoil(rule, change, name):
    return pytest.param(rule, change, id=name)


FAULTS = [
    spoil(run_once_from_top_to_bottom, lambda p: p.cells[2].update(execution_count=7), "run out of order"),
    spoil(run_once_from_top_to_bottom, lambda p: p.cells[1].update(execution_count=None), "never run"),
    spoil(every_cell_shows_something, lambda p: p.cells[2].update(outputs=[]), "a silent cell"),
    spoil(
        no_cell_failed_or_warned, lambda p: p.cells[2].outputs.append(new_output("error", ename="ValueError", evalue="no leak")), "an error"
    ),
    spoil(
        no_cell_failed_or_warned, lambda p: p.cells[2].outputs.append(new_output("stream", name="stderr", text="deprecated")), "a warning"
    ),
    spoil(no_cell_is_let_off, lambda p: p.cells[2].update(source="# NBVAL_IGNORE_OUTPUT\n25.0"), "a let-off in the cell"),
    spoil(no_cell_is_let_off, lambda p: p.cells[2].metadata.update(tags=["nbval-skip"]), "a let-off in the tags"),
    spoil(nothing_of_this_machine_or_hour, lambda p: text(p).update({"text/plain": "saved /home/jo/record.html"}), "a path"),
    spoil(nothing_of_this_machine_or_hour, lambda p: text(p).update({"text/plain": r"saved C:\Users\jo\record.html"}), "a path on Windows"),
    spoil(nothing_of_this_machine_or_hour, lambda p: p.cells[2].update(source="open('/tmp/site.toml')"), "a path in the code"),
    spoil(nothing_of_this_machine_or_hour, lambda p: text(p).update({"text/plain": "<Fan at 0x7f3a2c1d>"}), "an address"),
    spoil(nothing_of_this_machine_or_hour, lambda p: text(p).update({"text/html": "made 2026-11-25 12:04"}), "a date"),
    spoil(cells_are_short, lambda p: p.cells[2].update(source="25.0\n" * 16), "a long cell"),
    spoil(cells_are_short, lambda p: [cell.update(source="25.0\n" * 6) for cell in p.cells], "long cells"),
    spoil(reads_without_a_kernel, lambda p: text(p).update({WIDGET_VIEW: {"model_id": "1"}}), "a live widget"),
    spoil(stored_by_the_tool, lambda p: p.metadata.kernelspec.update(display_name="my own 3.12"), "a kernel of one's own"),
    spoil(stored_by_the_tool, lambda p: p.metadata.language_info.update(version="3.11.7"), "a release"),
    spoil(stored_by_the_tool, lambda p: p.cells[0].update(id="8a6f21c4"), "a random id"),
    spoil(stored_by_the_tool, lambda p: p.cells[2].metadata.pop("jupyter"), "code in view"),
    spoil(stored_by_the_tool, lambda p: p.cells[2].update(source="from helpers import formulas as f"), "a formula folded away"),
]


def test_a_page_without_fault_is_let_through():
    assert [fault for rule in RULES for fault in rule(page())] == []


@pytest.mark.parametrize(("rule", "change"), FAULTS)
def test_a_fault_in_a_page_is_caught(rule, change):
    spoilt = page()
    change(spoilt)
    assert rule(spoilt)


def test_a_picture_takes_the_place_of_its_live_widget():
    view, picture = {WIDGET_VIEW: {"model_id": "1"}}, {"image/png": "iVBORw0KGgo="}
    live = page()
    live.cells[2].outputs = [new_output("display_data", {**view, "text/plain": "HBox(children=())", **picture})]
    assert reads_without_a_kernel(made_plain(live)) == []


def test_the_bare_name_of_a_widget_does_not_count_as_words():
    live = page()
    live.cells[2].outputs = [
        new_output("display_data", {WIDGET_VIEW: {"model_id": "1"}, "text/plain": "HBox(children=(IntSlider(value=2),))"})
    ]
    assert reads_without_a_kernel(made_plain(live))
