"""Every blank of the sheets of a test day, stated once: its sheet and table, its line and column, its kind and unit, what is sane in it.

The book is written from this list and read back by it. A blank is found by the words of its line and column, not by its place: a row that
somebody puts in moves nothing.
"""

from dataclasses import dataclass, replace
from typing import get_args

from helpers.model.site.criteria import AIR, BLANK
from helpers.model.site.field_types import Quantity
from helpers.model.test_day import DayWeather, Gauges
from helpers.studies.commissioning.crew.given_back import GAUGES as CARRIED
from helpers.studies.commissioning.crew.given_back import HEAD, NOT_USED, PART, WHO, kept_by
from helpers.studies.commissioning.crew.procedure import Procedure
from helpers.studies.commissioning.crew.rounds import MANUAL, OFF, SHUT
from helpers.studies.commissioning.fields import OF_THE_DAY
from helpers.studies.commissioning.hand_back import ADDED as CLOSING_ADDED
from helpers.studies.commissioning.hand_back import ALARM_DECISION, BEFORE, CEILING_BACK, CEILING_BACK_EARLIER, closing_lines
from helpers.studies.commissioning.judgement import DIRECTIONS, SHUTS
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.commissioning.steps.at_doors import GRID_HIGH, GRID_WIDE, hard_to_open
from helpers.studies.commissioning.steps.plant import ADDED, EARLIER, OPENS, RESEATS
from helpers.studies.measured.drawn import GAUGES
from helpers.studies.measured.readings import SCALE_PERCENT
from helpers.units.said import unit_of, with_unit

# What is sane in a blank of a kind, in SI: beyond it somebody wrote another quantity or another unit. Ours.
SANE = {"pressure": (-2000.0, 2000.0), "force": (0.0, 2000.0), "speed": (-60.0, 60.0), "flow": (0.0, 1000.0), "frequency": (0.5, 400.0),
        "time": (0.0, 36000.0), "temperature": (-60.0, 60.0), "wind speed": (0.0, 60.0), "angle": (0.0, 360.0), "length": (0.01, 20.0),
        "percent": (0.1, 100.0), "minutes": (0.0, 1440.0)}  # fmt: skip
TEXT, DATE = "text", "date"
REMARK, REMARKED = "remark", "Remark"  # the column of a table in which anything else is written, and its head
GAUGE_LINES = {"pressure_pa": ("gauge: 95 % of readings within", "pressure"), "flow_percent": ("flow: 95 % of traverses within", "percent"),
               "wind_m_s": ("wind: 95 % of readings within", "wind speed"),
               "scale_percent": ("pressure gauges, by their certificates: 95 % of what is shown within", "percent")}  # fmt: skip
# Words of the gauges beside them, which earlier sheets lack; a storey and a count are chosen from a list.
GAUGE_WORDS = {
    "pressure_gauges": "pressure gauges: how many, one for each pair or one for all",
    "upper_pair_from": "lowest storey that the upper pair read",
    "certificate": "pressure gauges: certificates, number and date",
}
GAUGE_KEYS = (*GAUGE_LINES, *GAUGE_WORDS)  # of the day's file, under [gauges]
GAUGES_ADDED = ("scale_percent", *GAUGE_WORDS)  # lines that earlier sheets lack
MOST_DEFICIENCIES = 12
DEVICES_EARLIER = {"panel": ("alarm panel and firefighter's switch",)}
STEPS, ROUNDS, DOORS, CLOCK, AIR_SPEED, DEVICES = "Steps", "Rounds", "Doors", "Clock", "Air speed", "Devices"


@dataclass(frozen=True)
class Blank:
    """One cell to fill in. kind: a dimension of `units.DIMENSIONS`, "minutes", TEXT or DATE; options: words to choose from; allowed: what
    the day's file takes of it, None for what does not go there; read: whether a gauge shows it, so that two people may read it."""

    kind: str = TEXT
    options: tuple = ()
    allowed: Quantity | None = None
    read: bool = True

    @property
    def ends(self):
        """(least, most, whether the least itself is too little) of a figure [SI]: what is sane, and what the day's file takes."""
        low, high = SANE[self.kind]
        own = self.allowed
        return (low, high, False) if own is None else (max(low, own.low), min(high, own.high), own.open_low and own.low >= low)

    @property
    def is_number(self):
        """Whether a figure is asked for."""
        return self.kind not in (TEXT, DATE)


