"""Files of one family run on one worker, and every family is of files that are there."""

from pathlib import Path

from side_by_side import FAMILIES, ORDER, pytest_collection_modifyitems, scope_of

ROOT = Path(__file__).parents[2]


class Item:
    """A test by its name alone."""

    def __init__(self, nodeid):
        self.nodeid = nodeid


def test_every_file_of_a_family_is_there_and_in_no_other():
    files = [file for family in FAMILIES.values() for file in family]
    assert [file for file in files if not (ROOT / file).is_file()] == []
    assert len(set(files)) == len(files)
    assert all(first in FAMILIES or (ROOT / first).exists() for first in ORDER)


def test_every_file_that_looks_at_the_shared_reviews_of_a_stair_belongs_to_a_family():
    look = ("review_of(",)
    mine = Path(__file__).parent
    users = [path for path in sorted((ROOT / "tests").rglob("test_*.py")) if any(word in path.read_text(encoding="utf-8") for word in look)]
    names = {path.relative_to(ROOT).as_posix() for path in users if path.parent != mine}
    assert names
    assert {scope_of(name) for name in names} <= set(FAMILIES)


def test_the_browser_comes_first_and_a_files_tests_stay_in_their_order():
    names = [
        "notebooks/12_design_record.ipynb::Cell 0", "tests/studies/test_review.py::b", "tests/studies/test_review.py::a",
        "tests/formulas/test_air.py::a", "tests/studies/test_record.py::a", "tests/browser/test_pages_in_browser.py::a",
    ]  # fmt: skip
    items = [Item(name) for name in names]
    pytest_collection_modifyitems(items)
    assert [item.nodeid for item in items] == [names[5], names[3], names[1], names[2], names[0], names[4]]


def test_two_workers_share_the_browsers_file_and_both_halves_come_first():
    name = "tests/browser/test_pages_in_browser.py::test_a_page_runs_and_does_what_its_reader_asks_of_it"
    odd, even, aside = f"{name}[09b_tested_in_may.ipynb]", f"{name}[12_design_record.ipynb]", f"{name}[instructor/21_a_class.ipynb]"
    assert scope_of(odd) != scope_of(even) == scope_of(aside) == scope_of(name)
    items = [Item("tests/formulas/test_air.py::a"), Item(odd), Item(even)]
    pytest_collection_modifyitems(items)
    assert [item.nodeid for item in items] == [odd, even, "tests/formulas/test_air.py::a"]
