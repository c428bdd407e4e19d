"""The house rules of helpers/, read from the source without running it: imports go one way, and every part can be found and read.

serving -> panels -> lessons -> studies -> model -> units -> formulas, only downward. Every import counts, also one inside a function.
"""

import ast
import re
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LAYERS = ("formulas", "units", "model", "studies", "lessons", "panels", "serving")  # from the ground up
FORMULAS_IMPORT = {"numpy", "typing"}  # besides other formulas
ONLY_IN_PANELS = {"IPython", "PIL", "ipywidgets", "matplotlib"}
EMPTY_NAMES = {"utils", "util", "common", "misc", "helper", "helpers", "tools"}
MOST_LINES = 400

SOURCES = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in sorted((ROOT / "helpers").rglob("*.py"))}


def module_of(path):
    """helpers/model/site/__init__.py -> helpers.model.site"""
    return re.sub(r"(/__init__)?\.py$", "", path).replace("/", ".")


def layer_of(module):
    """Layer of a module of ours; None for the package itself and for what others wrote."""
    parts = module.split(".")
    return parts[1] if parts[0] == "helpers" and len(parts) > 1 else None


@cache
def tree_of(source):
    """A source, taken apart once for all that is asked of it."""
    return ast.parse(source)


@cache
def nodes_of(source):
    return list(ast.walk(tree_of(source)))


@cache
def imports(source):
    """Each imported name in full, with its line: `from helpers.formulas import air` is helpers.formulas.air."""
    found = []
    for node in nodes_of(source):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            above = "." * node.level + (node.module or "")
            found += [(f"{above}.{alias.name}", node.lineno) for alias in node.names]
    return found


def wrong_imports(path, source):
    """What this file imports and may not, each in a sentence."""
    layer = layer_of(module_of(path))
    found = []
    for name, line in imports(source):
        top, target = name.split(".")[0], layer_of(name)
        if name.startswith("."):
            found.append(f"{path}:{line} imports {name}: write the full name, helpers.…")
        elif name == "helpers" or target == "*" or (target and target not in LAYERS and target != "__version__"):
            found.append(f"{path}:{line} imports {name}: name the layer, one of {', '.join(LAYERS)}")
        elif layer is None and top == "helpers":
            found.append(f"{path}:{line} imports {name}: the package itself stands under all layers and imports none")
        elif target in LAYERS and LAYERS.index(target) > LAYERS.index(layer):
            found.append(f"{path}:{line} imports upward, {name}")
        elif layer == "formulas" and top not in FORMULAS_IMPORT and target != "formulas":
            found.append(f"{path}:{line} imports {name}: a formula imports numpy and other formulas, nothing else")
        elif top in ONLY_IN_PANELS and layer != "panels":
            found.append(f"{path}:{line} imports {name}: widgets and pictures belong in panels")
    return found + hidden_imports(path, source)


def hidden_imports(path, source):
    """Imports by name at run time, which nobody can read from the top of the file."""
    calls = (node for node in nodes_of(source) if isinstance(node, ast.Call))
    names = ((getattr(call.func, "attr", getattr(call.func, "id", "")), call.lineno) for call in calls)
    return [f"{path}:{line} calls {name}: write an import statement" for name, line in names if name in ("import_module", "__import__")]


def ring_of_imports(sources):
    """Modules that import each other in a ring; None when there is no ring."""
    modules = {module_of(path): source for path, source in sources.items()}

    def held_by(name):
        while name and name not in modules:
            name = name.rpartition(".")[0]
        return name

    graph = {module: {held_by(name) for name, _ in imports(source)} - {"", module} for module, source in modules.items()}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as ring:
        return ring.args[1]
    return None


def unreadable(path, source):
    """What makes a file hard to find or to read: an empty name, too many lines, a public function or class that says nothing."""
    found = [f"{path}: the name {part} says nothing" for part in Path(path).with_suffix("").parts[1:] if part in EMPTY_NAMES]
    if source.count("\n") > MOST_LINES:
        found.append(f"{path}: {source.count(chr(10))} lines, {MOST_LINES} at most")
    tree = tree_of(source)
    if source and not ast.get_docstring(tree):
        found.append(f"{path}: no line at the top says what it is for")
    for node in tree.body:
        public = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) and not node.name.startswith("_")
        if public and not ast.get_docstring(node):
            found.append(f"{path}:{node.lineno} {node.name}: public, and no docstring")
    return found


