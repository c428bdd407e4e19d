"""A day's filled sheets made up: a building drawn about a site, two pairs who read it with gauges that err, and slips as people make them.

For trying the way back, for the page, for tests. What is behind it is the drawn building of the demo day of that site.
"""

import numpy as np
from openpyxl import load_workbook

from helpers.model.air.conditions import Conditions
from helpers.model.site.criteria import AIR
from helpers.studies.commissioning.crew.blanks import (
    FALLS,
    RECOVERS,
    TEXT,
    clocked,
    devices_of,
    every_blank,
    grid_key,
    leaves_of,
)
from helpers.studies.commissioning.crew.book import write_book
from helpers.studies.commissioning.crew.given_back import ASKS_YES, AUTHORITY, WHO, kept_by
from helpers.studies.commissioning.crew.given_back import GAUGES as CARRIED
from helpers.studies.commissioning.crew.procedure import procedure
from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL, OFF, OVER, SHUT, crew_rounds
from helpers.studies.commissioning.crew.times import clock_said
from helpers.studies.commissioning.fields import OF_THE_DAY, Day
from helpers.studies.commissioning.hand_back import (
    ALARM_DECISION,
    BEFORE,
    BY_THE_LOOP,
    CEILING_BACK,
    COUNTED,
    DECIDED,
    FIRE_WATCH,
    NAME,
    TIME,
    closing_lines,
)
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.commissioning.steps.at_doors import GRID_HIGH, GRID_WIDE
from helpers.studies.commissioning.steps.frame import AGAIN, ENTERED
from helpers.studies.commissioning.steps.not_run import NOT_RUN
from helpers.studies.commissioning.steps.plant import OPENS, RESEATS, lifted_by_hand
from helpers.studies.doors.open import door_speed
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.drawn import DEMO_DAYS, GAUGES, drawn_day
from helpers.studies.measured.readings import QUANTITIES, every_quantity

LOWER_PAIR, UPPER_PAIR = "lower pair.xlsx", "upper pair.xlsx"
FORCE_ERROR_N, STIFF_N, STILL_SPEED = (
    1.5,
    45.0,
    0.1,
)  # of a force gauge (standard), of one closer that drags, share of a grid's scatter; ours
AMPERES_PER_KW, IDLE_SHARE, LOAD_SHARE = 2.0, 0.4, 0.9  # of a motor at 400 V, of its plate without load and at its speed; ours
STARTS_MIN = 540  # the first step, since midnight
# Where the example is shown or written, before its verdict.
INVENTED = "INVENTED EXAMPLE: nobody measured this, no building is judged by it."
DECISION = "owner's engineer: left in AUTOMATIC, a guard at the panel until the fallback is laid down and proved"
DECISION_OFF = "owner's engineer: left OFF, stair watched by a guard, fire service told, until the record is settled and proved"
SLIPS = ("a formula for a figure", "a flow with a sign", "a comma for a point", "one door read twice, differently")


def example_books(site, folder, seed=None, first=None):
    """Write the filled sheets of two pairs into a folder. seed: of the drawn building, by default that of the site's demo day; first: as of
    `procedure`: what is NOT RUN is not filled in. Returns (paths, `Procedure` for the weather that the crew found, `DrawnDay`). Raises
    ValueError as `drawn_day`, and for a site without a demo day where no seed is given.
    """
    if seed is None and site.name not in DEMO_DAYS:
        raise ValueError(f"site must be one of {', '.join(DEMO_DAYS)} where no seed is given; got {site.name!r:.60}")
    drawn = drawn_day(site, DEMO_DAYS[site.name] if seed is None else seed, most_hz=ceiling_of(site).hz)
    weather = drawn.day.weather
    steps = procedure(crew_rounds(site, day=Day(**{name: getattr(weather, name) for name in OF_THE_DAY})), first=first)
    rng = np.random.default_rng(len(site.storeys))
    filled = _air(steps.rounds, drawn, rng) | _words(steps, drawn.day.date)
    filled |= _leaves(steps, filled, rng)
    filled = _as_run(steps, filled)
    middle = len(site.storeys) // 2
    lower, upper = ({key: value for key, value in filled.items() if _of_pair(steps.rounds, key, middle, above)} for above in (False, True))
    shared = ("pressures", ("stair door", site.storeys[middle].level), SHUT)
    shared = shared if shared in filled else (*shared[:2], next(one.label for one in steps.rounds.rounds if one.mode == MANUAL))
    upper[shared] = round(filled[shared] + 3.0, 1)
    paths = [write_book(steps, folder / LOWER_PAIR, filled=lower), write_book(steps, folder / UPPER_PAIR, filled=upper)]
    _slip(steps, paths[0], filled)
    return tuple(paths), steps, drawn


