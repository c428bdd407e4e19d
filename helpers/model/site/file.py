"""From a site file to a `Site`, or to one refusal that tells all its mistakes; and back to a text that reads as an equal one."""

import json
import re
import tomllib
from dataclasses import dataclass, field
from functools import cache
from itertools import groupby, islice
from pathlib import Path
from typing import Annotated, get_args, get_origin

from pydantic import TypeAdapter, ValidationError

from helpers import units
from helpers.model.files import MOST_BYTES, MOST_GROUPS, MOST_LAID, MOST_TOLD, FileTextError, endless, shown_name, text_of
from helpers.model.site.checks import Draft, disagreements
from helpers.model.site.errors import Mistake, SiteFileError, line_of, lines_of, missing, mistakes_of, section_in, unknown_key
from helpers.model.site.field_types import HIGHEST_LEVEL, LOWEST_LEVEL, Quantity, SiteTable, file_key, found
from helpers.model.site.schema import Site

_LEVELS = re.compile(r"\s*(-?\d{1,18})\s*(?:\.\.\s*(-?\d{1,18})\s*)?$")
_CALLED_FOR_BY = {"lobby_door": "lobby", "lift_door": "lift_doors"}  # a key that is missing, and the one that asks for it


@dataclass
class Groups:
    """Storeys by level as raw tables, which group each key came from, and what was wrong with the groups themselves."""

    by_level: dict = field(default_factory=dict)
    sources: dict = field(default_factory=dict)
    mistakes: list = field(default_factory=list)
    unplaced: bool = False  # a group's levels cannot be read, so what the storeys lack cannot be known
    laid: int = 0  # levels of all groups together

    def lay_over(self, number, table, levels):
        """Lay a group's keys over those of earlier groups."""
        told_by = dict.fromkeys(table, number)
        self.laid += len(levels)
        for level in levels:
            self.by_level.setdefault(level, {"level": level}).update(table)
            self.sources.setdefault(level, {None: number}).update(told_by)

    def name_each(self, number, names, levels):
        """Give each level of a group its own name on the drawings."""
        if len(names) != len(levels):
            sentence = f"must be one name, or one for each of the group's {len(levels)} storeys from the lowest up; got {len(names)}"
            self.mistakes.append(Mistake(("storeys", number, "drawing_name"), sentence))
            return
        for level, name in zip(levels, names, strict=True):
            self.by_level[level]["drawing_name"] = name
            self.sources[level]["drawing_name"] = number

    def place(self, place):
        """Turn a place ("storeys", level, key) into the place of the group that said so."""
        if len(place) < 2:
            return place
        source = self.sources[place[1]]
        key = place[2] if len(place) > 2 else None
        return ("storeys", source.get(key, source.get(_CALLED_FOR_BY.get(key), source[None])), *place[2:])


def expand(tables, known_keys):
    """Lay the groups of [[storeys]] over each other, later over earlier."""
    groups = Groups()
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        groups.mistakes.append(Mistake(("storeys",), "must be tables headed [[storeys]], with two brackets on each side"))
        return groups
    if len(tables) > MOST_GROUPS:
        groups.mistakes.append(Mistake(("storeys",), f"must be {MOST_GROUPS} groups at the most; got {len(tables)}"))
        groups.unplaced = True
        return groups
    for number, table in enumerate(tables):
        if groups.laid > MOST_LAID:
            groups.mistakes.append(Mistake(("storeys", number), f"must be within {MOST_LAID} storeys in all groups together"))
        if len(groups.mistakes) > MOST_TOLD or groups.laid > MOST_LAID:
            groups.unplaced = True  # what stands further down is not looked at
            break
        _lay(groups, number, table, known_keys)
    return groups


def _lay(groups, number, table, known_keys):
    """Lay one group over those before it, or note what is wrong with it."""
    for key in sorted(table.keys() - known_keys.keys() - {"levels"})[:MOST_TOLD]:
        groups.mistakes.append(Mistake(("storeys", number, key), unknown_key(key, ["levels", *known_keys])))
    try:
        levels = levels_of(table.get("levels"))
    except ValueError as refusal:
        groups.mistakes.append(Mistake(("storeys", number, "levels"), str(refusal)))
        groups.unplaced = True
    else:
        laid = {key: table[key] for key in table.keys() & known_keys.keys()}
        names = laid.pop("drawing_name") if isinstance(laid.get("drawing_name"), list) and "drawing_name" in known_keys else None
        groups.lay_over(number, laid, levels)
        if names is not None:
            groups.name_each(number, names, levels)