@dataclass(frozen=True)
class FormLine:
    """One line: label in its first cell; cells by column: a `Blank`, or what stands there already (text, (SI, dimension), None); optional:
    whether a sheet may lack it: its weather does not ask for it, or it is older than the line; earlier: labels of it on sheets that are
    filled in, without the number before them."""

    label: str
    cells: dict
    optional: bool = False
    earlier: tuple = ()


@dataclass(frozen=True)
class Form:
    """One table of a sheet: key; sheet: name of the sheet; title in the first cell of its head; columns: {key: label}; lines by key;
    printed: columns whose printed figures are read back, too; optional: columns that an older sheet lacks."""

    key: str
    sheet: str
    title: str
    columns: dict
    lines: dict
    printed: tuple = ()
    optional: tuple = ()

    def blanks(self):
        """((table, line, column), `Blank`) of all to fill in."""
        for name, line in self.lines.items():
            yield from (((self.key, name, column), cell) for column, cell in line.cells.items() if isinstance(cell, Blank))


def forms(procedure: Procedure):
    """All `Form` of a test day, in the order of their sheets."""
    rounds = procedure.rounds
    return (_steps(procedure), _told(rounds), _people(procedure), _day(rounds), _fan(rounds), _pressures(rounds), *_again(rounds),
            _doors(rounds), _clock(rounds), *_grids(rounds), _devices(rounds), _gauges(), _deficiencies())  # fmt: skip


def every_blank(procedure):
    """{(table, line, column): `Blank`} of all forms."""
    return {key: blank for form in forms(procedure) for key, blank in form.blanks()}


def _steps(procedure):
    columns = {"who": "Who", "minutes": "Minutes", "do": "Do", "expected": "Expected", "limit": "Limit", "fails": "When it fails",
               "caution": "▲ Caution", "left": "Fan is left", "done": "Seen", "time": "Time", "initials": "Initials",
               "note": "Note"}  # fmt: skip
    lines = {}
    for step in procedure.in_hand_first:
        told = {"who": ", ".join(step.who), "minutes": f"{step.minutes:.0f}", "do": step.do, "expected": step.expected, "limit": step.limit,
                "fails": step.fails, "caution": f"▲ {step.caution}", "left": step.left_said}  # fmt: skip
        lines[step.number] = FormLine(
            step.label, told | {"done": Blank(options=SEEN), "time": Blank(), "initials": Blank(), "note": Blank()},
            step.added, (step.title, *step.earlier),
        )  # fmt: skip
    return Form("steps", STEPS, "Step", columns, lines)


def _told(rounds):
    lines = (*BEFORE, *closing_lines(rounds.ceiling))
    earlier = {CEILING_BACK: (CEILING_BACK_EARLIER,)}
    return Form("told", STEPS, PART, {"given": HEAD},
                {line: FormLine(line, {"given": Blank()}, line in (*CLOSING_ADDED, CEILING_BACK, ALARM_DECISION), earlier.get(line, ()))
                 for line in lines})  # fmt: skip


def _people(procedure):
    return Form("people", STEPS, "Recorded by", {"name": "Name, date", "signature": "Signature, in ink"},
                {line: FormLine(line, {"name": Blank()}, line not in WHO) for line in (*WHO, *kept_by(procedure))})  # fmt: skip


def _gauges():
    columns = {"instrument": f"Instrument: manufacturer, type; or {NOT_USED}", "serial": "Serial number", "until":
               "Calibrated until, year-month-day"}  # fmt: skip
    blanks = {"instrument": Blank(), "serial": Blank(), "until": Blank(DATE)}
    return Form("gauges", DEVICES, "Gauge", columns, {name: FormLine(name, blanks) for name in CARRIED})


def _with_unit(label, dimension):
    return f"{label} [{unit_of(dimension)}]" if dimension != "minutes" else f"{label} [min]"


def _taken(model, name):
    """The `Quantity` that a table of the day's file has for a field."""
    field = model.model_fields[name]
    marked = (*field.metadata, *(one for part in get_args(field.annotation) for one in getattr(part, "__metadata__", ())))
    return next(one for one in marked if isinstance(one, Quantity))


