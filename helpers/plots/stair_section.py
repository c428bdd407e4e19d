"""A section of a stair as far as it is known: storeys, basements, doors by kind, lobbies, lift, fan, inlets, exits and transmitters.

It is drawn from the answers of a form, which may be unfinished or wrong: what cannot be drawn is left out and said in the words beside it.
"""

from dataclasses import dataclass
from html import escape
from string import ascii_uppercase

from helpers import units
from helpers.model.site.entries import sections, shown
from helpers.model.site.file import expand
from helpers.plots.markup import SMALL
from helpers.plots.style import GRID, INK, MUTED, PAPER, SERIES, WARNING, WINDOW

WIDTH, HEIGHT, TOP, FOOT = 310, 420, 46, 14  # px
LEFT, STAIR, LOBBY, FLOOR, LIFT, RIGHT = 26, 82, 124, 146, 192, 210  # px, where each begins; names of transmitters stand at the right
LEAST_APART = 14  # px, of letters
USUAL_M = 3.0  # height of a storey that states none, in the picture only
EARTH = "#e6e0d6"


@dataclass(frozen=True)
class DrawnStorey:
    """A storey as it is drawn: its number, top and foot [px], and its answers by key."""

    number: int
    top: float
    foot: float
    said: dict[str, str]

    @property
    def middle(self):
        """Half its height [px]."""
        return (self.top + self.foot) / 2


def stair_section(form):
    """(SVG with the letters of its kinds of doors, words) of a SiteForm."""
    levels, letters = _levels(form), dict(zip(form.tables("doors"), [*ascii_uppercase, *"abcdefghijklmnopqrstuvwxyz"], strict=False))
    words = " ".join(_words(form, levels, letters))
    parts = [*_building(levels), *_transmitters(form, levels), *_doors(levels, letters), *_plant(form, levels)]  # letters over all lines
    looks = f'style="max-width:100%;height:auto;background:{PAPER};font-family:sans-serif" role="img" aria-label="{escape(words)}"'
    kinds = ", ".join(f"{letter} {name}" for name, letter in letters.items())
    named = f'<div style="font-size:{SMALL}px" aria-hidden="true">Doors: {escape(kinds)}</div>'
    return f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" {looks}>{"".join(parts)}</svg>{named}', words


def _levels(form):
    """The storeys that can be read, from the lowest up."""
    known = dict.fromkeys(sections()["storeys"].entries.keys() - {"levels"})
    groups = expand([dict(table) for table in form.tables("storeys").values()], known)
    by_level = sorted(groups.by_level.items())
    heights = [_metres(table.get("height")) for _, table in by_level]
    scale, foot, found = (HEIGHT - TOP - FOOT) / max(sum(heights), USUAL_M), float(HEIGHT - FOOT), []
    for (number, table), height in zip(by_level, heights, strict=True):
        found.append(DrawnStorey(number, foot - scale * height, foot, {key: shown(value) for key, value in table.items()}))
        foot -= scale * height
    return found


def _metres(text):
    try:
        return min(max(units.parse(text, "length"), 1.0), 30.0)
    except ValueError:
        return USUAL_M


def _building(levels):
    if not levels:
        return
    top, foot = levels[-1].top, levels[0].foot
    ground = next((level.foot for level in levels if level.number == 0), foot)
    yield _box(0, ground, WIDTH, HEIGHT - ground, EARTH)
    yield _box(STAIR, top, RIGHT - STAIR, foot - top, PAPER, INK)
    yield _box(STAIR, top, LOBBY - STAIR, foot - top, WINDOW, INK)
    last = float(HEIGHT)
    for level in levels:
        yield _line(FLOOR if _lobby(level) else LOBBY, level.foot, RIGHT, level.foot, INK)
        yield _line(STAIR + 8, level.foot, LOBBY - 8, level.top, GRID)  # a flight
        if _lobby(level):
            yield _box(LOBBY, level.top, FLOOR - LOBBY, level.foot - level.top, GRID, INK)
        if level.said.get("lift_doors", "0") not in ("", "0"):
            yield _box(LIFT, level.top, RIGHT - LIFT, level.foot - level.top, "#f1eef6", MUTED)
        if last - level.middle >= LEAST_APART or level is levels[0]:
            yield _text(LEFT - 6, level.middle + 4, str(level.number), "end")
            last = level.middle
    yield _line(0, ground, STAIR, ground, INK, 2)


