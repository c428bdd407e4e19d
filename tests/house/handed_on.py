"""Parameters that a function only hands on, read from the source without running it.

    .venv/bin/python tests/house/handed_on.py

prints the chains of functions that hand a parameter on untouched through three layers of helpers/ or more. A function hands a parameter on
where every use of it is a bare argument of a call. A call is followed by its name, to the one function of a module that bears it.
"""

import ast
from collections import defaultdict
from functools import cached_property
from pathlib import Path

ROOT = Path(__file__).parents[2] / "helpers"
MOST_LAYERS = 2
WRITER = "units/said.py"  # of figures, whoever they come from: no layer of its own


class Functions:
    """All functions of these sources, {path: text}, and whither each of them hands its parameters."""

    def __init__(self, sources):
        trees = {path: ast.parse(source) for path, source in sources.items()}
        self.all = [(path, node) for path, tree in trees.items() for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
        of_modules = defaultdict(list)
        for path, tree in trees.items():
            for node in tree.body:
                if isinstance(node, ast.FunctionDef):
                    of_modules[node.name].append((path, node))
        self.by_name = {name: found[0] for name, found in of_modules.items() if len(found) == 1}

    @cached_property
    def handed(self):
        """{(path, function, parameter): [the same of each function that gets it]} of those that are handed on and nothing else."""
        return {
            (path, node.name, parameter): [
                (self.by_name[to][0], to, _named(self.by_name[to][1], place)) for to, place in calls if to in self.by_name
            ]
            for path, node in self.all
            for parameter, calls in _handed_on(node).items()
        }

    def chain_from(self, start, before=()):
        """The longest chain of functions from this one that hand the parameter on."""
        if start not in self.handed or start in before:
            return ()
        return (start, *max((self.chain_from(after, (*before, start)) for after in self.handed[start]), key=len, default=()))

    def through_layers(self):
        """Chains through more layers than a parameter may be handed through untouched."""
        chains = map(self.chain_from, self.handed)
        return [chain for chain in chains if len({path.split("/")[0] for path, *_ in chain if path != WRITER}) > MOST_LAYERS]


def _parameters(node):
    names = [argument.arg for argument in (*node.args.posonlyargs, *node.args.args)]
    return names[1:] if names[:1] in (["self"], ["cls"]) else names


def _named(node, place):
    """The parameter that an argument fills, given by its place or its name."""
    if isinstance(place, str):
        return place
    names = _parameters(node)
    return names[place] if place < len(names) else None


def _handed_on(node):
    """{parameter: [(called function, place or name of the argument)]} of the parameters that are handed on and nothing else."""
    uses, calls = defaultdict(int), defaultdict(list)
    for inner in ast.walk(node):
        if isinstance(inner, ast.Name):
            uses[inner.id] += 1
        elif isinstance(inner, ast.Call):
            called = inner.func.attr if isinstance(inner.func, ast.Attribute) else getattr(inner.func, "id", None)
            for place, argument in [*enumerate(inner.args), *((keyword.arg, keyword.value) for keyword in inner.keywords if keyword.arg)]:
                if isinstance(argument, ast.Name):
                    calls[argument.id].append((called, place))
    parameters = {*_parameters(node), *(argument.arg for argument in node.args.kwonlyargs)}
    return {name: calls[name] for name in parameters if uses[name] and len(calls[name]) == uses[name]}


def sources():
    """{path within helpers/: text} of the house."""
    return {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in sorted(ROOT.rglob("*.py"))}


if __name__ == "__main__":
    for chain in Functions(sources()).through_layers():
        print(" > ".join(f"{path}:{name}({parameter})" for path, name, parameter in chain))