def _day(rounds):
    made = dict(rounds.sheet.made_for)
    lines = {"date": FormLine("date, year-month-day", {"found": Blank(DATE)})}
    for name, (label, dimension) in OF_THE_DAY.items():
        cells = {"found": Blank(dimension, allowed=_taken(DayWeather, name)), "made for": (made[name], dimension)}
        lines[name] = FormLine(_with_unit(label, dimension), cells)
    for name, (label, dimension) in GAUGE_LINES.items():
        blank, usual = Blank(dimension, allowed=_taken(Gauges, name), read=False), GAUGES.get(name, SCALE_PERCENT)
        lines[name] = FormLine(_with_unit(label, dimension), {"found": blank, "made for": (usual, dimension)}, name in GAUGES_ADDED)
    chosen = {"pressure_gauges": ("1", "2"), "upper_pair_from": tuple(str(storey.level) for storey in rounds.site.storeys)}
    for name, label in GAUGE_WORDS.items():
        lines[name] = FormLine(label, {"found": Blank(options=chosen.get(name, ()), read=False)}, name in GAUGES_ADDED)
    return Form("day", ROUNDS, "Weather and gauges", {"found": "Found", "made for": "Figures are made for"}, lines, ("made for",))


def _fan(rounds):
    columns, speed, flow, current = {}, {}, {}, {}
    for one in rounds.rounds:
        columns |= {f"{one.label} expected": f"{one.label}: expected", one.label: one.label}
        speed |= {f"{one.label} expected": (one.speed_hz, "frequency")} if one.mode != OFF else {}
        flow |= {f"{one.label} expected": (one.flow_m3_s, "flow")} if one.mode != OFF else {}
        current |= {f"{one.label} expected": "below the plate"} if one.mode != OFF else {}
        if one.mode != OFF:
            speed[one.label], flow[one.label], current[one.label] = Blank("frequency"), Blank("flow"), Blank()
    lines = {"speed": FormLine(_with_unit("speed, at the drive", "frequency"), speed),
             "flow": FormLine(_with_unit("flow, by traverse", "flow"), flow),
             "current": FormLine("motor current, with its unit A", current)}  # fmt: skip
    printed = tuple(f"{one.label} expected" for one in rounds.rounds if one.mode == MANUAL)
    return Form("fan", ROUNDS, "Fan", columns, lines, printed)


def _pressures(rounds):
    unit, sheet = unit_of("pressure"), rounds.sheet
    columns = {"least": f"Minimum [{unit}]", "most": f"Maximum [{unit}]"}
    rows = {(row.use, row.level): row for row in sheet.rows}
    for one in rounds.rounds:
        columns |= {f"{one.label} expected": f"{one.label}: expected [{unit}]", one.label: f"{one.label} [{unit}]"}
        columns |= {"minutes": "minutes since the start [min]"} if one.label == SHUT else {}
    lines = {}
    for quantity, level in rounds.read:
        row, cells = rows.get((quantity, level)), {}
        if row is not None:
            least, most = sheet.ends(row)
            ends = least, row.shuts_to_pa if most is None else most  # a leaf that the pressure pushes open has no other most
            cells |= {key: end if end in (None, BLANK) else (end, "pressure") for key, end in zip(("least", "most"), ends, strict=True)}
            cells["minutes"] = Blank("minutes")
        for one in rounds.rounds:
            if one.stands_open(quantity, level):
                cells[one.label] = "stands open"
            else:
                cells |= {f"{one.label} expected": (one.expected_pa[quantity, level], "pressure"), one.label: Blank("pressure")}
        lines[quantity, level] = FormLine(place_said(rounds, quantity, level), cells)
    return _remarked(Form("pressures", ROUNDS, "Pressure across", columns, lines))


def _remarked(form):
    """The form with a column for remarks, its last."""
    lines = {key: replace(line, cells=line.cells | {REMARK: Blank()}) for key, line in form.lines.items()}
    return replace(form, columns=form.columns | {REMARK: REMARKED}, lines=lines, optional=(REMARK,))


def place_said(rounds, quantity, level):
    """A door, or a floor or the stair over outdoors, in the words of the sheets."""
    row = next((row for row in rounds.sheet.rows if (row.use, row.level) == (quantity, level)), None)
    storey = row.storey if row else next(storey.words for storey in rounds.site.storeys if storey.level == level)
    return f"{quantity}, storey {storey}" if "over" in quantity else f"{quantity} {storey}"