def _air(rounds, drawn, rng):
    """Pressures, speeds, flows, grids and the weather, as read."""
    site, tower, weather = rounds.site, drawn.tower, rounds.sheet.weather
    changes = rounds.sheet.day.changes(site, weather)
    found = {("day", name, "found"): value for name, value in vars(rounds.sheet.day).items() if value is not None}
    found |= {("day", name, "found"): value for name, value in GAUGES.items()} | {("day", "date", "found"): drawn.day.date}
    steady = iter(sorted(drawn.day.rounds, key=lambda one: one.speed_hz))
    for one in rounds.rounds:
        true = drawn.truth(Conditions.of(site, weather, one.open_doors, one.open_exits, **changes))
        of_day = next(steady) if one.mode == MANUAL else one
        air = tower.hold(true).air if one.mode == AUTOMATIC else tower.solve(true, of_day.speed_hz)
        every = every_quantity(air)[0]
        levels = {storey.level: place for place, storey in enumerate(site.storeys)}
        for quantity, level in rounds.read:
            if not one.stands_open(quantity, level):
                right = float(every[QUANTITIES.index(quantity), levels[level]])
                found["pressures", (quantity, level), one.label] = round(right + rng.normal() * GAUGES["pressure_pa"] / 2, 1)
        if one.mode != OFF:
            found["fan", "speed", one.label] = round(float(air.speed_hz[0]), 1)
            found["fan", "flow", one.label] = round(float(air.fan_flow_m3_s[0]) * (1 + 0.04 * rng.normal()), 2)
            found["fan", "current", one.label] = f"{_current_a(site, float(air.speed_hz[0])):.1f} A"
        for use, level in one.speeds_m_s if one is rounds.rounds[-1] else ():
            mean = door_speed(tower, air, true, 0, level, use)
            for row in range(1, GRID_HIGH + 1):
                for place in range(1, GRID_WIDE + 1):
                    found[grid_key(use, level), row, place] = round(mean * (1 + STILL_SPEED * rng.normal()), 2)
    for row in rounds.sheet.rows:
        found["pressures", (row.use, row.level), "minutes"] = 1.0 if row.later_minute is not None else 5.0
        if row.later_minute is not None:
            found["again", row.key, "later_pa"] = found["pressures", (row.use, row.level), SHUT]
            found["again", row.key, "later_minutes"] = row.later_minute
    return found


def _as_run(steps, filled):
    """What was filled in of the steps that are run; the fan's forces then are those of the last steady speed."""
    barred = {name for step in steps.steps if step.against for name in step.judged}
    last = steps.rounds.rounds[-1].label
    kept = {}
    for (table, line, column), value in filled.items():
        left_out = {"again": AGAIN in barred, "pressures": column in barred or (column == "minutes" and SHUT in barred),
                    "fan": column in barred, "clock": line in barred or (last in barred and not isinstance(line, str)),
                    "steps": any(step.against and step.number == line for step in steps.steps)}  # fmt: skip
        if not left_out.get(table, table.startswith("grid") and last in barred):
            kept[table, line, column] = value
    if steps.first:
        kept |= {("told", line, "given"): f"no, {NOT_RUN}, AB" for line in BY_THE_LOOP}
    return kept


