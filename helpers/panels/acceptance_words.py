"""Cells of the acceptance sheet in words: what is expected at a door, what that would be, and the limits that it is judged by."""

from helpers import units
from helpers.model.criteria import AIR, BLANK
from helpers.studies.status import word_of

__all__ = ["force_said", "most_hint", "second_said", "shut_said", "window_said"]


def _limit_said(value, dimension, system):
    """A limit with the digits that it is judged by, without idle noughts."""
    number, _, unit = units.show(value, dimension, system, 2 if system == "Pa" else 4).partition(" ")
    return f"{number.rstrip('0').rstrip('.') if '.' in number else number} {unit}"


def window_said(sheet, key, system):
    """Least and most pressure of a door, of the site file or the standard, whichever is stricter."""
    least, most = (end if end in (None, BLANK) else _limit_said(end, "pressure", system) for end in sheet.ends(sheet.row(key)))
    told = [f"{word} {end}" for word, end in (("least", least), ("most", most)) if end is not None]
    shuts = sheet.row(key).shuts_to_pa
    return "; ".join([*told, *([] if shuts is None else [f"shuts again surely up to {_limit_said(shuts, 'pressure', system)}"])])


def shut_said(sheet, key, system):
    """What is expected, what that would be, and the window that it is judged by."""
    expected = units.show(sheet.row(key).shut_pa, "pressure", system)
    return f"{expected} {sheet.expected_words(key)[0]}; {window_said(sheet, key, system)}"


def most_hint(limit_n):
    """A function of the system of units that tells the most force [N] of a field; None: the standard's place is blank."""
    return lambda system: "limit blank" if limit_n is None else f"≤ {_limit_said(limit_n, 'force', system)}"


def force_said(sheet, key, system):
    """Where the gauge goes, what it should read with the fan off and on, what that would be and, where it is not good, why."""
    row = sheet.row(key)
    on = next((force.expected_n for force in row.forces if force.criterion.step in AIR), None)
    if row.off_n is None or on is None:
        return "not worked by hand"
    state, why = sheet.expected_parts(key, system)[1]
    reason = f": {why}" if state == "wrong" else ""
    return f"{row.gauge_at}: {units.show(row.off_n, 'force', system)}, {units.show(on, 'force', system)} {word_of(state)}{reason}"


def second_said(row, system):
    """What is expected in the second round: the air's speed through an open door, the pressure across a shut one."""
    if row.opened:
        speed = "speed" if row.speed_m_s is None else units.show(row.speed_m_s, "speed", system, 2 if system == "Pa" else 0)
        return f"{speed} (open)"
    return units.show(row.open_pa, "pressure", system)