def _again(rounds):
    unit, twice = unit_of("pressure"), [row for row in rounds.sheet.rows if row.later_minute is not None]
    if twice:
        columns = {"from": "From minute", "later_pa": f"Pressure again [{unit}]", "later_minutes": "minutes since the start [min]"}
        lines = {row.key: FormLine(f"{row.use} {row.storey}", {"from": f"{row.later_minute:.0f}", "later_pa": Blank("pressure"),
                                                           "later_minutes": Blank("minutes")}, row.use == "final exit")
                 for row in twice}  # fmt: skip
        yield Form("again", ROUNDS, "End doors again", columns, lines)


def leaves_of(rounds):
    """(key of the leaf, its row of the acceptance sheet, its words) of every leaf that is worked by a hand; of several kinds on a storey
    those of the kind that bears least, named: the other kinds' leaves are on no sheet yet."""
    site, count, kind = rounds.site, {}, {}
    for storey in site.storeys:
        name = site.hardest_stair_door(storey)
        count[storey.level] = storey.stair_doors.get(name, storey.stair_door_count)
        kind[storey.level] = f", {name}" if storey.other_stair_doors else ""
    for row in rounds.sheet.rows:
        for number in range(1, (count[row.level] if row.use == "stair door" else 1) + 1 if row.forces else 1):
            several = row.use == "stair door" and count[row.level] > 1
            named = kind[row.level] if row.use == "stair door" else ""
            yield (row.key, number), row, f"{row.use} {row.storey}{named}{f', leaf {number}' * several}"


def _doors(rounds):
    sheet, force, length = rounds.sheet, unit_of("force"), unit_of("length")
    columns = {"width_m": f"Leaf: width [{length}]", "height_m": f"height [{length}]", "handle_to_edge_m": f"handle to edge [{length}]",
               "latch": "Latch"}  # fmt: skip
    steps = [one.step for one in sheet.criteria.forces]
    for fan in ("off", "on"):
        for step in steps:
            columns[f"{fan} {step}"] = f"Fan {fan}: to {step} [{force}]"
            if step in AIR:
                columns[f"{fan} {step} expected"] = f"Fan {fan}: to {step}, expected [{force}]"
    for step in steps:
        columns[f"{step} limit"] = f"To {step}: limit [{force}]"
    columns |= {"same_pa": f"Pressure in the same minute [{unit_of('pressure')}]", "shuts": "Shuts and latches", "direction":
                "Smoke or thread goes"}  # fmt: skip
    lines = {}
    for key, row, words in leaves_of(rounds):
        cells = {name: Blank("length") for name in ("width_m", "height_m", "handle_to_edge_m")} | {"latch": Blank(options=SHUTS)}
        for expected in row.forces:
            step = expected.criterion.step
            cells[f"{step} limit"] = BLANK if expected.limit_n is None else (expected.limit_n, "force")
            cells |= {f"off {step}": Blank("force"), f"on {step}": Blank("force")}
            if step in AIR:
                cells |= {f"off {step} expected": (row.off_n, "force"), f"on {step} expected": (expected.expected_n, "force")}
        cells |= {"same_pa": Blank("pressure"), "shuts": Blank(options=SHUTS), "direction": Blank(options=DIRECTIONS)}
        lines[key] = FormLine(words, cells)
    return _remarked(Form("doors", DOORS, "Leaf", columns, lines))


RECOVERS, FALLS = "open: clock to 90 %", "shut again: how long the hardest door is past its force limit"


def _clock(rounds):
    columns = {"told": "Expected, limit", "who": "Who", "caution": "▲ Caution", "read": "Read"}
    lines, known = {}, {one.field: one for one in rounds.sheet.plant}
    asked = [*known, *((OPENS, RESEATS) if rounds.site.stair.relief else ())]
    for name in dict.fromkeys(asked):
        one = known.get(name)
        dimension = one.dimension if one else "pressure"
        told = {"told": one.told, "who": one.who, "caution": f"▲ {one.caution}"} if one else {"told": "no speed opens it in this weather"}
        blank = Blank(dimension) if dimension else Blank(options=one.words)
        label = _with_unit(name, dimension) if dimension else name
        earlier = [_with_unit(EARLIER[name], dimension)] if name in EARLIER else []
        lines[name] = FormLine(label, told | {"read": blank}, name in (OPENS, RESEATS, *ADDED), tuple(earlier))
    response = rounds.sheet.criteria.response
    limit = "none asked" if response.limit is None else with_unit(response.limit, "time")
    limit = "blank in the standard's file" if response.blank else limit
    where = hard_to_open(rounds)
    at = f"; {where[0]}: how long{where[1] or ' past its force limit'}" if where else ""
    for use, level in clocked(rounds):
        for name, told in ((RECOVERS, f"at most: {limit}"), (FALLS, f"0 s: past is past, however short{at}")):
            words = place_said(rounds, use, level)
            lines[use, level, name] = FormLine(_with_unit(f"{words} {name}", "time"), {"told": told, "read": Blank("time")})
    return _remarked(Form("clock", CLOCK, "Clock and plant", columns, lines))


