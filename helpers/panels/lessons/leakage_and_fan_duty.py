"""Lesson 02, leakage, stack effect and fan duty: the parts of its page."""

from helpers import units
from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.lessons.derivations import leakage_and_fan_duty as derivations
from helpers.lessons.exercises.leakage_and_fan_duty import MAKERS
from helpers.lessons.predictions import leakage_and_fan_duty as predictions
from helpers.lessons.worked.leakage_and_fan_duty import stair_of_twenty_storeys
from helpers.panels import stair_cooling
from helpers.panels.lessons.leakage_and_fan_duty_panel import duty_panel
from helpers.panels.lessons.page import LessonParts
from helpers.panels.markup import html_table, paragraphs_html
from helpers.panels.reading import Reading, WorkedCard
from helpers.panels.stair_cooling import cooling_of
from helpers.studies.figures import signed
from helpers.studies.leaky_stair import Asked, hand_ladder, leaky_stair

__all__ = [
    "compare", "cooling", "derivation", "exercises", "hand_and_network", "panel", "predict", "senior_card", "tightness", "worked_example",
]  # fmt: skip

KEY = "leakage_and_fan_duty"
EDITION = "nfpa92_2012"
WALLS = {
    "exterior_wall": "outer wall",
    "stair_wall": "wall of a stair",
    "lift_shaft_wall": "wall of a lift shaft",
    "floor": "floor slab",
}


def panel():
    """The live panel."""
    return duty_panel()


def tightness():
    """Leakage area of walls by tightness class."""
    return Reading(_tightness)


def derivation(name="orifice"):
    """One of "orifice", "parallel", "series", "stair_profile" and "stair_flow"."""
    return getattr(derivations, name)()


def worked_example():
    """The published stair."""
    return WorkedCard(stair_of_twenty_storeys())


def cooling():
    """How the doors change while the stair cools: a stair without a lift beside it, and one with."""
    return stair_cooling.cooling("Larkfield House", "Northgate Tower")


def hand_and_network():
    """From the hand method to the network, one thing let in at a time."""
    return Reading(_ladder)


def _tightness(system):
    """Gaps in the small unit of the system for a wall of a round size."""
    size, unit, name, wall = (100.0, 1e4, "cm²", "100 m²") if system == "Pa" else (92.90304, 1e4 / 6.4516, "in²", "1000 ft²")
    ratios = WALL_LEAKAGE_RATIOS[EDITION]
    classes = list(dict.fromkeys(word for known in ratios.values() for word in known))
    head = (f"{wall} of", *(word.replace("_", " ") for word in classes))
    found = {wall: {word: f"{ratio * size * unit:.0f} {name}" for word, ratio in known.items()} for wall, known in ratios.items()}
    rows = [(words, *(found[wall].get(word, "") for word in classes)) for wall, words in WALLS.items()]
    return html_table(head, rows), "\n".join(", ".join(f"{name} {value}" for name, value in zip(head, row, strict=True)) for row in rows)


def _ladder(system):
    ladder = hand_ladder()
    rows = [
        (rung.label, units.show(rung.flow_m3_s, "flow", system), "" if not place else signed(change, "flow", system), reason)
        for place, (rung, change, reason) in enumerate(zip(ladder.rungs, ladder.changes_m3_s, ladder.reasons(system), strict=True))
    ]
    verdict = ladder.verdict(system)
    table = html_table(("Let in", "Air", "Change", "Why"), rows)
    return paragraphs_html([verdict]) + table, "\n".join([verdict, *(" | ".join(row) for row in rows)])


def _lines(system):
    site, shut = leaky_stair(), Asked()
    duties = [site.duty(Asked(**asked)) for asked in ({}, {"open_doors": 2}, {"street_open": True})]
    flows = [units.show(duty.flow_m3_s[0], "flow", system) for duty in duties]
    tight = leaky_stair("tight").duty(shut)
    point, out = units.show(shut.set_point_pa, "pressure", system), units.show(shut.outdoor_c, "temperature", system)
    speeds = [units.show(duty.speed_hz, "frequency", system) for duty in (duties[0], tight)]
    ladder = hand_ladder()
    hand, network = (units.show(rung.flow_m3_s, "flow", system) for rung in (ladder.rungs[0], ladder.rungs[-1]))
    return (
        f"Larkfield House at {out}, set point {point}: {flows[0]} with all doors shut, {flows[1]} with two stair doors open.",
        f"The street door alone takes {flows[2]}, the set point is {'held' if duties[2].held else 'lost'}: agree which doors count open.",
        f"Hand method {hand}, network {network} at the same worst door: it serves as a check, doors shut and storeys alike.",
        f"Tight outer walls ask for more fan: {speeds[0]} becomes {speeds[1]}, as the floors rise with the stair and the damper lifts. "
        "With no vents besides, even full speed leaves doors short: air release is missing.",
        f"Two stair temperatures, always: the rooms' in the first minute, and what the fan's air makes of it. {cooling_of().ends(system)}.",
        "Tightness classes are guesses, 2 to 8 apart from one to the next: a leakage test, or room in the fan, before the order is signed.",
    )


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
