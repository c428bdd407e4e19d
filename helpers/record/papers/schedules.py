"""The schedules of a job: fan, relief damper, drive, transmitters, tubing; each line as the record holds it, with room for an offer."""

from helpers.model.files import texts
from helpers.model.site.tolerances import boxes
from helpers.record.papers.beyond.stated import SECOND_SHAFT, second_shaft_parts
from helpers.record.papers.paper import Paper, Part
from helpers.record.papers.points import waiting
from helpers.record.papers.quoted import ASKED, DOORS_BEAR, STATED
from helpers.record.settings.schedule import NOT_STATED
from helpers.record.standing import SET_POINT
from helpers.studies.duty.motor_load import MOST_ASKED
from helpers.studies.report import PRACTICE, Table
from helpers.studies.signals.low_sides import SPACES
from helpers.units.said import with_unit

COLUMNS = ("What", "As the record has it", "Why", "Offered: maker, type, value")
BUY_CAUTION = "Order nothing by a line that says FAIL, CHECK or not laid down: settle it first, and write the papers anew."
ROTATING = "Work on fan and drive is for qualified people, with the drive isolated and locked out; wind in the duct may turn the wheel."
WIRES = "Wires are moved with the drive isolated and locked out; tell building and alarm service before, the stair is not protected then."
_DRIVE = (
    "lowest speed", "highest speed", "lowest speed in smoke control", "highest speed in smoke control",
    "start speed, and least speed of the loop", "ramp up", "ramp down", "brake", "restart after the mains come back",
    "override of the drive's own trips", "speed of the override", "manual override, fire alarm input", "standby power",
    "proof that the fan runs",
)  # fmt: skip
RISER = (
    "Fan pressures hold riser, branches and outlets as the site file states them; its duct loss is of intake and duct up to the riser. "
    "An outlet is bought by free area and loss coefficient together: another one shares the air otherwise, and the papers are written anew."
)
_TWO_FANS = ("second fan", "change-over", "loop in the change-over", "interlock of the two fans")
TWO_ASKED = (
    "Two are ordered of all of this: two fans, two motors, two drives with their isolators, two shut-off dampers, all alike; the duty is "
    "that of one of them alone, and what the idle one's shut damper lets back is added to it where the record says so."
)
SHUT_OFF = (
    ("damper_travel_s", "Travel from shut to open", "time"),
    ("damper_leak", "Leak when shut, of the fan's full flow at its pressure without flow", "share"),
    ("stuck_open_leak", "The same stuck open", "share"),
)
SHUT_OFF_OPEN = (
    ("Size, and its loss at the flow asked of the fan", "the duct's: it is part of the duct loss that the fan is asked for"),
    ("Which way it goes without power or command", "see the enquiry list: shut-off dampers"),
)
_INPUT = (
    "where it reads", "signal type", "display at the low end of the signal", "display at the high end of the signal", "signal failed",
    "filter time", "lag of the transmitter", "damping at the transmitter's dial",
)  # fmt: skip


def schedules(quoted):
    """The `Paper` of all schedules, from what is `Quoted` of a record."""
    parts = (_fan(quoted), _damper(quoted), _drive(quoted), _transmitters(quoted), _tubing(quoted), _doors(quoted))
    parts = *parts, *second_shaft_parts(quoted, "schedules", judged=False)
    return Paper("schedules", 5, "Schedules", "For whoever offers, buys and checks deliveries: fan, damper, drive, instruments.", parts)


def _schedule(key, title, rows, columns=COLUMNS, note=""):
    """Rows, (cells, status), as a table with a blank last column."""
    cells, states = zip(*rows, strict=True)
    return Table(key, title, columns, tuple((*row, "") for row in cells), states, note)