def test_every_layer_below_the_lessons_is_here():
    layers = {layer_of(module_of(path)) for path in SOURCES} - {None}
    assert {"formulas", "units", "model", "studies", "panels"} <= layers <= set(LAYERS)


def test_imports_go_only_downward():
    assert [wrong for path, source in SOURCES.items() for wrong in wrong_imports(path, source)] == []


def test_no_two_files_import_each_other():
    assert ring_of_imports(SOURCES) is None


def test_a_record_loads_no_spreadsheet():
    """It stands on every page; openpyxl is for the sheets to take along."""
    modules, seen, todo = {module_of(path): source for path, source in SOURCES.items()}, set(), ["helpers.studies.record"]
    while todo:
        name = todo.pop()
        while name and name not in modules:
            assert name != "openpyxl", sorted(seen)
            name = name.rpartition(".")[0]
        if name and name not in seen:
            seen.add(name)
            todo += [found for found, _ in imports(modules[name])]
    assert len(seen) > 50


def test_every_file_is_named_and_short_and_says_what_it_does():
    assert [found for path, source in SOURCES.items() for found in unreadable(path, source)] == []


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("helpers/formulas/air.py", "import math"),
        ("helpers/formulas/air.py", "from helpers import units"),
        ("helpers/formulas/air.py", "from helpers.model.fan import Fan"),
        ("helpers/model/fan.py", "import helpers.studies.duty"),
        ("helpers/model/fan.py", "from helpers import panels"),
        ("helpers/model/fan.py", "from matplotlib.figure import Figure"),
        ("helpers/studies/duty.py", "import ipywidgets as w"),
        ("helpers/studies/duty.py", "def later():\n    from helpers.panels import picture"),
        ("helpers/studies/duty.py", "from ..panels import picture"),
        ("helpers/studies/duty.py", "from . import window"),
        ("helpers/studies/duty.py", "import helpers"),
        ("helpers/studies/duty.py", "from helpers import *"),
        ("helpers/studies/duty.py", "import importlib\nimportlib.import_module('helpers.panels')"),
        ("helpers/units.py", "from helpers.model import fan"),
        ("helpers/__init__.py", "from helpers.formulas import air"),
    ],
)
def test_an_import_that_breaks_the_rule_is_caught(path, line):
    assert len(wrong_imports(path, line)) == 1


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("helpers/formulas/air.py", "import numpy as np\nfrom helpers.formulas import require"),
        ("helpers/model/fan.py", "from helpers import units\nfrom helpers.formulas.fan import curve\nimport math"),
        ("helpers/panels/picture.py", "from matplotlib.figure import Figure\nfrom helpers.studies import duty"),
    ],
)
def test_an_import_downward_is_let_through(path, line):
    assert wrong_imports(path, line) == []


def test_a_ring_of_imports_is_caught():
    fan, tower = "from helpers.model.tower import Tower", "def later():\n    from helpers.model import fan"
    assert ring_of_imports({"helpers/model/fan.py": fan, "helpers/model/tower.py": "import math"}) is None
    assert "helpers.model.fan" in ring_of_imports({"helpers/model/fan.py": fan, "helpers/model/tower.py": tower})


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("helpers/model/utils.py", '"""Odds and ends."""\n'),
        ("helpers/misc/fan.py", '"""A fan."""\n'),
        ("helpers/model/fan.py", '"""A fan."""\n' + "x = 1\n" * MOST_LINES),
        ("helpers/model/fan.py", '"""A fan."""\n\ndef speed():\n    return 1\n'),
        ("helpers/model/fan.py", "x = 1\n"),
    ],
)
def test_a_file_nobody_can_find_or_read_is_caught(path, source):
    assert len(unreadable(path, source)) == 1