def _current_a(site, speed_hz=None):
    """Current of the motor [A] at a speed, by default the one on its plate: a rest that magnetises, and the fan's torque."""
    plate = AMPERES_PER_KW * site.fan.motor_power_w / 1000
    return plate if speed_hz is None else plate * (IDLE_SHARE + (LOAD_SHARE - IDLE_SHARE) * (speed_hz / site.fan.reference_speed_hz) ** 2)


def _leaves(steps, filled, rng):
    """The survey: each leaf's closer and air, and one closer that drags once the fan is on."""
    rounds = steps.rounds
    found, leaves = {}, [*leaves_of(rounds)]
    by = [one.label for one in rounds.rounds if one.mode == MANUAL][-1] if steps.first else SHUT
    for number, (key, row, _) in enumerate(leaves):
        door, place = rounds.site.doors[row.door], (row.use, row.level)
        off_pa, on_pa = filled.get(("pressures", place, rounds.rounds[0].label)), filled.get(("pressures", place, by))
        lever = -row.arm_n_pa if row.window.opens_with_pressure else row.arm_n_pa
        sizes = {"width_m": door.width_m, "height_m": door.height_m, "handle_to_edge_m": door.handle_to_edge_m}
        found |= {("doors", key, name): value for name, value in sizes.items()}
        found |= {("doors", key, "latch"): "yes" if door.has_latch else "no", ("doors", key, "same_pa"): on_pa}
        found |= {("doors", key, "shuts"): "yes", ("doors", key, "direction"): "out of the stair"}
        for force in row.forces:
            step, latch = force.criterion.step, door.latch_force_n or 25.0
            for fan, dp in (("off", off_pa), ("on", on_pa)):
                own = latch if step == "release the latch" else row.closer_n + (lever * dp if step in AIR else 0.0)
                drags = STIFF_N if fan == "on" and step in AIR and number == len(leaves) // 3 else 0.0
                found["doors", key, f"{fan} {step}"] = round(max(own + drags + FORCE_ERROR_N * rng.normal(), 0.0), 0)
    return found