def _fan(quoted):
    none_to_buy, none_kept = quoted.no_fan_to_buy, quoted.no_stated_fan
    rows = (
        quoted.decided("Fan", "The fan, in one line"),
        *(quoted.figure("fan", label, none_to_buy) for label in ASKED),
        quoted.decided("Motor stated"),
        *(quoted.figure("fan", label, none_kept) for label in STATED),
        quoted.row("fan", "the fan that all of this holds for", "curve that the record was worked out with"),
        quoted.row("low demand", "low-demand stop", "starts by a low-demand stop"),
        quoted.row("fan", "smoke detector in the supply"),
        *(quoted.row("fan", name) for name in SECOND_SHAFT if quoted.site.second_shaft),
    )
    lines = (
        "A fan is offered with its curve, the density of the air that the curve stands for, and its highest permissible speed. Flow and "
        "pressure asked hold for the air of their case; the catalogue's line is the same duty in standard air.",
    )
    blanks = ("Highest permissible speed, by the fan's maker", "Inertia of impeller, shaft and motor, by the fan's maker",
              "Temperature class, asked for by the authority or the licensed engineer",
              "Belts or direct drive; number of belts, and how much more than the motor they carry (adopted code)",
              "Service factor of the motor (adopted code)", "Motor cooled at the lowest speed: by its own fan, for how long")  # fmt: skip
    tables = (_schedule("fan", "Fan and motor", rows),)
    if quoted.site.second_fan is not None:
        lines, tables = (*lines, TWO_ASKED), (*tables, _shut_off(quoted))
    if quoted.site.riser is not None:
        lines = (*lines, RISER)
        rows = [quoted.figure("fan", label) for label in ("Riser and outlets cost", "Branches move a door by, at the most")]
        tables = (*tables, _schedule("riser", "Riser and outlets", rows), quoted.table("fan", "outlets"))
    return Part("Fan and motor", lines, tables=tables, blanks=blanks, cautions=(BUY_CAUTION, ROTATING))


def _shut_off(quoted):
    """`Table` of the dampers that keep air from going back through the fan that stands still."""
    given, rows = quoted.site.second_fan, [quoted.row("fan", name) for name in _TWO_FANS[:1]]
    known = {field: box for field, box in boxes(quoted.design.site).items() if field.startswith("second_fan.")}
    for field, what, dimension in SHUT_OFF:
        box, stated = known[f"second_fan.{field}"], getattr(given, field, None) is not None
        low, high = (f"{100 * end:.3g} %" if dimension == "share" else with_unit(end, dimension, 2) for end in (box.low, box.high))
        rows.append(((what, low if low == high else f"{low} to {high}", box.source), "" if stated else "open"))
    rows += [((what, NOT_STATED, why), "open") for what, why in SHUT_OFF_OPEN]
    rows.append((("Switches", "one at each end of its travel, on the blade", "see the points list"), ""))
    return _schedule("shut_off", "Shut-off dampers, one for each fan", rows)


def _damper(quoted):
    stated = quoted.site.stair.relief is not None
    rows = [quoted.decided("Relief damper", "Relief damper, in one line")]
    rows += [quoted.row("fan", name) for name in ("relief damper", "proof that the relief damper moves") if stated]
    lines = ("Blade, seat and both end positions can be seen at every test. Wind and ice at the outlet are the maker's to answer for.",)
    cautions = ("No door may rest on one damper that can stick: see the record's section on fan and drive.",)
    return Part("Relief damper", lines, tables=(_schedule("damper", "Relief damper", rows),), cautions=cautions)