def opened(rounds):
    """(use, level) of the doors that stand open in the last round."""
    last = rounds.rounds[-1]
    return tuple(last.speeds_m_s)


def clocked(rounds):
    """(use, level) of the doors whose opening and shutting is clocked: a lobby's door moves with its stair door."""
    return tuple((use, level) for use, level in opened(rounds) if use != "lobby door")


def grid_key(use, level):
    """Key of the form of an open door's grid."""
    return f"grid {use} {level}"


def _grids(rounds):
    speed = unit_of("speed")
    for use, level in opened(rounds):
        expected = rounds.rounds[-1].speeds_m_s[use, level]
        places = dict(zip(range(1, GRID_WIDE + 1), ("hinge side", "middle", "latch side"), strict=True))
        columns = {place: f"{where} [{speed}]" for place, where in places.items()} | {"expected": f"mean expected [{speed}]"}
        heights = [f"{100 * (2 * row + 1) / (2 * GRID_HIGH):g} % of the height" for row in reversed(range(GRID_HIGH))]
        lines = {row: FormLine(where, {place: Blank("speed") for place in places}) for row, where in enumerate(heights, 1)}
        lines[1].cells["expected"] = (expected, "speed")
        yield _remarked(Form(grid_key(use, level), AIR_SPEED, f"Air through {place_said(rounds, use, level)}", columns, lines))


def devices_of(rounds):
    """(key, device in words, design in words) of what has a plate."""
    site = rounds.site
    fan = site.fan
    top = f"{with_unit(max(fan.flows_m3_s), 'flow', (1, 0))} at the end of its curve, {with_unit(fan.reference_speed_hz, 'frequency')}"
    yield "fan", "fan", top
    yield "motor", "motor", f"{with_unit(fan.motor_power_w, 'power', 1)}, {fan.motor_poles} poles"
    low, high = fan.speed_limits_hz(site.control.fire_mode)
    yield "drive", "drive", f"{with_unit(low, 'frequency')} to {with_unit(high, 'frequency')}, ramp {with_unit(fan.ramp_s, 'time')}"
    for tap in site.transmitters:
        span = f"{with_unit(tap.range_low_pa, 'pressure', (0, 2))} to {with_unit(tap.range_high_pa, 'pressure', (0, 2))}, {tap.signal}"
        yield f"transmitter {tap.name}", f"transmitter {tap.name}, storey {tap.level}", span
    for number, relief in enumerate(site.stair.reliefs):
        words = f"relief damper, storey {relief.level}"
        opens, full = (with_unit(value, "pressure") for value in (relief.opens_pa, relief.full_pa))
        yield words if number else "relief damper", words, f"opens at {opens}, full at {full}"
    source = "not stated in the site file" if site.standby is None else site.standby.source
    yield "standby", "standby power", source
    yield "panel", "alarm panel and fire service's panel", "as the cause-and-effect list lays down"
    yield "intake detector", "detector at the fan's intake", "as the cause-and-effect list lays down"


def _devices(rounds):
    columns = {"design": "Design", "tag": "Tag", "plate": "Nameplate: manufacturer, type, number; motor: A", "measured": "Measured, found",
               "seen": "Seen"}  # fmt: skip
    blanks = {"tag": Blank(), "plate": Blank(), "measured": Blank(), "seen": Blank(options=SEEN)}
    lines = {key: FormLine(words, {"design": design} | blanks, earlier=DEVICES_EARLIER.get(key, ()))
             for key, words, design in devices_of(rounds)}  # fmt: skip
    return Form("devices", DEVICES, "Device", columns, lines)


def _deficiencies():
    columns = {"where": "Device or door", "what": "What", "who": "Who mends it", "retest": "Tested again, date"}
    lines = {number: FormLine(f"deficiency {number}", {"where": Blank(), "what": Blank(), "who": Blank(), "retest": Blank(DATE)})
             for number in range(1, MOST_DEFICIENCIES + 1)}  # fmt: skip
    return Form("deficiencies", DEVICES, "Deficiencies", columns, lines)
