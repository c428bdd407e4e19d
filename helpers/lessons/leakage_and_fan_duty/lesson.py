"""Lesson 02's page: Larkfield House, tighter or looser, with doors open or shut; its doors on the left, its fan on the right."""

from functools import cache

from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.lessons import page as stair_cooling
from helpers.lessons.page import LessonParts, cooling_of
from helpers.model.air.fan import inlet_density_ratio
from helpers.plots.charts import fan_curves
from helpers.plots.headline import headed
from helpers.plots.markup import Verdict, html_table, paragraphs_html
from helpers.plots.picture import PANEL_PX, Drawing, Picture
from helpers.record.every_case import comparison_to_do
from helpers.record.plot_builders import final_exits, pressure_profile, speed_curve, storey_profiles, with_stair_temperature
from helpers.studies.cases import FIRST_MINUTE, conditions_of
from helpers.studies.doors.case_told import case_told
from helpers.studies.duty.fan_duty import FIRST_DOORS, STREET, DutyAsked, hand_ladder, leaky_stair
from helpers.studies.report import signed
from helpers.studies.status import word_of
from helpers.units.said import in_each, with_unit
from helpers.widgets.controls import Choice, Tick
from helpers.widgets.panel import Panel, Reading, Task
from helpers.widgets.sliders import Count, Slider

SPLIT = 0.58
APART_PA = 60.0  # of fan pressure between two marks: nearer, the words of one would hide the other's
OUTER, INNER = (tuple(WALL_LEAKAGE_RATIOS["nfpa92_2012"][wall]) for wall in ("exterior_wall", "stair_wall"))


@cache
def panel():
    """The panel, one in a notebook: shown again it is the same one, with the sliders where they were left."""
    asked = DutyAsked()
    controls = {
        "outdoor_c": Slider("Outdoors", "temperature", -30.0, 40.0, 1.0, asked.outdoor_c),
        "stair_c": Slider("Stair air", "temperature", -20.0, 35.0, 1.0, asked.stair_c),
        "set_point_pa": Slider("Set point", "pressure", 10.0, 80.0, 1.0, asked.set_point_pa),
        "exterior_wall": Choice("Outer walls", _words(OUTER), "average"),
        "stair_wall": Choice("Stair's walls", _words(INNER), "average"),
        "open_doors": Count("Stair doors open", 0, len(FIRST_DOORS), asked.open_doors),
        "street_open": Tick("Final exit open", asked.street_open),
        "driven": Choice("Exit closed by", {"its own closer": False, "a power operator": True}),
    }
    drawings = Drawing((0.0, 0.0, SPLIT, 1.0)), Drawing((SPLIT, 0.0, 1.0 - SPLIT, 1.0))
    groups = {"The doors": ("open_doors", "street_open"), "The walls": ("exterior_wall", "stair_wall"),
              "Fan and weather": ("set_point_pa", "outdoor_c")}  # fmt: skip
    return Panel(controls, Picture(*drawings, **PANEL_PX), _answer, groups=groups, read=READ, left_out=LEFT_OUT, tasks=TASKS)


def _answer(exterior_wall, stair_wall, driven, **asked):
    building = leaky_stair(exterior_wall, stair_wall, driven=driven)
    duty = building.duty(DutyAsked(**asked))
    if duty.exit_out and not driven:
        other = leaky_stair(exterior_wall, stair_wall, driven=True).duty(DutyAsked(**asked))
        said = f" Only the final exit door's closer is in the way: with a power operator on that door this would be {word_of(other.state)}."
        if other.state == "wrong":
            said = f" A power operator on the final exit door would not be enough. What would be left: {other.worst_door()}."
    else:
        said = ""
    words = f"{duty.says()}{said}"
    return Verdict(duty.state, words, **_told(building, duty)), _profile(building, duty), _fan(building, duty)


def _told(building, duty):
    """What decides with its case, the end doors, the air, and what to do."""
    judged, bench = (0, duty.early), (building.tower, building.window, duty.comparison)
    told = case_told(*bench, duty.deciding, building.stated)
    if duty.deciding:  # the doors of the first minute; the air is that of the picture, of all figures and of the predictions
        stair, speed = with_unit(duty.asked.stair_c, "temperature"), with_unit(duty.speed_hz, "frequency")
        told["tiles"] = (*told["tiles"][:2], (f"Air later, {stair}, {speed}", with_unit(duty.flow_m3_s[0], "flow"), ""))
    told |= {"do": comparison_to_do(*bench, building.stated, duty.state, judged)}
    if building.driven:
        told |= {"case": f"{told['case']}; final exit {STREET}: power operator, no closer judged"}
    if duty.asked.cases[0].shut:
        return told
    unasked = "" if duty.result.required[duty.deciding] else "; not a design case"
    return told | {"case": f"{told['case']}{unasked}; all doors shut: {word_of(duty.shut_state)}"}


