"""What a site file can hold, as entries to be typed: sections and keys read off the schema, so that a new key is there by itself.

A text becomes the value that would stand in the file and back. Whether the value can be is never judged here: the schema refuses it, with
its own sentence, and what was typed stays.
"""

import re
from dataclasses import dataclass
from functools import cache, cached_property
from types import NoneType
from typing import Literal, get_args, get_origin

from helpers import units
from helpers.model.files import texts
from helpers.model.site.criteria import standard_said
from helpers.model.site.errors import Mistake, SiteFileError, section_in
from helpers.model.site.field_types import OLDER_STANDARD_NAMES, CountOfEach, OneOf, Quantity, file_key
from helpers.model.site.file import toml_key, toml_text
from helpers.model.site.schema import Site

MEND = ": mend it in a text editor, and open it again"
YES, NO, EMPTY = "yes", "no", "none"
NUMBER = r"[-+−]?(?:\d+\.?\d*|\.\d+)"
_COUNTED = re.compile(r"\s*(\S.*?)\s*[:=]\s*(\d{1,6})\s*(?:[,;]|$)")
_ALL_COUNTED = re.compile(rf"(?:{_COUNTED.pattern})+")
_HEADING, _FILE_WORD = re.compile(r"\[+([\w.]+)\]+"), re.compile(r"\b[a-z]\w*_\w+\b")
_STANDARDS = ("standard", "second_standard")
DOOR_KINDS = ("stair_door", "final_exit_door", "lobby_door", "lift_door", "door", "exit_door")  # keys that name a kind of door


@dataclass(frozen=True)
class SiteKey:
    """One key of a section. kind: "quantity", "whole", "text", "flag", "choice" or "counts" (kinds with their numbers); options of a
    choice; several: "" for one value, "any" for a list, "or one" for a list that may be one value; dimension: of a quantity; needed:
    whether a file must state it; example: a value, as it is typed; usual: what it is where it is left out, as it is typed, "" where
    nothing is taken to be so."""

    section: str
    key: str
    label: str
    comment: str
    kind: str
    options: tuple[str, ...]
    several: str
    dimension: str
    needed: bool
    example: str
    usual: str

    @cached_property
    def meant(self):
        """What is meant by it, in the words of the page: the file's note with labels for its keys."""
        return in_labels(self.section, self.comment)

    def read(self, text):
        """The value as it would stand in a file; None for an empty text. What cannot be read stays the text that it is."""
        text = text.strip()
        if not text:
            return None
        if self.several == "any" and text == EMPTY:
            return []
        if self.kind == "counts":
            return {name: int(count) for name, count in _COUNTED.findall(text)} if _ALL_COUNTED.fullmatch(text) else text
        if self.several:
            parts = [part.strip() for part in re.split(r"[;,]\s+|;" if self.kind in ("quantity", "text") else r"[;,\s]+", text)]
            parts = _with_units([part for part in parts if part]) if self.kind == "quantity" else parts
            return self._one(text) if self.several == "or one" and len(parts) < 2 else [self._one(part) for part in parts]
        return self._one(text)

    def _one(self, text):
        if self.kind == "whole" and re.fullmatch(r"[-+−]?\d{1,6}", text):
            return int(text.replace("−", "-"))
        if self.kind == "flag" and text in (YES, NO):
            return text == YES
        if self.dimension == "ratio" and re.fullmatch(r"[-+]?\d{0,9}\.?\d{1,17}", text):
            return float(text)
        return text