def _lobby(level):
    return level.said.get("lobby") == "yes"


def _doors(levels, letters):
    last = dict.fromkeys(("stair_door", "lobby_door", "lift_door", "final_exit_door"), HEIGHT + LEAST_APART)
    for level in levels:
        places = {"stair_door": LOBBY, "lobby_door": FLOOR, "lift_door": LIFT, "final_exit_door": STAIR}
        for use, x in places.items():
            kind, none = level.said.get(use, ""), {"lobby_door": not _lobby(level)}
            none |= {"stair_door": level.said.get("stair_door_count") == "0", "lift_door": level.said.get("lift_doors", "0") in ("", "0")}
            if not kind or none.get(use):
                continue
            ink = SERIES[list(letters).index(kind) % len(SERIES)].colour if kind in letters else WARNING
            high = min(level.foot - level.top, 14) * 0.75
            yield _box(x - 2, level.foot - high, 4, high, ink)
            if last[use] - level.middle >= LEAST_APART:
                yield _text(x + (-5 if use == "final_exit_door" else 5), level.foot - 3, letters.get(kind, "?"),
                            "end" if use == "final_exit_door" else "start", ink)  # fmt: skip
                last[use] = level.middle
            if use == "final_exit_door":
                yield _arrow(STAIR - 18, level.foot - 3, LEFT + 8, level.foot - 3, ink)


def _plant(form, levels):
    """The fan with its duct and inlets; the relief damper."""
    by_number, duct = {str(level.number): level for level in levels}, (LEFT + STAIR) / 2
    out = form.answer("fan", None, "effect") == "exhaust"
    inlets = [by_number[at] for item in form.tables("supplies") if (at := form.answer("supplies", item, "level")) in by_number]
    if inlets:
        lowest = max(level.middle for level in inlets)
        yield _line(duct, 30, duct, lowest, MUTED, 3)
        yield f'<circle cx="{duct}" cy="20" r="12" fill="{PAPER}" stroke="{INK}" stroke-width="2"/>'
        yield _text(duct, 24, "fan", "middle")
        if fan_at := by_number.get(form.answer("riser", None, "fan_level")):
            highest = min(level.middle for level in (*inlets, fan_at))
            yield _line(duct, highest, duct, max(lowest, fan_at.middle), MUTED, 7) + _text(duct + 6, 46, "riser")
    for level in inlets:
        ends = (STAIR + 10, duct) if out else (duct, STAIR + 10)
        yield _arrow(ends[0], level.middle, ends[1], level.middle, MUTED, 2)
    for level in filter(None, map(by_number.get, _dampers(form))):
        yield _arrow(STAIR + 4, level.middle, STAIR - 14, level.middle - 6, INK, 2)
        yield _text(STAIR - 3, level.middle - 9, "damper", "end", INK)


def _dampers(form):
    """Storeys of the relief dampers, as they are typed."""
    further = [form.answer("stair.more_reliefs", item, "level") for item in form.tables("stair.more_reliefs")]
    return [form.answer("stair.relief", None, "level"), *further]


def _transmitters(form, levels):
    by_number = {str(level.number): level for level in levels}
    for item in form.tables("transmitters"):
        level = by_number.get(form.answer("transmitters", item, "level"))
        if level is None:
            continue
        side = form.answer("transmitters", item, "reference") or "floor"
        end = {"lobby": (LOBBY + FLOOR) / 2, "outdoors": STAIR - 12}.get(side, FLOOR + 26)
        x, y = (STAIR + LOBBY) / 2, level.middle
        yield _line(x, y, end, y, INK, 1.5, "3 2") + _line(end, y - 4, end, y + 4, INK, 2)
        yield f'<circle cx="{x}" cy="{y:.1f}" r="6" fill="{INK}"/>'
        yield _line(RIGHT + 1, y, RIGHT + 6, y, MUTED) + _text(RIGHT + 8, y - 1, _name(form, item)[:12])
        yield _text(RIGHT + 8, y - 1 + SMALL, side)


def _name(form, item):
    return form.answer("transmitters", item, "name") or f"transmitter {item + 1}"


