"""The panel of lesson 02: Larkfield House, tighter or looser, with doors open or shut; its doors on the left, its fan on the right."""

from functools import cache

from helpers import units
from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.model.fan_power import inlet_density_ratio
from helpers.panels.controls import Choice, Count, Slider, Tick
from helpers.panels.fan_chart import FanDrawing
from helpers.panels.panel import Panel
from helpers.panels.picture import Picture
from helpers.panels.profile import ProfileDrawing
from helpers.panels.verdict import Verdict
from helpers.studies.cases import conditions_of
from helpers.studies.leaky_stair import FIRST_DOORS, Asked, leaky_stair
from helpers.studies.picture_data import pressure_profile, speed_curve
from helpers.studies.pictures import FanChart, Mark
from helpers.studies.status import word_of

__all__ = ["duty_panel"]

SPLIT, PICTURE_PX = 0.58, 460
APART_PA = 60.0  # of fan pressure between two marks: nearer, the words of one would hide the other's
OUTER, INNER = (tuple(WALL_LEAKAGE_RATIOS["nfpa92_2012"][wall]) for wall in ("exterior_wall", "stair_wall"))


@cache
def duty_panel():
    """The panel, one in a notebook: shown again it is the same one, with the sliders where they were left."""
    asked = Asked()
    controls = {
        "outdoor_c": Slider("Outdoors", "temperature", -30.0, 40.0, 1.0, asked.outdoor_c),
        "stair_c": Slider("Stair air", "temperature", -20.0, 35.0, 1.0, asked.stair_c),
        "set_point_pa": Slider("Set point", "pressure", 10.0, 80.0, 1.0, asked.set_point_pa),
        "exterior_wall": Choice("Outer walls", _words(OUTER), "average"),
        "stair_wall": Choice("Stair's walls", _words(INNER), "average"),
        "open_doors": Count("Stair doors open", 0, len(FIRST_DOORS), asked.open_doors),
        "street_open": Tick("Street open", asked.street_open),
        "driven": Choice("Street door closed by", {"its own closer": False, "a drive of its own": True}),
    }
    drawings = ProfileDrawing((0.0, 0.0, SPLIT, 1.0)), FanDrawing((SPLIT, 0.0, 1.0 - SPLIT, 1.0))
    return Panel(controls, Picture(*drawings, height_px=PICTURE_PX), _answer)


def _answer(system, exterior_wall, stair_wall, driven, **asked):
    building = leaky_stair(exterior_wall, stair_wall, driven=driven)
    duty = building.duty(Asked(**asked))
    if duty.state == "wrong" and not driven:
        other = leaky_stair(exterior_wall, stair_wall, driven=True).duty(Asked(**asked)).state
        stops = "the street door's closer alone" if other != "wrong" else "not the street door's closer alone"
        said = f" What stops it is {stops}: were that door closed by a drive of its own, this would be {word_of(other)}."
    else:
        said = ""
    return Verdict(duty.state, f"{duty.says(system)}{said}"), _profile(building, duty, system), _fan(building, duty, system)


def _profile(building, duty, system):
    """The doors as they stand."""
    data = pressure_profile(building.tower, building.window, duty.comparison, duty.result.rule, system)
    return type(data)(**vars(data) | {"title": building.site.name, "profiles": data.profiles[:1]})


def _fan(building, duty, system):
    """The fan's curve at full speed and now, the duty, and where it would be with all doors shut."""
    site, case = building.tower.site, duty.asked.cases[0]
    density = float(inlet_density_ratio(building.tower, conditions_of(site, [case]))[0])
    speeds = ("full speed", site.fan.highest_speed_hz), ("now", duty.speed_hz)
    curves = tuple(speed_curve(site.fan, name, speed, density, system) for name, speed in speeds)
    labels = tuple(f"{what} [{units.unit_label(of, system)}]" for what, of in (("Air flow", "flow"), ("Fan pressure", "pressure")))
    points = [_mark(duty, place, system) for place in range(len(duty.flow_m3_s))]
    if len(points) == 1:
        points.append(Mark("", points[0].x, points[0].y))  # under the other one: the picture need not be drawn anew
    return FanChart("fan", "The fan", "", *labels, curves, tuple(points[::-1]))


def _mark(duty, place, system):
    flow, pressure = duty.flow_m3_s[place], duty.pressure_pa[place]
    far = abs(pressure - duty.pressure_pa[0]) > APART_PA
    label = units.show(flow, "flow", system) if place == 0 else "all shut" if far else ""
    shown = (float(units.to_display(value, of, system)) for value, of in ((flow, "flow"), (pressure, "pressure")))
    return Mark(label, *shown, "" if place else "good" if duty.held else "attention")


def _words(classes):
    return {name.replace("_", " "): name for name in classes}
