"""The house rules of helpers/, read from the source without running it: imports go one way, and every part can be found and read.

Imports go only to layers that stand before one's own in `LAYERS`. Every import counts, also one inside a function. The front door (`FACE`)
stands on top of all: it may import any of them, and nothing imports it.
"""

import ast
import re
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LAYERS = (  # from the ground up
    "require", "formulas", "units", "model", "studies", "teaching", "plots", "record", "widgets", "lessons", "fault_bench", "pages",
    "classroom", "serving",
)  # fmt: skip
FACE = {"helpers", "helpers.__main__"}
FORMULAS_IMPORT = {"numpy", "statistics", "typing"}  # besides refusals and other formulas
WIDGETS_AND_PICTURES = {"IPython", "PIL", "ipywidgets", "matplotlib"}  # only from plots upward; of a lesson only in its page
OF_LESSONS_PAGE = {"lesson.py", "page.py"}
REGISTRY = "helpers/lessons/__init__.py"  # finds the folders that the plan names: the one that may import by name
EMPTY_NAMES = {"utils", "util", "common", "misc", "helper", "helpers", "tools"}
MOST_LINES, FEW_LINES, MOST_ENTRIES = 400, 60, 14

SOURCES = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in sorted((ROOT / "helpers").rglob("*.py"))}


def module_of(path):
    """helpers/model/site/__init__.py -> helpers.model.site"""
    return re.sub(r"(/__init__)?\.py$", "", path).replace("/", ".")


def layer_of(module):
    """Layer of a module of ours; None for the front door and for what others wrote."""
    parts = module.split(".")
    return parts[1] if parts[0] == "helpers" and len(parts) > 1 and module not in FACE else None


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


def may_show(path, layer):
    """Whether a file may import widgets and pictures."""
    if layer == "lessons":
        return path.rpartition("/")[2] in OF_LESSONS_PAGE
    return layer is not None and LAYERS.index(layer) >= LAYERS.index("plots")


def wrong_imports(path, source):
    """What this file imports and may not, each in a sentence."""
    layer, face = layer_of(module_of(path)), module_of(path) in FACE
    found = []
    for name, line in imports(source):
        top, target = name.split(".")[0], layer_of(name)
        if name.startswith("."):
            found.append(f"{path}:{line} imports {name}: write the full name, helpers.…")
        elif name in FACE or target == "*" or (target and target not in LAYERS and target != "__version__"):
            found.append(f"{path}:{line} imports {name}: name the layer, one of {', '.join(LAYERS)}")
        elif target in LAYERS and not face and LAYERS.index(target) > LAYERS.index(layer):
            found.append(f"{path}:{line} imports upward, {name}")
        elif layer == "formulas" and top not in FORMULAS_IMPORT and target not in ("require", "formulas"):
            found.append(f"{path}:{line} imports {name}: a formula imports numpy, statistics, refusals and other formulas, nothing else")
        elif top in WIDGETS_AND_PICTURES and not may_show(path, layer):
            found.append(f"{path}:{line} imports {name}: widgets and pictures belong in plots, widgets and above")
    return found + hidden_imports(path, source)


def hidden_imports(path, source):
    """Imports by name at run time, which nobody can read from the top of the file."""
    calls = (node for node in nodes_of(source) if isinstance(node, ast.Call))
    names = ((getattr(call.func, "attr", getattr(call.func, "id", "")), call.lineno) for call in calls)
    by_name = () if path == REGISTRY else ("import_module", "__import__")
    return [f"{path}:{line} calls {name}: write an import statement" for name, line in names if name in by_name]


def importers(sources):
    """{module: modules that import it} of these sources, {path: text}."""
    modules = {module_of(path): source for path, source in sources.items()}

    def held_by(name):
        if name == "helpers.__version__":  # a word, and no door
            return ""
        while name and name not in modules:
            name = name.rpartition(".")[0]
        return name

    seen = {module: {held_by(name) for name, _ in imports(source)} - {"", module} for module, source in modules.items()}
    return {module: {other for other, its in seen.items() if module in its} for module in modules}


def ring_of_imports(sources):
    """Modules that import each other in a ring; None when there is no ring."""
    try:
        TopologicalSorter(importers(sources)).prepare()
    except CycleError as ring:
        return ring.args[1]
    return None