def _words(steps, date):
    """Steps signed, devices with tag and plate, plant and clock as expected."""
    rounds, found, done, ends = steps.rounds, {}, {}, STARTS_MIN
    for step in steps.steps:
        found |= {("steps", step.number, "done"): SEEN[0], ("steps", step.number, "initials"): "AB"}
        ends += 0 if step.against else step.minutes
        done[step.number] = at = clock_said(int(ends))
        found["steps", step.number, "time"] = at
        if ENTERED in step.judged:
            found["steps", step.number, "note"] = f"{rounds.ceiling.hz:.1f} Hz"
    found |= {("told", line, "given"): "08:40, AB" for line in BEFORE} | {("told", line, "given"): f"{at}, AB" for line in (TIME, NAME)}
    found["told", ALARM_DECISION, "given"] = "8 May, in the folder at the alarm panel"
    found["told", FIRE_WATCH, "given"] = f"AB, 08:30 to {clock_said(int(ends) + 30)}"
    found |= {("told", COUNTED, "given"): "6 in, 6 out, AB"} | {("told", DECIDED, "given"): DECISION_OFF if steps.first else DECISION}
    if not steps.first and CEILING_BACK in closing_lines(rounds.ceiling):  # what goes above the ceiling is named by the decision
        found["told", DECIDED, "given"] = f"{DECISION}; the drive's highest speed {rounds.ceiling.full_hz:g} Hz"
    found |= {("people", line, "name"): f"AB, {date}" for line in WHO if line != AUTHORITY}
    found |= {("people", line, "name"): f"{letters}, {date}" for line, letters in zip(kept_by(steps), ("CD", "EF", "GH"), strict=False)}
    for number, name in enumerate(CARRIED, 1):
        of_it = {"instrument": name.partition(",")[0], "serial": f"S-{number:03d}", "until": f"{int(date[:4]) + 1}{date[4:]}"}
        found |= {("gauges", name, column): words for column, words in of_it.items()}
    own = {line: done[step.number] for step in steps.steps for line in step.judged}
    found |= {("told", line, "given"): f"yes, {own.get(line, at)}, AB" for line in ASKS_YES}
    in_drive = f"no, {rounds.ceiling.hz:.1f} Hz stays in" if steps.first else f"yes, {rounds.ceiling.full_hz:g} Hz"
    found["told", CEILING_BACK, "given"] = f"{in_drive}, {own.get(CEILING_BACK, at)}, AB"
    for number, (key, _, _) in enumerate(devices_of(rounds), 1):
        told = {"tag": f"T-{number:02d}", "plate": f"plate {number:02d}", "measured": "as designed", "seen": SEEN[0]}
        told |= {"plate": f"plate {number:02d}, {_current_a(rounds.site):.1f} A"} if key == "motor" else {}
        found |= {("devices", key, name): words for name, words in told.items()}
    by_hand = (OPENS, RESEATS) if lifted_by_hand(rounds.sheet.plant) else ()  # a hand reads no pressure
    for one in (one for one in rounds.sheet.plant if one.field not in by_hand):
        found["clock", one.field, "read"] = one.figure if one.dimension else "yes"
    for use, level in clocked(rounds):
        found |= {("clock", (use, level, RECOVERS), "read"): 8.0, ("clock", (use, level, FALLS), "read"): 6.0}
    known = every_blank(steps)
    return {key: value for key, value in found.items() if key in known and (known[key].kind == TEXT or value is not None)}


def _of_pair(rounds, key, middle, above):
    """Whether a blank is filled in by the pair above the middle storey, or by the one below: both write the middle storey, and the lower
    pair all that is of no storey."""
    table, line, _ = key
    levels = {storey.level: place for place, storey in enumerate(rounds.site.storeys)}
    if table == "pressures":
        place = levels[line[1]]
    elif table == "doors":
        row = rounds.sheet.row(line[0])
        place = levels[row.level]
    else:
        return not above
    if table == "pressures" and line[0] in OVER and place == middle:
        return not above
    return place >= middle if above else place <= middle


def _slip(steps, path, filled):
    """Put slips into a filled book, as people make them: see SLIPS."""
    book = load_workbook(path)
    page = book["Rounds"]
    heads = {cell.value: cell.column for row in page.iter_rows() for cell in row if isinstance(cell.value, str)}
    rows = {}
    for row in range(1, page.max_row + 1):
        rows[page.cell(row, 1).value] = row
    doors = [row for row in steps.rounds.sheet.rows if row.use == "stair door"]
    steady = [one.label for one in steps.rounds.rounds if one.mode == MANUAL]
    at = {number: next(row for row in range(_heads_row(page), page.max_row + 1) if page.cell(row, 1).value == f"stair door {door.storey}")
          for number, door in enumerate(doors[:2])}  # fmt: skip
    page.cell(at[0], heads[f"{steady[0]} [Pa]"]).value = "=AVERAGE(10.2,11.4)"
    comma = filled["pressures", ("stair door", doors[1].level), steady[0]]
    page.cell(at[1], heads[f"{steady[0]} [Pa]"]).value = f"{comma:.1f}".replace(".", ",")
    flow = page.cell(rows["flow, by traverse [m³/s]"], heads[steady[-1]])
    flow.value = -float(flow.value)
    book.save(path)


def _heads_row(page):
    """The row of the heads of the pressures on a sheet of rounds."""
    return next(row for row in range(1, page.max_row + 1) if page.cell(row, 1).value == "Pressure across")
