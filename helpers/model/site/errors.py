"""What is wrong with a site file, in one sentence each: where it stands, what was found, what is allowed."""

import re
import tomllib
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal, get_args, get_origin

from helpers.model.files import MOST_TOLD
from helpers.model.site.field_types import OneOf, Quantity, SiteTable, file_key, found


@dataclass(frozen=True)
class Mistake:
    """One mistake: its place as a path of tables, numbers and key, a sentence, and the line of the file where it is known."""

    place: tuple
    sentence: str
    line: int | None = None

    def __str__(self):
        return self.text()

    def text(self, file=None):
        """The sentence with its place before it."""
        where = [file, self.line and f"line {self.line}", self.place and place_in_words(self.place)]
        return f"{', '.join(filter(None, where))}: {self.sentence}"


class SiteFileError(ValueError):
    """All mistakes of a site file. A notebook shows the sentences and no traceback."""

    def __init__(self, file, mistakes):
        self.file, self.mistakes = str(file), list(mistakes)
        told = [mistake.text(self.file) for mistake in self.mistakes[:MOST_TOLD]]
        more = [f"{self.file}: there are more mistakes; these come first"] if len(self.mistakes) > MOST_TOLD else []
        super().__init__("\n".join(told + more))

    def _render_traceback_(self):
        return [str(self)]


_LISTS = ("storeys", "supplies", "transmitters", "sections", "zones", "inputs", "forces", "open_door_speeds", "devices", "leaves",
          "stair.more_reliefs")  # fmt: skip
_TABLES = (
    "doors", "leakage", "stair", "lift", "fan", "temperatures", "weather", "control",
    "balance", "demand", "boxes", "traffic", "cars", "loop", "low_demand", "on_bad_reading", "alarms",
    "standby", "second_fan", "second_gas", "second_shaft", "riser", "design", "override", "restart",
    "least_doors_shut", "most_doors_shut", "least_exit_open", "response",
)  # fmt: skip
_NAMED = ("doors", "weather", "balance", "demand", "traffic")  # tables of named tables


def place_in_words(place):
    """Table and key as they stand in the file.

    >>> place_in_words(("storeys", 1, "height")), place_in_words(("doors", "flat landing", "width")), place_in_words(("fan", "flows", 2))
    ('[[storeys]] number 2, height', '[doors."flat landing"] width', '[fan] flows, value 3')
    """
    table, *rest = place
    if rest and (inner := f"{table}.{rest[0]}") in _LISTS:
        table, *rest = inner, *rest[1:]
    if table in _LISTS:
        number = f" number {rest[0] + 1}" if rest and isinstance(rest[0], int) else ""
        return ", ".join([f"[[{table}]]{number}", *_keys(rest[1:])])
    if table not in _TABLES:
        return ", ".join(_keys(place))
    names = [part for part in rest if isinstance(part, str)]
    depth = len(names) if table in _NAMED and len(names) == 1 else max(len(names) - 1, 0)
    heading = f"[{'.'.join([table, *map(_quoted, names[:depth])])}]"
    return f"{heading} {', '.join(_keys(rest[depth:]))}".strip()


def _keys(parts):
    return [f"value {part + 1}" if isinstance(part, int) else _quoted(part) for part in parts]


def _quoted(key):
    return key if re.fullmatch(r"[\w-]{1,60}", key) else f'"{repr(key)[1:-1]:.60}"'  # no sign that would break or turn the sentence


def mistakes_of(errors, model, prefix=()):
    """Mistakes from pydantic's list of errors about a model; a site's own refusal within them is unfolded."""
    mistakes = []
    for error in errors[:MOST_TOLD]:
        if error["type"] == "default_factory_not_called":  # follows from another mistake, told by itself
            continue
        if error["type"] == "too_short" and any(len(e["loc"]) > len(error["loc"]) == _alike(e["loc"], error["loc"]) for e in errors):
            continue  # so is this one: values that were refused are not counted
        inner = error.get("ctx", {}).get("error")
        if isinstance(inner, SiteFileError):
            mistakes += inner.mistakes
        else:
            mistakes.append(Mistake((*prefix, *_in_file(error["loc"], model)), _sentence(error, model)))
    return mistakes


def _alike(one, other):
    """How many parts two places have in common from the first."""
    return next((depth for depth, parts in enumerate(zip(one, other, strict=False)) if parts[0] != parts[1]), min(len(one), len(other)))


def _in_file(loc, model):
    """The place with the keys of the file instead of field names."""
    return tuple(file_key(part) if part in owner(model, loc[: depth + 1]).model_fields else part for depth, part in enumerate(loc))


