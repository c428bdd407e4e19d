"""Which files run one after the other on one worker, and which begin first: named after `-p` in pyproject.toml.

What is made once for the tests of a worker (designs of changed sites, the studies that a review keeps) is made once in all where the files
that look at it are one family; the demo sites' designs go round among the workers, see `shared_store`. A family is no longer than a fifth
of the whole, or the others wait for it. The longest pieces begin first, small files and notebooks level out the end. A worker is given two
pieces to begin with, so something small stands between the long ones. Without `-n` the order is the same. `-n auto` is one worker more than
there are cores: for servers, browsers and kernels they wait.
"""

import os
import re

import pytest
from xdist.scheduler import LoadFileScheduling

__all__ = ["FAMILIES", "pytest_collection_modifyitems", "pytest_xdist_auto_num_workers", "pytest_xdist_make_scheduler", "scope_of"]

FAMILIES = {
    "records": (
        "tests/test_no_limit_passed_is_a_pass.py",
        *(f"tests/panels/test_{name}.py" for name in ("one_verdict_on_every_page", "one_answer_everywhere", "record_page")),
    ),
    "concepts": ("tests/studies/test_concepts.py", "tests/panels/test_concept_panel.py"),
    "fans": tuple(f"tests/studies/test_{name}.py" for name in ("fan_to_buy", "failure_section", "alarm_limits", "one_tuning")),
    "reviews of buildings": (
        *(f"tests/studies/test_review_{name}.py" for name in ("of_buildings", "on_its_site", "of_other_plants")),
        *(f"tests/fuzz/test_{name}.py" for name in ("hostile_strategies", "names_are_only_text")),
    ),
    "reviews": (
        *(f"tests/studies/test_review{name}.py" for name in ("", "_by_the_record", "_remedies")),
        *(f"tests/panels/test_{name}.py" for name in ("printed", "review_panel")),
    ),
}
ORDER = (  # then all others
    "tests/browser/test_pages_in_browser.py", "reviews of buildings", "tests/formulas/", "tests/studies/test_standing.py", "tests/model/",
    "records", "reviews", "fans", "tests/studies/test_times_said.py", "tests/studies/test_tuning_study.py",
    "tests/panels/test_sheet_and_panel_judge_alike.py",
)  # fmt: skip
HALVED = ORDER[0]  # the longest file of all, which two workers share: each opens a JupyterLab of its own
_FAMILY_OF = {file: family for family, files in FAMILIES.items() for file in files}


def scope_of(nodeid):
    """The family of a test, or its file; of the longest file a half: its pages with an odd number, and all else."""
    file, _, test = nodeid.partition("::")
    page = re.search(r"\[(\d+)", test) if file == HALVED else None
    return f"{file}, odd pages" if page and int(page[1]) % 2 else _FAMILY_OF.get(file, file)


def _place(nodeid):
    scope = scope_of(nodeid)
    begins = (place for place, first in enumerate(ORDER) if scope == first or (first.endswith(("/", HALVED)) and scope.startswith(first)))
    return next(begins, len(ORDER))


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