def levels_of(text):
    """Levels of a group.

    >>> list(levels_of("-2..1")), list(levels_of("5"))
    ([-2, -1, 0, 1], [5])
    """
    if text is None:
        raise ValueError('is missing; it must be text such as "0..13" or "5"')
    found = _LEVELS.match(text) if isinstance(text, str) else None
    if not found:
        raise ValueError(f'must be text such as "0..13" or "5"; got {text!r:.60}')
    low, high = int(found[1]), int(found[2] or found[1])
    if not LOWEST_LEVEL <= low <= high <= HIGHEST_LEVEL:
        raise ValueError(f"must rise, from {LOWEST_LEVEL} at the lowest to {HIGHEST_LEVEL} at the highest; got {text!r}")
    return range(low, high + 1)


def regroup(storeys):
    """Neighbours that are alike, but for their names on the drawings, as lists of storeys."""
    for _, alike in groupby(storeys, key=_but_for_its_name):
        yield list(alike)


def _but_for_its_name(storey):
    named = getattr(storey, "drawing_name", None) is not None
    return named, storey.model_copy(update={"level": 0} | ({"drawing_name": None} if named else {}))


SITES_FOLDER = Path(__file__).resolve().parents[3] / "data" / "sites"
KIND_WITHOUT_WORD = "stair"  # what a file is that tells no kind
_NEEDED = "; such a file is plain text, saved as UTF-8"


def read_site(path, kinds=(Site,)):
    """Read a site file.

    path of a TOML file, kinds of site to take: models, each of another `kind`. Returns a Site, or another of the kinds.
    Raises SiteFileError naming every mistake with its table, key and line, or only the kind where that is another.
    """
    try:
        text = text_of(path, MOST_BYTES)
    except FileTextError as refusal:
        raise _refused(shown_name(path), f"{refusal.found}{_NEEDED}") from None
    return read_site_text(text, shown_name(path), kinds)


def read_site_text(text, name="site text", kinds=(Site,)):
    """Read a site from the text of a file; name is what refusals call it. Returns and raises as read_site."""
    data = raw_site(text, name)
    model, mistakes = _kind(data, kinds)
    parts, mistakes = ({}, mistakes) if mistakes else _parts(data, model)
    if mistakes:
        lines = lines_of(text)
        located = {Mistake(m.place, m.sentence, line_of(m.place, lines)): None for m in mistakes}
        raise SiteFileError(name, sorted(located, key=lambda mistake: mistake.line or 0))
    return model.model_validate(parts)


def raw_site(text, name="site text"):
    """What stands in the text of a file, before anything of it is judged. Raises SiteFileError for a text that is no TOML."""
    if found := endless(text):
        raise SiteFileError(name, [Mistake((), *found)])
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as trouble:
        raise SiteFileError(name, [_syntax_mistake(str(trouble), text)]) from None
    except (RecursionError, ValueError):  # lists a thousand deep, numbers of thousands of digits
        raise _refused(name, "is no valid TOML: something in it is endlessly long or deep") from None


def units_of_file(path):
    """System of units, one of `units.SYSTEMS`, in which a site file states its set point; the first where it does not, or cannot be read:
    what is wrong with it says `read_site`."""
    try:
        stated = raw_site(text_of(path, MOST_BYTES)).get("control", {}).get("set_point", "")
    except (SiteFileError, FileTextError, OSError, AttributeError):
        return units.SYSTEMS[0]
    label = re.sub(r"[\d.,\s+-]", "", str(stated)).casefold()
    return units.SYSTEMS[label.startswith(("in", "iwc"))]


def demo_sites(kind="stair"):
    """Files of the demo sites of a kind by name; kind None: of all kinds. Raises SiteFileError if they are not beside the package."""
    files = sorted(SITES_FOLDER.glob("*.toml"))
    if kind is not None:
        files = [file for file in files if _kind_told(file) == kind]
    if not files:
        raise _refused(SITES_FOLDER, "holds no site files; the demo sites come with the repository, so run from a clone of it")
    return {file.stem.replace("_", " ").title(): file for file in files}