def unreadable(path, source):
    """What makes a file hard to find or to read: an empty name, too many lines. That it says what it does is held by ruff's rules D."""
    found = [f"{path}: the name {part} says nothing" for part in Path(path).with_suffix("").parts[1:] if part in EMPTY_NAMES]
    if source.count("\n") > MOST_LINES:
        found.append(f"{path}: {source.count(chr(10))} lines, {MOST_LINES} at most")
    return found


def fields_of_any_kind(path, source):
    """Fields of a dataclass that say `object`, alone or within another type: nobody reads from that what stands in them."""
    kinds = [node for node in nodes_of(source) if isinstance(node, ast.ClassDef)]
    return [
        f"{path}:{field.lineno} {kind.name}.{ast.unparse(field.target)}: {ast.unparse(field.annotation)}, say its type"
        for kind in kinds
        if any(re.match(r"(dataclasses\.)?dataclass\b", ast.unparse(decorator)) for decorator in kind.decorator_list)
        for field in kind.body
        if isinstance(field, ast.AnnAssign) and re.search(r"\bobject\b", ast.unparse(field.annotation))
    ]


def doubles(sources):
    """Names of classes that stand for two things; a stroke before a name makes no other of it."""
    found = {}
    for path, source in sources.items():
        for node in nodes_of(source):
            if isinstance(node, ast.ClassDef):
                found.setdefault(node.name.lstrip("_"), []).append(f"{path} {node.name}")
    return [" and ".join(places) for places in found.values() if len(places) > 1]


def slices(sources):
    """Files that are a slice of the one file that imports them. A package's head and a program of its own are none."""
    by = importers(sources)
    return [
        f"{path}: {source.count(chr(10))} lines for {next(iter(by[module_of(path)]), 'nobody')} alone: put it there"
        for path, source in sources.items()
        if source.count("\n") < FEW_LINES and len(by[module_of(path)]) < 2 and not path.endswith("__init__.py") and "__main__" not in source
    ]


def entries(sources):
    """{folder: names in it} of these sources; a folder counts as one name, its head and its program as none."""
    found = {}
    for path in sources:
        parts = path.removesuffix(".py").split("/")
        for depth in range(1, len(parts)):
            found.setdefault("/".join(parts[:depth]), set()).add(parts[depth])
    return {folder: names - {"__init__", "__main__"} for folder, names in found.items()}


def crowded(sources):
    """Folders in which nobody finds anything: too full, or with a name that is another one and a suffix (a folder is missing)."""
    found = [
        f"{folder}: {len(names)} entries, {MOST_ENTRIES} at most" for folder, names in entries(sources).items() if len(names) > MOST_ENTRIES
    ]
    return found + [
        f"{folder}: {longer} is {name} and a suffix, make a folder {name}"
        for folder, names in entries(sources).items()
        for name in sorted(names)
        for longer in sorted(names)
        if longer.startswith(f"{name}_")
    ]


def test_every_layer_is_here():
    assert {layer_of(module_of(path)) for path in SOURCES} - {None} == set(LAYERS)


def test_imports_go_only_downward():
    assert [wrong for path, source in SOURCES.items() for wrong in wrong_imports(path, source)] == []


def test_no_two_files_import_each_other():
    assert ring_of_imports(SOURCES) is None


def test_every_file_is_named_and_short():
    assert [found for path, source in SOURCES.items() for found in unreadable(path, source)] == []


def test_every_field_says_its_type():
    assert [found for path, source in SOURCES.items() for found in fields_of_any_kind(path, source)] == []


def test_a_class_name_has_one_meaning():
    assert doubles(SOURCES) == []


def test_no_file_is_a_slice_of_another():
    assert slices(SOURCES) == []


