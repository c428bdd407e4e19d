"""Which files run one after the other on one worker, and which begin first: named after `-p` in pyproject.toml.

What is made once for the tests of a worker (`demo_designs`, the studies that a review keeps) is made once in all where the files that look
at it are one family. The longest pieces begin first, small files and notebooks level out the end. A worker is given two pieces to begin
with, so something small stands between the long ones. Without `-n` the order is the same. `-n auto` is one worker more than there are
cores: for servers, browsers and kernels they wait.
"""

import os

import pytest
from xdist.scheduler import LoadFileScheduling

__all__ = ["FAMILIES", "pytest_collection_modifyitems", "pytest_xdist_auto_num_workers", "pytest_xdist_make_scheduler", "scope_of"]

FAMILIES = {
    "designs": (
        "tests/test_no_limit_passed_is_a_pass.py",
        "tests/panels/test_one_verdict_on_every_page.py",
        "tests/panels/test_one_answer_everywhere.py",
        "tests/panels/test_commissioning_panel.py",
        "tests/panels/test_record_page.py",
        "tests/panels/test_sheet_and_panel_judge_alike.py",
        *(
            f"tests/studies/test_{name}.py"
            for name in ("alarm_limits", "door_forces", "failure_section", "fan_to_buy", "one_tuning", "open_doors", "record", "standing")
        ),
        *(
            f"tests/studies/test_{name}.py"
            for name in ("signed_sections", "standing_open_doors", "street_door", "tannery_row", "two_temperatures")
        ),
    ),
    "reviews": (
        *(f"tests/fuzz/test_{name}.py" for name in ("hostile_strategies", "names_are_only_text")),
        *(f"tests/panels/test_{name}.py" for name in ("printed", "review_panel")),
        *(
            f"tests/studies/test_review{name}.py"
            for name in ("", "_by_the_record", "_of_buildings", "_of_other_plants", "_on_its_site", "_remedies")
        ),
    ),
}
ORDER = ("tests/browser/test_pages_in_browser.py", "designs", "tests/formulas/", "reviews")  # then all others
_FAMILY_OF = {file: family for family, files in FAMILIES.items() for file in files}


def scope_of(nodeid):
    """The family of a test, or its file."""
    file = nodeid.split("::", 1)[0]
    return _FAMILY_OF.get(file, file)


def _place(nodeid):
    scope = scope_of(nodeid)
    return next((place for place, first in enumerate(ORDER) if scope.startswith(first)), len(ORDER))


class _ByFamily(LoadFileScheduling):
    """A family of files is one piece of work, any other file one."""

    def _split_scope(self, nodeid):
        return scope_of(nodeid)


@pytest.hookimpl(optionalhook=True, tryfirst=True)  # xdist has one of its own, and the first that answers counts
def pytest_xdist_auto_num_workers():
    """One more than there are cores."""
    return (os.cpu_count() or 1) + 1


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items):
    """The longest pieces first, each file's tests in their order."""
    items.sort(key=lambda item: _place(item.nodeid))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Pieces of work by family, where files are kept together at all."""
    return _ByFamily(config, log) if config.getvalue("dist") == "loadfile" else None