def _kind_told(file):
    """The kind that a file tells, without judging the rest: what is wrong with it, and that it cannot be opened, is told by read_site."""
    try:
        text = file.read_text(encoding="utf-8-sig", errors="replace")
    except OSError:
        return KIND_WITHOUT_WORD
    told = re.search(r"""^\s*kind\s*=\s*["'](\w+)["']""", text, re.MULTILINE)
    return told[1] if told else KIND_WITHOUT_WORD


def _kind(data, kinds):
    """The model of the file's kind; with another kind nothing else of the file can be judged."""
    models = {get_args(model.model_fields["kind"].annotation)[0]: model for model in kinds}
    kind = data.get("kind", KIND_WITHOUT_WORD)
    if isinstance(kind, str) and kind in models:
        return models[kind], []
    return kinds[0], [Mistake(("kind",), f"must be {' or '.join(map(repr, models))}; got {found(kind)}")]


def _parts(data, model):
    """Sound sections of the file by field name, and all mistakes."""
    storey = section_in(model.model_fields["storeys"].annotation) if "storeys" in model.model_fields else None
    known = {file_key(name): None for name in storey.model_fields if name != "level"} if storey else {}
    groups = expand(data.get("storeys", []), known) if storey else Groups()
    keys = {file_key(name): name for name in model.model_fields}
    raw = {name: data[key] for key, name in keys.items() if key in data and name != "storeys"}
    if groups.by_level and not groups.unplaced:
        raw["storeys"] = dict(sorted(groups.by_level.items()))
    doors = raw.get("doors")
    draft = Draft(levels=set() if groups.unplaced else set(groups.by_level), door_names=set(doors) if isinstance(doors, dict) else set())
    told = []
    for name, known in model.model_fields.items():
        if name in raw:
            told += _read_section(model, draft, name, raw[name])
        elif known.is_required() and not (name == "storeys" and groups.mistakes):
            told.append(Mistake((file_key(name),), missing((name,), model)))
    told += [Mistake(place, sentence) for place, sentence in disagreements(draft, model.checks)]
    unknown = islice((key for key in data if key not in keys), MOST_TOLD)
    mistakes = [Mistake((key,), unknown_key(key, list(keys))) for key in unknown] + groups.mistakes
    mistakes += [Mistake(groups.place(m.place), m.sentence) if m.place[0] == "storeys" else m for m in told]
    lists = [name for name, field in model.model_fields.items() if get_origin(field.annotation) is list]
    return {
        name: list(part.values()) if name in lists and isinstance(part, dict) else part for name, part in draft.sections.items()
    }, mistakes


def _read_section(model, draft, name, raw):
    """Check one section into the draft, item by item where it holds several. Returns its mistakes."""
    annotation, place = model.model_fields[name].annotation, file_key(name)
    section, several = section_in(annotation), dict if name == "storeys" else get_origin(annotation)  # storeys come by level
    draft.stated.add(name)
    if several not in (list, dict) or not isinstance(raw, several) or not raw:
        part, mistakes = _checked(_adapter(model, name), raw, section or model, (place,))
        draft.sections |= {} if mistakes else {name: part}
    else:
        draft.sections[name], mistakes = {}, []
        for key, value in _pairs(raw):
            part, found = _checked(_adapter(model, name, item=True), value, section, (place, key))
            draft.sections[name] |= {} if found else {key: part}
            mistakes += found
            if len(mistakes) > MOST_TOLD:
                break
    draft.whole_sections |= set() if mistakes else {name}
    return mistakes


def _pairs(raw):
    return enumerate(raw) if isinstance(raw, list) else raw.items()


def _checked(adapter, raw, model, place):
    """(part, mistakes): the part as model or value, or None and what is wrong with it."""
    try:
        return adapter.validate_python(raw, by_alias=True, by_name=False, context={"from_file": True}), []
    except ValidationError as refusal:
        return None, mistakes_of(refusal.errors(), model, place)