def _words(form, levels, letters):
    if not levels:
        yield "No storeys can be drawn yet: their numbers cannot be read."
        return
    below = sum(level.number < 0 for level in levels)
    yield f"{len(levels)} storeys, from {levels[0].number} to {levels[-1].number}{f', {below} of them below the ground' if below else ''}."
    lobbies = [level.number for level in levels if _lobby(level)]
    yield f"Lobbies on {_ranges(lobbies)}." if lobbies else "No lobbies."
    for use, words in (("stair_door", "Stair doors"), ("lobby_door", "Lobby doors"), ("final_exit_door", "Final exits")):
        for kind in dict.fromkeys(level.said[use] for level in levels if level.said.get(use)):
            on = [level.number for level in levels if level.said.get(use) == kind and (use != "lobby_door" or _lobby(level))
                  and (use != "stair_door" or level.said.get("stair_door_count") != "0")]  # fmt: skip
            unknown = "" if kind in letters else ", which is no kind of door here"
            if on:
                yield f"{words} {letters.get(kind, '?')}, {kind}{unknown}, on {_ranges(on)}."
    for kinds in dict.fromkeys(level.said.get("other_stair_doors") for level in levels):
        if kinds:
            beside = [level.number for level in levels if level.said.get("other_stair_doors") == kinds]
            yield f"Further stair doors, {kinds}, on {_ranges(beside)}."
    lifts = [level.number for level in levels if level.said.get("lift_doors", "0") not in ("", "0")]
    if kind := form.answer("second_shaft", None, "kind"):
        on, door = form.answer("second_shaft", None, "levels"), form.answer("second_shaft", None, "door") or "?"
        doors, what = ("Landing doors", "the lift shaft") if kind == "lift" else ("Doors", "the second stair")
        yield f"{doors} of {what} with a fan of its own, {door}, on {'every storey' if on in (None, '', 'none') else on}; not drawn."
    if lifts or kind != "lift":
        yield f"Lift doors on {_ranges(lifts)}." if lifts else "No lift doors stated."
    inlets = [form.answer("supplies", item, "level") or "?" for item in form.tables("supplies")]
    out = "leaves" if form.answer("fan", None, "effect") == "exhaust" else "enters"
    fan_at = form.answer("riser", None, "fan_level")
    riser = f" by outlets on a riser, which the fan {'draws from' if out == 'leaves' else 'blows into'} at {fan_at}" if fan_at else ""
    yield f"Air {out} at {', '.join(inlets)}{riser}." if inlets else "No air enters yet."
    dampers = list(filter(None, _dampers(form)))
    yield f"Relief damper{'s' * (len(dampers) > 1)} on {', '.join(dampers)}." if dampers else "No relief damper."
    for item in form.tables("transmitters"):
        at, side = form.answer("transmitters", item, "level") or "?", form.answer("transmitters", item, "reference") or "floor"
        yield f"{_name(form, item)} on {at}, low side {side}."


def _ranges(numbers):
    """Storeys in words, neighbours together."""
    runs = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(f"{low}" if low == high else f"{low} to {high}" for low, high in runs)


def _box(x, y, wide, high, fill, stroke="none"):
    return f'<rect x="{x}" y="{y:.1f}" width="{wide}" height="{max(high, 0):.1f}" fill="{fill}" stroke="{stroke}"/>'


def _line(x1, y1, x2, y2, ink, wide=1.0, dashes=""):
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<line x1="{x1}" y1="{y1:.1f}" x2="{x2}" y2="{y2:.1f}" stroke="{ink}" stroke-width="{wide}"{dashed}/>'


def _arrow(x1, y1, x2, y2, ink, wide=1.5):
    back = 6 if x2 < x1 else -6
    tip = f'<path d="M{x2} {y2:.1f} l{back} -4 l0 8 z" fill="{ink}"/>'
    return _line(x1, y1, x2, y2, ink, wide) + tip


def _text(x, y, words, anchor="start", ink=INK):
    halo = f'paint-order="stroke" stroke="{PAPER}" stroke-width="3"'
    return f'<text x="{x}" y="{y:.1f}" font-size="{SMALL}" fill="{ink}" text-anchor="{anchor}" {halo}>{escape(words)}</text>'