READ = (
    "Left: every dot is a stair door with the pressure across it, the pale band is the window of lesson 01, a diamond on the edge is a "
    "door that stands open. There are two lines of dots: the first minute, the stair still as warm as the rooms, and later, with the "
    "stair as cold as Stair air says. The square is the final exit, at the higher of its two pressures, and the upright stroke is its "
    "limit: up to that pressure its closer shuts it.\n"
    "Right: the fan later: its curve at full speed and at the speed it then has, and where it works; with doors open a second mark shows "
    "where it works with all doors shut. The third tile has the air of this picture.\n"
    "The headline and the doors on the tiles are of the worse of the two moments, which the line below the headline names; All figures "
    "have "
    "both. With all doors shut a door past its limit is FAIL. While doors stand open that the design does not count as open, a door that "
    "is then too low is CHECK, and one that cannot be opened or shut is FAIL. The hand method, worked out further down, has its figure "
    "among all figures.\n"
    "In winter a running fan fills the stair with cold air, far below the rooms' 21 °C (70 °F). Stair air opens at 10 °C (50 °F), one "
    "figure for the whole stair; further down a table has it storey by storey and minute by minute, with its uncertainty. Move Stair air "
    "to several of its temperatures before you believe a set point."
)
LEFT_OUT = "the hour after the first minute (a final exit may fail late): page 11; other winds, full speed, a failed reading: page 12"
SUMMER = {"outdoor_c": 35.0, "stair_c": 27.0}
TASKS = (
    Task("All shut, FAIL: note the air on the third tile. Open one stair door, two (the design's case): what does each cost? "
         "Three: what happens beside them?", {"open_doors": 3}),
    Task("Shut them, open the final exit door: FAIL. Where does the fan work now? Does a higher set point help?", {"street_open": True}),
    Task(f"Shut it. Move Set point from {with_unit(20.0, 'pressure')} to {with_unit(40.0, 'pressure')}: the bottom door is FAIL at both. "
         f"By "
         "how much? Which grows faster, flow or power?", {"set_point_pa": 20.0}),
    Task("Make the Outer walls tight, then very loose: why FAIL, which way does the fan go? Why do the Stair's walls do the opposite?",
         {"exterior_wall": "tight"}),
    Task(f"Outdoors {with_unit(35.0, 'temperature')}, Stair air (under More) {with_unit(27.0, 'temperature')}: which door is FAIL "
         "now? Does the duty change as much as the picture?", SUMMER),
    Task("Leave it there; under More, a power operator for the final exit. Why does its closer limit the pressure of the whole stair?",
         SUMMER | {"driven": True}),
)  # fmt: skip


def _profile(building, duty):
    """The doors later and in the first minute, and the final exits where they are worse off of the two."""
    later, *others = storey_profiles(building.tower, duty.comparison, duty.result.rule)
    profiles = [later, next(one for one in others if one.label == FIRST_MINUTE)]
    exits = final_exits(building.tower, building.window, duty.result, (0, duty.early))
    said = [one.said for one in with_stair_temperature(profiles, duty.asked.stair_c)]
    return pressure_profile(building.tower, building.window, duty.comparison, profiles, building.site.name, exits=exits, said=said)


def _fan(building, duty):
    """The fan's curve at full speed and later, the duty, and where it would be with all doors shut."""
    site, case = building.tower.site, duty.asked.cases[0]
    density = float(inlet_density_ratio(building.tower, conditions_of(site, [case]))[0])
    speeds = ("later", duty.speed_hz), ("full speed", site.fan.highest_speed_hz)
    curves = [speed_curve(site.fan, name, speed, density) for name, speed in speeds]
    points = [_mark(duty, place) for place in range(len(duty.flow_m3_s))]
    if len(points) == 1:
        points.append(("", *points[0][1:3], ""))  # under the other one: the picture need not be drawn anew
    return fan_curves("fan", "The fan", curves, points[::-1])


def _mark(duty, place):
    flow, pressure = float(duty.flow_m3_s[place]), float(duty.pressure_pa[place])
    far = abs(pressure - duty.pressure_pa[0]) > APART_PA
    label = with_unit(flow, "flow") if place == 0 else "all shut" if far else ""
    return label, flow, pressure, "" if place else "good" if duty.held else "attention"


def _words(classes):
    return {name.replace("_", " "): name for name in classes}


EDITION = "nfpa92_2012"
WALLS = {"exterior_wall": "outer wall", "stair_wall": "wall of a stair", "lift_shaft_wall": "wall of a lift shaft", "floor": "floor slab"}


def tightness():
    """Leakage area of walls by tightness class."""
    return Reading(_tightness)


def cooling():
    """How the doors change while the stair cools: a stair without a lift beside it, and one with."""
    return stair_cooling.cooling("Larkfield House", "Northgate Tower")