def _sentence(error, model):
    kind = error["type"]
    limits = error.get("ctx", {})
    if kind == "value_error":
        return str(limits["error"])
    if kind == "missing":
        return missing(error["loc"], model)
    if kind == "extra_forbidden":
        return unknown_key(str(error["loc"][-1]), [file_key(name) for name in owner(model, error["loc"]).model_fields])
    if kind in ("too_short", "too_long"):
        word = "at least" if kind == "too_short" else "at most"
        number = limits.get("min_length") if kind == "too_short" else limits.get("max_length")
        return f"must hold {word} {number} {'value' if number == 1 else 'values'}" + f"; got {limits['actual_length']}"
    if kind == "model_type" and isinstance(error["input"], list):
        return f"must be one table, its name in single brackets: there can be one only; got {len(error['input'])} in double brackets"
    if kind == "tuple_type" and error["loc"] and section_in(_field(owner(model, error["loc"]), error["loc"][-1]).annotation):
        kind = "list_type"
    if kind in _SENTENCES:
        return f"{_SENTENCES[kind].format(**limits)}; got {found(error['input'])}"
    return f"{error['msg'].replace('Input should', 'must')}; got {found(error['input'])}"


_PLAIN = {str: "text in quotation marks", bool: "true or false", int: "a whole number without quotation marks"}

_SENTENCES = {
    "string_type": f"must be {_PLAIN[str]}",
    "string_too_short": "must not be empty",
    "bool_type": f"must be {_PLAIN[bool]}",
    "int_type": f"must be {_PLAIN[int]}",
    "greater_than_equal": "must be {ge} or more",
    "less_than_equal": "must be {le} or less",
    "multiple_of": "must be a multiple of {multiple_of}",
    "literal_error": "must be {expected}",
    "model_type": "must be a table",
    "dict_type": "must be a table of named tables",
    "list_type": "must be tables, each headed by the name in double brackets",
    "tuple_type": "must be a list",
}


def unknown_key(key, known):
    """Sentence about a key that no table knows, with the nearest right one."""
    near = get_close_matches(key, known, n=1, cutoff=0.6) or get_close_matches(file_key(key), known, n=1, cutoff=0.6)
    return f"is not known here; the nearest right key is {near[0]}" if near else f"is not known here; the keys are {', '.join(known)}"


def owner(model, loc):
    """The model that has, or should have, the last part of the place as its field."""
    for part in loc[:-1]:
        field = _field(model, part)
        model = section_in(field.annotation) or model if field else model
    return model


def section_in(annotation):
    """The model inside a field's annotation, such as Storey in list[Storey]; None where there is none."""
    if isinstance(annotation, type) and issubclass(annotation, SiteTable):
        return annotation
    return next(filter(None, map(section_in, get_args(annotation))), None)


def _field(model, part):
    return next((field for name, field in model.model_fields.items() if part in (name, file_key(name))), None)


def missing(loc, model):
    """Sentence about a key that is needed and not there, with what it must be."""
    field = _field(owner(model, loc), loc[-1])
    if field is None:
        return "is missing; the list is too short"
    if section_in(field.annotation):
        called = getattr(owner(model, loc), "called", "site")
        return f"is missing; every {called} needs {'it' if get_origin(field.annotation) is None else 'one at least'}"
    return f"is missing; it must be {next(_allowed([*field.metadata, field.annotation]), 'stated')}"


def _allowed(hints):
    for hint in hints:
        if isinstance(hint, Quantity):
            yield hint.allowed()
        elif isinstance(hint, OneOf):
            yield f"one of {', '.join(map(repr, hint.names))}"
        elif get_origin(hint) is Literal:
            yield f"one of {', '.join(map(repr, get_args(hint)))}"
        elif hint in _PLAIN:
            yield _PLAIN[hint]
        else:
            yield from _allowed([*getattr(hint, "__metadata__", ()), *get_args(hint)])


_HEADER = re.compile(r"\s*(\[\[?)(.+?)\]\]?\s*(#.*)?$")
_ASSIGNMENT = re.compile(r"""\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")


def lines_of(text):
    """Line number of every table and key of a TOML text that was read without complaint, by place."""
    lines, table, counts, in_text = {}, (), {}, False
    for number, line in enumerate(text.split("\n"), start=1):  # as TOML counts them: other signs that end a line may stand in a text
        was_in_text, in_text = in_text, in_text ^ bool((line.count('"""') + line.count("'''")) % 2)
        header, assignment = _HEADER.match(line), _ASSIGNMENT.match(line)
        if was_in_text or not (header or assignment):
            continue
        try:
            place = (*table, *_path(assignment[1])) if assignment else _table(header, counts)
        except tomllib.TOMLDecodeError:
            continue  # a line of a list or a text that only looks like one
        table = table if assignment else place
        lines.setdefault(place, number)
    return lines


def _table(header, counts):
    path = _path(header[2])
    if header[1] == "[[":
        counts[path] = counts.get(path, -1) + 1
        return (*path, counts[path])
    return path


def _path(key):
    value, path = tomllib.loads(f"{key} = 0"), ()
    while isinstance(value, dict):
        ((name, value),) = value.items()
        path += (name,)
    return path


def line_of(place, lines):
    """Line of a place, or of the nearest table around it; of a list of tables, its first."""
    around = [place[:depth] for depth in range(len(place), 0, -1)]
    return next((lines[known] for part in around for known in (part, (*part, 0)) if known in lines), None)