def test_no_folder_is_crowded():
    assert crowded(SOURCES) == []


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("helpers/require.py", "from helpers.formulas import air"),
        ("helpers/formulas/air.py", "import math"),
        ("helpers/formulas/air.py", "from helpers import units"),
        ("helpers/formulas/air.py", "from helpers.model.air.fan import Fan"),
        ("helpers/model/air/fan.py", "import helpers.studies.cases"),
        ("helpers/model/air/fan.py", "from helpers import widgets"),
        ("helpers/model/air/fan.py", "from matplotlib.figure import Figure"),
        ("helpers/studies/cases.py", "import ipywidgets as w"),
        ("helpers/studies/cases.py", "def later():\n    from helpers.record import design"),
        ("helpers/studies/cases.py", "from ..record import design"),
        ("helpers/studies/cases.py", "from . import status"),
        ("helpers/studies/cases.py", "import helpers"),
        ("helpers/studies/cases.py", "from helpers import *"),
        ("helpers/studies/cases.py", "from helpers.panels import picture"),
        ("helpers/studies/cases.py", "import importlib\nimportlib.import_module('helpers.plots')"),
        ("helpers/units.py", "from helpers.model.air import fan"),
        ("helpers/lessons/pressure_window/questions.py", "import ipywidgets"),
        ("helpers/lessons/pressure_window/lesson.py", "from helpers.pages import design"),
        ("helpers/__init__.py", "from helpers import *"),
        ("helpers/serving/desks.py", "from helpers import Design"),
        ("helpers/serving/desks.py", "from helpers.__main__ import main"),
    ],
)
def test_an_import_that_breaks_the_rule_is_caught(path, line):
    assert len(wrong_imports(path, line)) == 1


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("helpers/formulas/air.py", "import numpy as np\nfrom helpers import require\nfrom helpers.formulas import kernels"),
        ("helpers/model/air/fan.py", "from helpers import units\nfrom helpers.formulas.fan import curve\nimport math"),
        ("helpers/plots/picture.py", "from matplotlib.figure import Figure\nfrom helpers.studies import cases"),
        ("helpers/lessons/pressure_window/lesson.py", "import ipywidgets\nfrom helpers.plots import profile"),
        ("helpers/__init__.py", "def later():\n    from helpers.record.design import Design"),
        ("helpers/__main__.py", "from helpers.serving.__main__ import main"),
    ],
)
def test_an_import_downward_is_let_through(path, line):
    assert wrong_imports(path, line) == []


def test_a_ring_of_imports_is_caught():
    fan, tower = "from helpers.model.air.tower import Tower", "def later():\n    from helpers.model.air import fan"
    assert ring_of_imports({"helpers/model/air/fan.py": fan, "helpers/model/air/tower.py": "import math"}) is None
    assert "helpers.model.air.fan" in ring_of_imports({"helpers/model/air/fan.py": fan, "helpers/model/air/tower.py": tower})


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("helpers/model/utils.py", '"""Odds and ends."""\n'),
        ("helpers/misc/fan.py", '"""A fan."""\n'),
        ("helpers/model/fan.py", '"""A fan."""\n' + "x = 1\n" * MOST_LINES),
    ],
)
def test_a_file_nobody_can_find_or_read_is_caught(path, source):
    assert len(unreadable(path, source)) == 1


@pytest.mark.parametrize("kind", ["object", "object | None", "tuple[object, ...]", '"object"'])
@pytest.mark.parametrize("mark", ["dataclass", "dataclass(frozen=True)", "dataclasses.dataclass"])
def test_a_field_of_any_kind_is_caught(mark, kind):
    assert len(fields_of_any_kind("helpers/model/fan.py", f"@{mark}\nclass Fan:\n    curve: {kind} = None\n    hz: float = 50.0\n")) == 1


def test_a_name_of_two_classes_is_caught():
    house = {"helpers/model/fan.py": "class Fan:\n    pass\n", "helpers/plots/fan.py": "class _Fan:\n    pass\n"}
    assert doubles(house) == ["helpers/model/fan.py Fan and helpers/plots/fan.py _Fan"]
    assert doubles({"helpers/model/fan.py": "class Fan:\n    pass\nclass Wheel:\n    pass\n"}) == []


def test_a_short_file_for_one_other_is_caught_and_one_for_two_is_not():
    house = {"helpers/model/lift.py": "x = 1\n", "helpers/model/fan.py": "from helpers.model import lift\n" + "x = 1\n" * FEW_LINES}
    assert slices(house) == ["helpers/model/lift.py: 1 lines for helpers.model.fan alone: put it there"]
    assert slices(house | {"helpers/model/duct.py": house["helpers/model/fan.py"]}) == []


def test_a_full_folder_and_a_suffix_are_caught():
    assert crowded({f"helpers/model/m{number}.py": "" for number in range(MOST_ENTRIES)}) == []
    assert crowded({f"helpers/model/m{number}.py": "" for number in range(MOST_ENTRIES + 1)}) == ["helpers/model: 15 entries, 14 at most"]
    assert crowded({"helpers/model/fan.py": "", "helpers/model/fan_power.py": ""}) == [
        "helpers/model: fan_power is fan and a suffix, make a folder fan"
    ]
