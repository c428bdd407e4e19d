"""From a site file to a Site, or to one refusal that tells all its mistakes."""

import re
import tomllib
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Annotated, get_args, get_origin

from pydantic import TypeAdapter, ValidationError

from helpers.model.file_text import FileTextError, shown_name, text_of
from helpers.model.site import storeys
from helpers.model.site.checks import Draft, disagreements
from helpers.model.site.endless import MOST_BYTES, MOST_TOLD, endless
from helpers.model.site.quantities import file_key, found
from helpers.model.site.refusals import Mistake, SiteFileError, line_of, lines_of, missing, mistakes_of, section_in, unknown_key
from helpers.model.site.schema import Site

SITES_FOLDER = Path(__file__).resolve().parents[3] / "data" / "sites"
KIND_WITHOUT_WORD = "stair"  # what a file is that tells no kind
_NEEDED = "; a site file is plain text, saved as UTF-8"


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
    if found := endless(text):
        raise SiteFileError(name, [Mistake((), *found)])
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as trouble:
        raise SiteFileError(name, [_syntax_mistake(str(trouble), text)]) from None
    except (RecursionError, ValueError):  # lists a thousand deep, numbers of thousands of digits
        raise _refused(name, "is no valid TOML: something in it is endlessly long or deep") from None
    model, mistakes = _kind(data, kinds)
    parts, mistakes = ({}, mistakes) if mistakes else _parts(data, model)
    if mistakes:
        lines = lines_of(text)
        located = {Mistake(m.place, m.sentence, line_of(m.place, lines)): None for m in mistakes}
        raise SiteFileError(name, sorted(located, key=lambda mistake: mistake.line or 0))
    return model.model_validate(parts)


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
    groups = storeys.expand(data.get("storeys", []), known) if storey else storeys.Groups()
    keys = {file_key(name): name for name in model.model_fields}
    raw = {name: data[key] for key, name in keys.items() if key in data and name != "storeys"}
    if groups.by_level and not groups.unplaced:
        raw["storeys"] = dict(sorted(groups.by_level.items()))
    doors = raw.get("doors")
    draft = Draft(levels=set() if groups.unplaced else set(groups.by_level), door_names=set(doors) if isinstance(doors, dict) else set())
    told = []
    for name, field in model.model_fields.items():
        if name in raw:
            told += _read_section(model, draft, name, raw[name])
        elif field.is_required() and not (name == "storeys" and groups.mistakes):
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
