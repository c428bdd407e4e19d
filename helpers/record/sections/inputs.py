"""What the network is fed with, part by part of the site file: every figure that is stated, and what is taken where nothing is stated."""

from helpers.formulas.air import FACE_COEFFICIENTS
from helpers.model.site.entries import NO, YES, option_said, sections
from helpers.model.site.field_types import file_key
from helpers.model.site.file import regroup
from helpers.model.site.tolerances import boxes
from helpers.studies.report import Table, listed
from helpers.units.said import as_stated

KEY, TITLE = "inputs", "Input data, as the site file has them"
COLUMNS = "Part", "Stated in the site file", "Not stated: what is taken, and from where"
LEFT = {"name", "note", "invented", "kind", "drawing_name", "source"}  # no input of a figure, or told elsewhere
BOX, USUAL, NOT_TAKEN = "{} ({})", "{} (the workbook's default)", "nothing"
FACES = "Coefficients of the faces"
FACES_FROM = {  # as beside the table in helpers.formulas.air
    "ashrae_low_rise": "wall averages, ASHRAE Fundamentals 2021 ch. 16",
    "en1991_tall": "EN 1991-1-4:2005 table 7.1, side zone B, from memory, not verified",
}
MOST_NAMED = 3  # storeys by their numbers


def inputs_table(site) -> Table:
    """`Table` of a stair's `Site`, a row for each part; storeys that are alike in one. Raises nothing: what is not there has no row."""
    known, rows = boxes(site), []
    for part in sections().values():
        for place, called, one in _tables_of(site, part):
            stated, taken = _told(part, place, one, known)
            if stated or taken:
                rows.append((called, "; ".join(stated) or "–", "; ".join(taken) or "–"))
        if part.name == "site":
            rows.append((FACES, "–", _coefficients(site)))
    note = (
        "In the words of the guided page, each figure as the file has it. Leakage ratios behind the classes of tightness, with range and "
        "source, stand under leaks; temperatures and wind by case under the cases. A key that is neither stated nor taken is not named."
    )
    return Table(KEY, TITLE, COLUMNS, tuple(rows), note=note)


def _tables_of(site, part):
    """(place in `boxes`, what it is called, the model) of each table of a part that the site has."""
    if part.name == "storeys":
        for alike in regroup(site.storeys):
            levels = [str(one.level) for one in alike]
            ends = f"{levels[0]} to {levels[-1]}, {len(levels)} of them" if len(levels) > MOST_NAMED else listed(levels)
            yield "", f"Storey{'s' * (len(levels) > 1)} {ends}", alike[0]
        return
    held = site
    for name in part.path:
        held = getattr(held, name, None)
    title = part.title.partition(",")[0]
    if held is None:
        return
    if part.kind == "one":
        yield part.name, title, held
    else:
        several = held.items() if isinstance(held, dict) else enumerate(held)
        for key, one in several:
            yield f"{part.name}.{key}", f"{part.one.capitalize()} {getattr(one, 'name', key if isinstance(held, dict) else key + 1)}", one


def _coefficients(site):
    """The wall averages of the table that a site names, and whence they come, in words."""
    table = site.pressure_coefficients
    told = ", ".join(f"{face} {value:g}" for face, value in FACE_COEFFICIENTS[table].items())
    return BOX.format(told, FACES_FROM[table])


def _told(part, place, one, known):
    """([what is stated], [what is taken instead]) of one table, in words."""
    stated, taken = [], []
    for field in type(one).model_fields:
        entry, value = part.entries.get(file_key(field)), getattr(one, field)
        if entry is None or entry.key in LEFT or (part.name, field) == ("storeys", "level"):
            continue
        box = known.get(f"{place}.{field}")
        if field in one.model_fields_set and value is not None:
            stated.append(f"{entry.label.lower() if entry.label[1:2].islower() else entry.label}: {_shown(entry, value)}")
        elif box is not None:
            ends = _shown(entry, (box.low, box.likely, box.high)) if box.low < box.high else _shown(entry, box.likely)
            taken.append(f"{entry.label.lower()}: {BOX.format(ends, box.source)}")
        elif value not in (None, (), {}, 0.0, False):
            taken.append(f"{entry.label.lower()}: {USUAL.format(_shown(entry, value))}")
    return stated, taken


def _shown(entry, value):
    """A value of a site in the words and units of the edge."""
    if isinstance(value, tuple | list):
        if len(value) > 1 and len(set(value)) == 1:
            return f"{_shown(entry, value[0])} each"
        return ", ".join(_shown(entry, one) for one in value) or NOT_TAKEN
    if isinstance(value, dict):
        return ", ".join(f"{name}: {count}" for name, count in value.items()) or NOT_TAKEN
    if isinstance(value, bool):
        return YES if value else NO
    if entry.kind == "quantity" and entry.dimension != "ratio":
        return as_stated(value, entry.dimension)
    if entry.kind == "choice":
        return option_said(entry, value)
    return f"{value:.6g}" if isinstance(value, float) else str(value)