def shown(value):
    """A value of a file as it is typed.

    >>> shown(None), shown(True), shown(["0 m3/s", "2 m3/s"]), shown([]), shown(0.5)
    ('', 'yes', '0 m3/s, 2 m3/s', 'none', '0.5')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return YES if value else NO
    if isinstance(value, dict):
        return ", ".join(f"{name}: {shown(count)}" for name, count in value.items())
    if isinstance(value, list):
        return ", ".join(map(shown, value)) or EMPTY
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def plain(value, entry=None):
    """Whether a value of a file can be typed: a figure, a text, or a list of them; where the entry counts kinds, a table of numbers."""
    if isinstance(value, dict) and entry is not None and entry.kind == "counts":
        return all(isinstance(count, int) for count in value.values())
    return all(map(plain, value)) if isinstance(value, list) else isinstance(value, (str, int, float))


def written(value):
    """A value as it stands in the file."""
    if isinstance(value, dict):
        return f"{{{', '.join(f'{toml_key(key)} = {written(one)}' for key, one in value.items())}}}"
    if isinstance(value, list):
        return f"[{', '.join(map(written, value))}]"
    if isinstance(value, bool):
        return str(value).lower()
    return toml_text(value) if isinstance(value, str) else repr(value)


def _with_units(parts):
    """Parts of a list whose last one alone has a unit: it is that of all."""
    last = re.fullmatch(rf"{NUMBER}\s*([^\d\s.,+\-−].*)", parts[-1]) if parts else None
    return [f"{part} {last[1]}" if last and re.fullmatch(NUMBER, part) else part for part in parts]


@cache
def option_said(entry, option):
    """An option of a list in plain words; the file's own word where nobody has others."""
    if entry.key in _STANDARDS:
        return standard_said(option)
    return texts("site_file")["options"].get(option, option.replace("_", " "))


def in_labels(section, words):
    """Words about a file in those of the page: labels for keys and titles for headings. What somebody wrote stays as it is.

    >>> in_labels("doors", "must state closer_force, all or none; got 'handle_to_edge'")
    "must state Closer and hinges, all or none; got 'handle_to_edge'"
    """
    ours, got, theirs = words.partition("; got ")
    ours = _HEADING.sub(lambda found: _heading_said(found[1]) or found[0], ours)
    ours = _FILE_WORD.sub(lambda found: _labels(section).get(found[0], found[0]), ours)
    return re.sub(r"\bfalse\b", NO, re.sub(r"\btrue\b", YES, ours)) + got + theirs


def _heading_said(name):
    part = sections().get(name)
    return part and part.title.partition(",")[0].lower()


@cache
def _labels(section):
    """What the page calls each word of the file that has a stroke in it, a section's own keys before the others'."""
    ordered = sorted(sections().values(), key=lambda part: part.name == section)
    entries = [entry for part in ordered for entry in part.entries.values()]
    options = {option: option_said(entry, option) for entry in entries for option in entry.options if entry.key not in _STANDARDS}
    return {word: said for word, said in (options | {entry.key: entry.label for entry in entries}).items() if "_" in word}


@dataclass(frozen=True)
class SitePart:
    """A table of the file. name: its heading, "site" for what stands above all tables; kind: "one", "list" ([[name]]) or "named"
    ([name.x]); one: what one of several is called; entries by key."""

    name: str
    title: str
    one: str
    kind: str
    needed: bool
    intro: str
    entries: dict[str, SiteKey]

    @property
    def path(self):
        """Where it stands in the file."""
        return () if self.name == "site" else tuple(self.name.split("."))


@cache
def sections():
    """All sections of a stair site's file by name, in the schema's order."""
    return {section.name: section for section in _sections(Site, "site", "one", True)}


@cache
def groups():
    """(title, asked entries, all other entries) of the questions: each key of the schema stands in one of them."""
    told, found = texts("site_file")["groups"], []
    left = [name for name in sections() if not any(name in group["sections"] for group in told)]
    for group in told:
        names = group["sections"] + (left if group is told[-1] else [])
        entries = [entry for name in names for entry in sections()[name].entries.values() if (name, entry.key) != ("site", "kind")]
        asked = [entry for entry in entries if f"{entry.section}.{entry.key}" in group["asked"]]
        found.append((group["title"], tuple(asked), tuple(entry for entry in entries if entry not in asked)))
    return tuple(found)


def _sections(model, name, kind, needed):
    told, entries, inner = texts("site_file"), {}, []
    if name == "storeys":  # a group states several levels
        label, comment = told["storeys"]["levels"]
        entries["levels"] = SiteKey(name, "levels", label, comment, "text", (), "", "", True, "0..13", "")
    for field_name, field in model.model_fields.items():
        key, within = file_key(field_name), section_in(field.annotation)
        if within:
            several = {list: "list", tuple: "list", dict: "named"}.get(get_origin(field.annotation), "one")
            inner += _sections(within, key if name == "site" else f"{name}.{key}", several, field.is_required())
        elif (name, key) != ("storeys", "level"):
            label, comment, *own = told.get(name, {}).get(key, (key.replace("_", " ").capitalize(), ""))
            *typed, example, usual = _typed(field, key)
            entries[key] = SiteKey(name, key, label, comment, *typed, *(own or [example]), usual)
    title, one = (*told["sections"].get(name, (name.replace("_", " ").replace(".", ", ").capitalize(),)), name)[:2]
    return [SitePart(name, title, one, kind, needed, told["intro"].get(name, ""), entries), *inner]