def _drive(quoted):
    rows = [quoted.row("fan", name) for name in (*_DRIVE, *(_TWO_FANS if quoted.site.second_fan else ()))]
    rows.append(quoted.figure(*DOORS_BEAR))  # doors and final exits beside the drive's limit: the enquiry asks for it by the same figures
    rows += [quoted.figure("fan", label, quoted.no_stated_fan) for label in MOST_ASKED]
    besides = [quoted.filled(one) for one in texts("papers")["drive"] if quoted.has(one)]
    rows += [((one["what"], one["how"], one["why"]), waiting(quoted, (one["how"],))) for one in besides]
    checks = quoted.table("fan", "drive_checks")  # with its answers
    lines = (
        "The drive is asked for by these lines, in trade terms; how its maker calls each is written beside it.",
        "A lowest speed is a clamp of the drive; the least speed of the loop is the loop's own, and stands in the line of the start speed.",
    )
    outranks = "Panel and fire alarm outrank the loop; among themselves the list of the sequence decides."
    cautions = (ROTATING, f"A low-demand stop is never active in smoke control. {outranks}")
    blanks = ("Place of the drive, its enclosure, warmth and dust of its room", "Length and kind of the cable to the motor, and the filter "
              "that the drive's maker asks for at it", "Currents: of the drive for ever and for a short time, of the motor")  # fmt: skip
    return Part("Drive", lines, tables=(_schedule("drive", "What is asked of the drive", rows), checks), blanks=blanks, cautions=cautions)


def _doors(quoted):
    """The hardware of every kind of door that somebody works by hand: the doors decide every figure of the stair."""
    heads = ("Door", "Closer: maker, size", "Force fan off, measured", "Share that the closer gives back, measured",
             "Shuts and latches with the fan on", "Seals, undercut, threshold", "Hold-open")  # fmt: skip
    kinds = [name for name, door in quoted.site.doors.items() if door.worked_by_hand]
    table = Table("hardware", "Door hardware", heads, tuple((name, *[""] * (len(heads) - 1)) for name in kinds))
    lines = (
        "Doors decide set point, fan and speeds: each kind is offered and measured before the fan is bought. What a kind may need and may "
        "leak stands in the pressure window, in the rational analysis.",
    )
    cautions = ("A closer is set lighter only as far as its leaf still shuts and latches by itself, with the fan on.", BUY_CAUTION)
    return Part("Door hardware", lines, tables=(table,), cautions=cautions)


def _transmitters(quoted):
    rows = [quoted.decided("Transmitters", "Transmitters, in one line")]
    first = quoted.design.standing.first(SET_POINT)
    rows += [quoted.figure("range", label, first) for label in ("Accuracy", "A/D converter step")]
    tables = [_schedule("range", "Transmitters", rows)]
    for tap in quoted.site.transmitters:
        lines = [quoted.row(tap.name, name, first=first * name.startswith("display")) for name in _INPUT]
        tables.append(_schedule(f"transmitter {tap.name}", tap.name, lines))
    blanks = tuple(f"{tap.name}: serial number, certificate, damping found on the dial" for tap in quoted.site.transmitters)
    return Part("Transmitters", tables=tuple(tables), blanks=blanks, cautions=(BUY_CAUTION, WIRES))


def _tubing(quoted):
    rows = [
        ((f"{tap.name}: {what}", value, why), state)
        for tap in quoted.site.transmitters
        for (what, value, why), state in (quoted.row(tap.name, name) for name in ("where it reads", "lag of its tubes"))
    ]
    ruled = tuple((one["what"], one["how"], one["why"]) for one in texts("papers")["tubes"])
    rules = Table("tubes", "How tubes are run", ("What", "How", "Why"), ruled, note=PRACTICE.capitalize())
    lows = tuple(dict.fromkeys(SPACES[tap.reference] for tap in quoted.site.transmitters))
    lines = (f"All low sides end in like spaces; here: {', '.join(lows)}.",)
    ends = ("length and bore of the longer tube", "proved tight, high and low proved: date, name")
    blanks = tuple(f"{tap.name}: {end}" for tap in quoted.site.transmitters for end in ends)
    cautions = ("Prove the tubes with the fan in MANUAL and nobody at the doors: reversed ones send it to full speed.",)
    return Part("Tubing", lines, tables=(_schedule("tubing", "Tubes by transmitter", rows), rules), blanks=blanks, cautions=cautions)