def hand_and_network():
    """From the hand method to the network, one thing let in at a time."""
    return Reading(_ladder)


@in_each
def _tightness(*, system):
    """Gaps in the small unit of the system for a wall of a round size."""
    size, unit, name, wall = (100.0, 1e4, "cm²", "100 m²") if system == "Pa" else (92.90304, 1e4 / 6.4516, "in²", "1000 ft²")
    ratios = WALL_LEAKAGE_RATIOS[EDITION]
    classes = list(dict.fromkeys(word for known in ratios.values() for word in known))
    head = (f"{wall} of", *(f"{word.replace('_', ' ')}, {name}" for word in classes))
    found = {of: {word: f"{ratio * size * unit:.0f}" for word, ratio in known.items()} for of, known in ratios.items()}
    rows = [(words, *(found[of].get(word, "") for word in classes)) for of, words in WALLS.items()]
    told = [", ".join(f"{name} {value}" for name, value in zip(head, row, strict=True)) for row in rows]
    outer = "exterior_wall"  # the page's own row, and the one whose figures differ between editions
    ends = ", ".join(f"{found[outer][word]} {name} {word.replace('_', ' ')}" for word in (OUTER[0], OUTER[-1]))
    said = f"{wall} of {WALLS[outer]}: {ends}"
    first = Verdict("note", f"{said}.", said, do="Do: where there is a leakage test, take its figure")
    return headed(first, html_table(head, rows)), "\n".join([str(first), *told])


def _ladder():
    ladder = hand_ladder()
    rows = [
        (rung.label, with_unit(rung.flow_m3_s, "flow"), "" if not place else signed(change, "flow"), reason)
        for place, (rung, change, reason) in enumerate(zip(ladder.rungs, ladder.changes_m3_s, ladder.reasons(), strict=True))
    ]
    verdict = ladder.verdict()
    hand, network = (with_unit(rung.flow_m3_s, "flow") for rung in (ladder.rungs[0], ladder.rungs[-1]))
    first = Verdict("note", verdict, f"By hand {hand}, by the network {network}", do="Do: size the fan by the network, page 12")
    table = headed(first, paragraphs_html([verdict]) + html_table(("Effect added", "Air", "Change", "Why"), rows))
    return table, "\n".join([verdict, first.do, *(" | ".join(row) for row in rows)])


def _lines():
    site, shut = leaky_stair(), DutyAsked()
    duties = [site.duty(DutyAsked(**asked)) for asked in ({}, {"open_doors": 2}, {"street_open": True})]
    flows = [with_unit(duty.flow_m3_s[0], "flow") for duty in duties]
    tight, undamped = (leaky_stair("tight", relief=relief).duty(shut) for relief in (True, False))
    point, out = with_unit(shut.set_point_pa, "pressure"), with_unit(shut.outdoor_c, "temperature")
    door, wind = with_unit(hand_ladder().door_dp_pa, "pressure"), hand_ladder().site.weather[hand_ladder().weather].wind_speed_m_s
    speeds = [with_unit(duty.speed_hz, "frequency") for duty in (duties[0], tight, undamped)]
    ladder = hand_ladder()
    hand, network = (with_unit(rung.flow_m3_s, "flow") for rung in (ladder.rungs[0], ladder.rungs[-1]))
    return (
        f"Larkfield House at {out}, stair at {with_unit(shut.stair_c, 'temperature')}, winter's wind of {with_unit(wind, 'wind speed')}, "
        f"set point {point}: {flows[0]} with all doors shut, {flows[1]} with two stair doors open. "
        f"All shut it is {word_of(duties[0].state)}: "
        f"{duties[0].worst_door()}.",
        f"The final exit door alone takes {flows[2]} once the stair has cooled to {with_unit(shut.stair_c, 'temperature')}, the set point "
        f"is "
        f"{'held' if duties[2].held else 'lost'}; {duties[2].worst_door()}. Agree which doors count as open.",
        f"As the record has it, {door} at the door of storey {ladder.level}: hand "
        f"method {hand}, network {network}. It serves as a check, doors shut and storeys alike.",
        f"Tight outer walls: {speeds[0]} becomes {speeds[1]}, as the floors rise with the stair and the relief damper lifts; without the "
        f"damper {speeds[2]}. "
        "Where the floors have no vents either, even full speed leaves doors short: the way out for the air (air release) is missing.",
        f"Two stair temperatures, always: the rooms' in the first minute, and what the fan's air makes of it. {cooling_of().ends()}.",
        "Tightness classes are guesses, a factor of 2 to 8 apart from one to the next: a leakage test, or room in the fan, before "
        "the order.",
    )


page = LessonParts("leakage_and_fan_duty", _lines, ("orifice", "stair_of_twenty_storeys"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
