"""Every label a reader may see, in one list, each once, with where it stands first: to be read as a tradesperson reads it.

Run it: `python tests/house/labels.py > labels.txt`. Where somebody would name a program or a maker on seeing a line, it gets another name.
"""

import ast
import json
import re
import tomllib
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
SHOWN = (
    "pages", "classroom", "fault_bench", "lessons", "widgets", "plots", "record", "teaching", "studies", "model", "units",
)  # fmt: skip
IDENTIFIER = re.compile(r"[a-z0-9_.:/%#-]*")  # names of fields, files and styles are no labels


@cache
def labels():
    """(label, where it stands) of every text that may be shown, each label once."""
    seen = {}
    for label, place in (*_of_helpers(), *_of_notebooks(), *_of_data(), *_of_files()):
        text = " ".join(label.split())
        if re.search(r"[^\W\d_]{2}", text):
            seen.setdefault(text, place)
    return seen


def texts_of(source):
    """(text, line) of each string in a Python source that may be shown: no docstrings, no names of fields."""
    tree = ast.parse(source)
    holders = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
    first = [node.body[0] for node in ast.walk(tree) if isinstance(node, holders) and node.body]
    docstrings = {id(node.value) for node in first if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in docstrings
            and not IDENTIFIER.fullmatch(node.value)
        ):
            yield node.value, node.lineno


def _of_helpers():
    for part in SHOWN:
        base = ROOT / "helpers" / part
        for path in sorted(base.rglob("*.py")) if base.is_dir() else [base]:
            for text, line in texts_of(path.read_text(encoding="utf-8")):
                yield text, f"{path.relative_to(ROOT).as_posix()}:{line}"


def _of_notebooks():
    """Headings, and the words of tables and lists in bold: the rest of the prose is read on the page."""
    for path in sorted((ROOT / "notebooks").rglob("*.ipynb")):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            if cell["cell_type"] == "markdown":
                text = "".join(cell["source"])
                for found in re.findall(r"(?m)^#+ (.+)$|\*\*([^*]+)\*\*|^\|([^-].*)\|$", text):
                    yield "".join(found), path.name


def _of_data():
    for path in sorted((ROOT / "data").rglob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        for key in _keys(table):
            yield key.replace("_", " "), path.name
        if path.parent.name == "texts":
            yield from ((text, path.name) for text in _texts(table))


def _keys(table):
    for key, value in table.items():
        yield key
        for inner in value if isinstance(value, list) else [value]:
            if isinstance(inner, dict):
                yield from _keys(inner)


def _texts(value):
    if isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from _texts(inner)
    elif isinstance(value, str):
        yield value


def _of_files():
    for folder in ("helpers", "notebooks", "data"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts:
                yield path.stem.replace("_", " "), "file name"


if __name__ == "__main__":
    for label, place in sorted(labels().items(), key=lambda pair: pair[0].casefold()):
        print(f"{label}\t{place}")
