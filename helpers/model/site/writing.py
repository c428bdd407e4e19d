"""From a Site to the text of a site file that reads back as an equal Site."""

import json
import re
from typing import get_args

from helpers import units
from helpers.model.site.quantities import Quantity, Section, file_key
from helpers.model.site.storeys import regroup


def write_site(site):
    """Write a site as the text of a TOML file, all quantities in SI. `read_site_text` gives an equal site back."""
    blocks = [_pairs(site)]
    for name in type(site).model_fields:
        part, key = getattr(site, name), file_key(name)
        if name == "storeys":
            blocks += [_group(alike) for alike in regroup(part)]
        elif isinstance(part, list):
            blocks += [f"[[{key}]]\n{_pairs(item)}" for item in part]
        elif isinstance(part, dict):
            blocks += [_table(f"{key}.{_key(inner)}", item) for inner, item in part.items()]
        elif isinstance(part, Section):
            blocks.append(_table(key, part))
    return "\n".join(blocks)


def _group(alike):
    low, high, names = alike[0].level, alike[-1].level, [getattr(storey, "drawing_name", None) for storey in alike]
    levels = f"{low}" if low == high else f"{low}..{high}"
    named = "" if names[0] is None else f"drawing_name = [{', '.join(map(_text, names))}]\n"
    return f'[[storeys]]\nlevels = "{levels}"\n{named}{_pairs(alike[0], ("level", "drawing_name"))}'


def _table(heading, section):
    inner = [(file_key(name), getattr(section, name)) for name in type(section).model_fields]
    tables = [_table(f"{heading}.{key}", part) for key, part in inner if isinstance(part, Section)]
    return "\n".join([f"[{heading}]\n{_pairs(section)}", *tables])


def _pairs(section, leave_out=()):
    """Lines `key = value` of a section's plain values; what is not stated is left out."""
    lines = []
    for name, field in type(section).model_fields.items():
        value = getattr(section, name)
        inner = isinstance(value, (Section, dict, list))
        if value is not None and not inner and name not in leave_out:
            lines.append(f"{file_key(name)} = {_value(value, _dimension([*field.metadata, field.annotation]))}\n")
    return "".join(lines)


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
    if isinstance(value, bool):
        return "true" if value else "false"
    if dimension == "ratio":
        return units.write(value, dimension)
    return _text(units.write(value, dimension)) if dimension else str(value) if isinstance(value, int) else _text(value)


def _text(text):
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _key(name):
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _text(name)