@cache
def _adapter(model, name, item=False):
    field = model.model_fields[name]
    section = section_in(field.annotation)
    if item:
        return TypeAdapter(section)
    return TypeAdapter(Annotated[field.annotation, name, *field.metadata], config=None if section else model.model_config)


def _syntax_mistake(trouble, text):
    """A mistake in the writing of TOML itself, with its line."""
    found = re.match(r"(.*?) \(at (?:line (\d+), column (\d+)|end of document)\)$", trouble)
    if not found:
        return Mistake((), f"is no valid TOML: {trouble}")
    line = int(found[2] or text.count("\n") + 1)
    column = f" at column {found[3]}" if found[3] else " at the end of the file"
    return Mistake((), f"is no valid TOML{column}: {found[1][:1].lower()}{found[1][1:]}", line)


def _refused(file, sentence):
    return SiteFileError(file, [Mistake((), sentence)])


def write_site(site):
    """Write a site as the text of a TOML file, all quantities in SI. `read_site_text` gives an equal site back."""
    blocks = [_written_pairs(site)]
    for name in type(site).model_fields:
        part, key = getattr(site, name), file_key(name)
        if name == "storeys":
            blocks += [_group(alike) for alike in regroup(part)]
        elif isinstance(part, list):
            blocks += [f"[[{key}]]\n{_written_pairs(item)}" for item in part]
        elif isinstance(part, dict):
            blocks += [_table(f"{key}.{toml_key(inner)}", item) for inner, item in part.items()]
        elif isinstance(part, SiteTable):
            blocks.append(_table(key, part))
    return "\n".join(blocks)


def _group(alike):
    low, high, names = alike[0].level, alike[-1].level, [getattr(storey, "drawing_name", None) for storey in alike]
    levels = f"{low}" if low == high else f"{low}..{high}"
    named = "" if names[0] is None else f"drawing_name = [{', '.join(map(toml_text, names))}]\n"
    return f'[[storeys]]\nlevels = "{levels}"\n{named}{_written_pairs(alike[0], ("level", "drawing_name"))}'


def _table(heading, section):
    inner = [(f"{heading}.{file_key(name)}", getattr(section, name)) for name in type(section).model_fields]
    tables = [_table(key, part) for key, part in inner if isinstance(part, SiteTable)]
    tables += [f"[[{key}]]\n{_written_pairs(part)}" for key, parts in inner for part in _tables_of(parts)]
    return "\n".join([f"[{heading}]\n{_written_pairs(section)}", *tables])


def _tables_of(value):
    """Tables under one heading within a table; none: ()."""
    return [one for one in value if isinstance(one, SiteTable)] if isinstance(value, tuple) else ()


def _written_pairs(section, leave_out=()):
    """Lines `key = value` of a section's plain values; what is not stated is left out."""
    lines = []
    for name, known in type(section).model_fields.items():
        value = getattr(section, name)
        plain = not isinstance(value, (SiteTable, list)) and not _holds_tables(value)
        plain = plain and not (isinstance(value, tuple) and section_in(known.annotation))
        if value is not None and plain and name not in leave_out:
            lines.append(f"{file_key(name)} = {_value(value, _dimension([*known.metadata, known.annotation]))}\n")
    return "".join(lines)


def _holds_tables(value):
    """Whether it is a table of tables, or of nothing; one of plain values stands on one line."""
    return isinstance(value, dict) and all(isinstance(one, SiteTable) for one in value.values())


def _dimension(hints):
    """Dimension of a field's quantity, however deep in its annotation; None for plain values."""
    for hint in hints:
        found = hint.dimension if isinstance(hint, Quantity) else _dimension(getattr(hint, "__metadata__", ()) + get_args(hint))
        if found:
            return found
    return None


def _value(value, dimension):
    if isinstance(value, tuple):
        return f"[{', '.join(_value(item, dimension) for item in value)}]"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{toml_key(key)} = {_value(item, dimension)}' for key, item in value.items())}}}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if dimension == "ratio":
        return units.write(value, dimension)
    return toml_text(units.write(value, dimension)) if dimension else str(value) if isinstance(value, int) else toml_text(value)


def toml_text(text):
    """A text as it stands in a file."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_key(name):
    """A key or a table's name as it stands in a file."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_text(name)