def _typed(field, key):
    """Kind, options, several, dimension, needed, example and usual value of a field of the schema."""
    hints = list(_hints([*field.metadata, field.annotation]))
    quantity = next((hint for hint in hints if isinstance(hint, Quantity)), None)
    one_of = next((hint.names if isinstance(hint, OneOf) else get_args(hint) for hint in hints
                   if isinstance(hint, OneOf) or get_origin(hint) is Literal), ())  # fmt: skip
    options = tuple(name for name in one_of if name not in OLDER_STANDARD_NAMES)
    counts = any(isinstance(hint, CountOfEach) for hint in hints)
    kind = (
        "counts"
        if counts
        else "quantity"
        if quantity
        else "choice"
        if options
        else "flag"
        if bool in hints
        else "whole"
        if int in hints
        else "text"
    )
    lists = [hint for hint in hints if get_origin(hint) is tuple]
    alone = float in hints and not all(Ellipsis in get_args(hint) for hint in lists)  # three or one; a facade's total
    several = "" if not lists and key != "drawing_name" else "or one" if alone or not lists else "any"
    default = None if field.is_required() or field.default_factory else field.default
    example = (
        quantity.example.strip('"')
        if quantity
        else options[0]
        if options
        else {"flag": NO, "whole": "1", "counts": "service landing: 1"}.get(kind, "...")
    )
    dimension = quantity.dimension if quantity else ""
    default = list(default) if isinstance(default, tuple) else default
    with_unit = dimension not in ("", "ratio") and default is not None
    usual = shown([units.write(one, dimension) for one in default] if with_unit and isinstance(default, list)
                  else units.write(default, dimension) if with_unit else default)  # fmt: skip
    return kind, options, several, dimension, field.is_required(), example, usual


def _hints(hints):
    """A field's annotation and all that is within it."""
    for hint in hints:
        if hint not in (None, NoneType):
            yield hint
            yield from _hints([*getattr(hint, "__metadata__", ()), *get_args(hint)] if get_origin(hint) is not Literal else ())


class KeyTable(dict):
    """The keys of one table of the file, each with what belongs to it. demo: keys whose figure is a demo building's; copied: those taken
    from the table before, when this one was added, and not looked at since; notes: what stands beside a key; before: lines over a key
    (None: over the heading); unstated: lines of keys behind a #."""

    def __init__(self, known=()):
        super().__init__(known)
        self.demo, self.copied, self.notes, self.before, self.unstated = set(), set(), {}, {}, {}


def is_table(key):
    """Whether a key above all tables is a table's."""
    return any(section.path[:1] == (key,) for section in sections().values())


def within(data, section):
    """What a file holds at a section; None for nothing."""
    for key in section.path:
        data = data.get(key) if isinstance(data, dict) else None
    return data


def tables_of(section, raw):
    """A section's table or tables. Raises SiteFileError where the file has something else there."""
    inner = {other.path[-1] for other in sections().values() if len(other.path) == 2 and other.path[:-1] == section.path}
    kinds = {"one": ("a table", dict), "list": ("tables in double brackets", list), "named": ("a table of named tables", dict)}
    words, kind = kinds[section.kind]
    raw = kind() if raw is None else raw
    several = {} if section.kind == "one" else raw if isinstance(raw, dict) else dict(enumerate(raw)) if isinstance(raw, list) else {}
    if not isinstance(raw, kind) or not all(isinstance(one, dict) for one in several.values()):
        raise SiteFileError("site file", [Mistake(section.path, f"must be {words}{MEND}")])
    for item, one in several.items() if section.kind != "one" else [(None, raw)]:
        for key, value in one.items():
            if key not in inner and not plain(value, section.entries.get(key)):
                place = (*section.path, *([] if item is None else [item]), key)
                raise SiteFileError("site file", [Mistake(place, f"must be a figure, a text or a list of them{MEND}")])
    if section.kind == "one":
        return KeyTable({key: value for key, value in raw.items() if key not in inner})
    return [KeyTable(one) for one in raw] if section.kind == "list" else {name: KeyTable(one) for name, one in raw.items()}
