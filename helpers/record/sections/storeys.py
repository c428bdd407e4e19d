"""Tables of the record with a row for every storey: the pressure across each stair door and final exit by case, each row judged."""

import numpy as np

from helpers.studies.cases import same_but_stair_air
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import USES
from helpers.studies.report import MOST_FAN_PA, NO_FAN_GIVES, Table, listed, spanned
from helpers.studies.status import SPARE_PA, word_of
from helpers.units.said import in_each, unit_of, with_unit

DOOR, EXIT = USES["stair_door"], USES["final_exit_door"]
BESIDE_PA = 1.0  # nearer than this to its limit a pressure stands with a digit more: ours
FINE = (1, 3)  # digits of that pressure, by system of units


def room_rule_said():
    """What the verdicts of a table of doors say, in sentences: one rule for all of them."""
    good, near, out = (word_of(state) for state in ("good", "attention", "wrong"))
    return (
        f"{good}: every door with a limit is inside, with {with_unit(SPARE_PA, 'pressure')} to spare. {near}: inside, with less to spare, "
        f"or too low in a case that the design does not have to hold. {out}: past a limit."
    )


def _rooms(result, tower, window):
    """{(use, level): room [cases] of that door to the nearer end of its window [Pa]}: below zero when out, infinite for an open one."""
    if all((door.least_pa, door.most_pa) == (None, None) for door in window.doors):
        return {}
    doors, found = DoorColumns(tower, window), {}
    open_ = [
        [column.level in (case.open_exits if column.use == EXIT else case.open_doors) for column in doors.columns] for case in result.cases
    ]
    rooms = np.minimum(*doors.rooms(doors.across(result.held.air), np.array(open_)))
    for place, column in enumerate(doors.columns):
        key = column.use, column.level
        found[key] = np.minimum(found.get(key, np.inf), rooms[:, place])
    return found


def _room(rooms, use, level, places):
    """Least room [Pa] of a door in some cases; infinite where it has no limit."""
    return float(rooms[use, level][places].min()) if (use, level) in rooms else np.inf


def _with_room(state, rooms, use, level, places):
    """Key of the status of a row that is not out: CHECK with less room than SPARE_PA."""
    return "attention" if state == "good" and _room(rooms, use, level, places) < SPARE_PA else state


def opened(cases, levels):
    """Whether a stair door stands open [cases, storeys]."""
    return np.array([np.isin(levels, case.open_doors) for case in cases])


def doors_table(result, design, window, groups=None):
    """`Table` of the pressure across every stair door under one rule, top storey first, then across final exits; from the least to the most
    over the stair's air.

    result: `RuleResult`; window: `SiteWindow` that it was judged by; groups: of numbers of its cases, a column each, by default all that
    differ in the stair's air alone. A row is judged by `room_rule_said`, as every table of doors is."""
    site, cases = design.site, result.cases
    levels = [storey.level for storey in site.storeys]
    open_, groups = opened(cases, levels), groups or same_but_stair_air(cases)
    rooms = _rooms(result, design.tower, window)
    shown = [place for group in groups for place in group]
    rows = tuple(
        (str(levels[storey]), *(_door_cell(result, group, levels[storey], storey, open_, rooms) for group in groups))
        for storey in reversed(range(len(levels)))
    )
    exits = [place for place, storey in enumerate(site.storeys) if storey.final_exit_door]
    rows += tuple(
        (f"Final exit {levels[storey]}", *(_exit_cell(result, group, levels[storey], storey, rooms) for group in groups))
        for storey in exits
    )
    columns = ("Storey", *(cases[group[0]].name for group in groups))
    airs = listed(dict.fromkeys(cases[place].stair for place in shown))
    note = f"In {unit_of('pressure')}; from the least to the most with the stair's air {airs}. {room_rule_said()}"
    states = tuple(
        _with_room(_row_state(result, shown, storey), rooms, DOOR, levels[storey], shown) for storey in reversed(range(len(levels)))
    )
    states += tuple(_with_room(_exit_state(result, shown, levels[storey]), rooms, EXIT, levels[storey], shown) for storey in exits)
    title = f"Pressure across every stair door{' and final exit' * bool(exits)}, {result.rule} reading"
    return Table(f"doors {result.rule}", title, columns, rows, states, note)


def _row_state(result, places, storey):
    """As `doors_status`: wrong where a storey's door is too high, or out in a case that the design has to hold; attention in another."""
    low, high = result.low[places, storey], result.high[places, storey]
    return "wrong" if high.any() or low[np.array(result.required)[places]].any() else "attention" if low.any() else "good"


@in_each
def _bare(text, label):
    return text.removesuffix(label).strip()


def span_text(dp_pa, digits=None):
    """Pressures across doors, from the least to the most. The fan of a case that none holds may come out at any figure: none is told."""
    if np.abs(dp_pa).max() > MOST_FAN_PA:
        return NO_FAN_GIVES
    return spanned(*(with_unit(end, "pressure", digits) for end in (dp_pa.min(), dp_pa.max())), unit_of("pressure"))


def _span_out(dp_pa, too, room_pa):
    """The same without the unit, and that it is too low or too high; with one digit more where it lies beside a limit."""
    text = _bare(span_text(dp_pa, FINE if abs(room_pa) < BESIDE_PA else None), unit_of("pressure"))
    out = " and ".join(f"too {one}" for one in too)
    return (", " if text == NO_FAN_GIVES else " ").join(filter(None, (text, out)))


def _door_cell(result, places, level, storey, open_, rooms):
    if open_[places[0], storey]:
        return "open"
    dp = result.door_dp_pa[places, storey]
    return _span_out(dp, [word for word, flags in (("low", result.low), ("high", result.high)) if flags[places, storey].any()],
                     _room(rooms, DOOR, level, places))  # fmt: skip


def _exits_out(result, places, level):
    """(number of the case, `DoorOut`) of a final exit that is out in one of these cases."""
    return [(place, door) for place in places for door in result.out_in(result.cases[place]) if (door.use, door.level) == (EXIT, level)]


def _exit_state(result, places, level):
    """As `_row_state`, of a final exit."""
    out = _exits_out(result, places, level)
    if any(door.too == "high" or result.required[place] for place, door in out):
        return "wrong"
    return "attention" if out else "good"


def _exit_cell(result, places, level, storey, rooms):
    if level in result.cases[places[0]].open_exits:
        return "open"
    dp = result.held.air.exit_dp_pa[places, storey]
    out = {door.too for _, door in _exits_out(result, places, level)}
    return _span_out(dp, [too for too in ("low", "high") if too in out], _room(rooms, EXIT, level, places))
