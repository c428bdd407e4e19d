"""The public names of helpers, a line each, read from the source: run this file to write them into `helpers/NAMES.md`."""

import ast
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "helpers" / "NAMES.md"
LAYERS = (
    "require", "formulas", "units", "model", "studies", "teaching", "plots", "record", "widgets", "lessons", "fault_bench",
    "pages", "classroom", "serving",
)  # fmt: skip
HEAD = """# The public names of helpers

Written by `.venv/bin/python tests/house/public_names.py` from the docstrings; a test holds it to them. What each takes and returns, in
which unit, by which equation, from which source and within which limits stands in its docstring: `help(name)`.

    serving -> classroom -> pages -> fault_bench -> lessons -> widgets -> record -> plots -> teaching -> studies
        -> model -> units -> formulas -> require        imports go only this way
"""


@cache
def tree_of(source):
    """A source, taken apart once."""
    return ast.parse(source)


def public_names(source):
    """(name, first sentence of its docstring) of what a file makes public, in its order; where it has an `__all__`, of those."""
    body = tree_of(source).body
    named = [ast.literal_eval(node.value) for node in body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"]
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_") and (not named or node.name in named[0]):
            yield node.name, _first_sentence(ast.get_docstring(node) or "")


@cache
def page():
    """The text of the page."""
    return HEAD + "".join(_layer(layer) for layer in LAYERS)


def _layer(layer):
    folder = ROOT / "helpers" / layer
    files = sorted(folder.rglob("*.py")) if folder.is_dir() else [folder.with_suffix(".py")]
    return f"\n## {layer}\n" + "".join(filter(None, map(_module, files)))


def _module(path):
    source = path.read_text(encoding="utf-8")
    names = list(public_names(source))
    if not names:
        return ""
    module = path.relative_to(ROOT).with_suffix("").as_posix().replace("/", ".").removesuffix(".__init__")
    about = _first_sentence(ast.get_docstring(tree_of(source)) or "")
    return f"\n**`{module}`** — {about}\n\n" + "".join(f"- `{name}`: {line}\n" for name, line in names)


def _first_sentence(docstring):
    paragraph = " ".join(docstring.split("\n\n")[0].split())
    end = paragraph.find(". ")
    return paragraph if end < 0 else paragraph[: end + 1]


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
    print(f"{PAGE.relative_to(ROOT)}: {page().count(chr(10) + '- ')} names")
