"""A kernel of a class has nothing left to import: the parent knows every page."""

import ast
import json
from pathlib import Path

import pytest

from helpers.lessons import LESSONS

ROOT = Path(__file__).parents[2]
PAGES = sorted((ROOT / "notebooks").glob("*.ipynb"))  # the instructor's are not served


def imported(source):
    """Modules of ours that this source names; `from a import b` names a and a.b."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and node.module.startswith("helpers"):
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return {name for name in found if (ROOT / f"{name.replace('.', '/')}.py").exists()}


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.stem)
def test_the_warm_parent_has_imported_what_a_page_needs(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    needed = imported("\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code"))
    source = (ROOT / "helpers/serving/fork_server.py").read_text(encoding="utf-8")
    lessons = {f"helpers.lessons.{of.key}.lesson" for of in LESSONS}
    known = imported(source) | (lessons if "for _of in LESSONS" in source and '_of.file("lesson")' in source else set())
    assert needed
    assert needed <= known
