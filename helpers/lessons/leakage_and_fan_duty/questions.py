"""Lesson 02's questions: open doors, a tighter wall, twice the set point, gaps together and in a row, the top door, a slower fan."""

import math
from dataclasses import asdict
from functools import cache

import numpy as np

from helpers import units
from helpers.formulas import fan, leakage
from helpers.studies.duty.fan_duty import FIRST_DOORS, DutyAsked, leaky_stair
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story
from helpers.units.said import with_unit

FLOOR_DOOR, STREET_DOOR, ALIKE = "the stair door on storey 6", "the final exit door", "both about alike"
SLOWER, AS_FAST, FASTER = "clearly slower", "about as fast", "clearly faster"
SAME, HALF_MORE, TWICE, FOUR_TIMES = "about as much as before", "about half as much again", "twice as much", "four times as much"
NEAR = 1.1  # closer than this is alike
CLASSES = ((1.2, SAME), (1.75, HALF_MORE), (3.0, TWICE), (float("inf"), FOUR_TIMES))  # up to these ratios of flow
LOW_PA, HIGH_PA = 20.0, 40.0


@cache
def _duty(exterior_wall="average", relief=True, **asked):
    return leaky_stair(exterior_wall, relief=relief).duty(DutyAsked(**asked))


def _flow(duty):
    return with_unit(duty.flow_m3_s[0], "flow")


def _speed(duty):
    return with_unit(duty.speed_hz, "frequency")


def _find_door():
    shut, floor, street = _duty(), _duty(open_doors=1), _duty(street_open=True)
    ratio = street.flow_m3_s[0] / floor.flow_m3_s[0]
    right = STREET_DOOR if ratio > NEAR else FLOOR_DOOR if ratio < 1 / NEAR else ALIKE
    ends, early = "the set point is held" if street.held else "even so the set point is not held", street.early
    state, first = street.result.state[early], street.result.door_dp_pa[early]
    then = "holds the set point" if state == "held" else f"is {state}"
    low, high = (with_unit(float(end(first)), "pressure") for end in (np.nanmin, np.nanmax))
    words = (
        f"{_flow(shut)} with all doors shut, {_flow(floor)} with the door on storey {FIRST_DOORS[0]} open, "
        f"{_flow(street)} at {_speed(street)} with the final exit door open, and {ends}. In its first minute, the stair "
        f"still warm, the fan {then} at {with_unit(float(street.result.speed_hz[early]), 'frequency')}, but the doors are as far off: from "
        f"{low} to {high}. Behind the door on the floor comes the outer wall, in series, and its small gaps let little through. Behind "
        f"the final exit door comes nothing."
    )
    return Outcome(Chosen(right, (FLOOR_DOOR, STREET_DOOR, ALIKE)), words)


def _find_walls():
    average, tight, without = _duty(), _duty("tight"), _duty("tight", relief=False)
    ratio = tight.speed_hz / average.speed_hz
    right = FASTER if ratio > NEAR else SLOWER if ratio < 1 / NEAR else AS_FAST
    words = (
        f"{_speed(average)} with average walls, {_speed(tight)} with tight ones. Air that has come through the "
        "doors cannot get away from the floors, so their pressure rises, and the stair must go higher still to stay the set point above "
        f"them. Here it then pushes the relief damper open. Without the damper the fan would need {_speed(without)}."
    )
    return Outcome(Chosen(right, (SLOWER, AS_FAST, FASTER)), words)


def _find_twice():
    low, high = (_duty(set_point_pa=point) for point in (LOW_PA, HIGH_PA))
    ratio = high.flow_m3_s[0] / low.flow_m3_s[0]
    right = next(words for most, words in CLASSES if ratio <= most)
    words = (
        f"{_flow(low)} and {_flow(high)}, {ratio:.2f} times as much. Through a gap the flow goes with the square root of "
        f"the pressure, so twice the pressure takes {math.sqrt(HIGH_PA / LOW_PA):.2f} times the flow; stack effect and fine cracks shift "
        "that a little. The power from the mains goes from "
        f"{with_unit(low.power_w[0], 'power')} to {with_unit(high.power_w[0], 'power')}."
    )
    return Outcome(Chosen(right, (SAME, HALF_MORE, TWICE, FOUR_TIMES)), words)


def _ask_door():
    asked = DutyAsked()
    point, out = with_unit(asked.set_point_pa, "pressure"), with_unit(asked.outdoor_c, "temperature")
    return (
        f"Larkfield House, 14 storeys, {out} outdoors, {with_unit(asked.stair_c, 'temperature')} in the stair. Two transmitters at stair "
        f"doors read the pressure, the fan holds their average at "
        f"{point}, and all doors are shut. Then one door is opened and stays open: either the stair door on storey 6, where all windows in "
        "the outer wall are closed, or the final exit door, from the stair to outdoors. Which costs the fan more air?"
    )


def _ask_walls():
    return (
        "The same building, all doors shut. Somebody has sealed the outer walls of the flats: in the table of tightness they are "
        f"'tight' now, and were 'average'. The stair has a relief damper. The fan still holds "
        f"{with_unit(DutyAsked().set_point_pa, 'pressure')} between stair and floors. How fast does it turn?"
    )


def _ask_twice():
    low, high = (with_unit(point, "pressure") for point in (LOW_PA, HIGH_PA))
    return f"The set point is raised from {low} to {high}, all doors shut. How much air does the fan have to give?"


open_door = Prediction(
    "open door",
    _ask_door,
    _find_door,
    (FLOOR_DOOR, STREET_DOOR, ALIKE),
    earlier=(("the stair door on floor 6", FLOOR_DOOR), ("the street door", STREET_DOOR)),
)
tight_walls = Prediction("tight walls", _ask_walls, _find_walls, (SLOWER, AS_FAST, FASTER))
twice = Prediction("twice", _ask_twice, _find_twice, (SAME, HALF_MORE, TWICE, FOUR_TIMES))
PREDICTIONS = (open_door, tight_walls, twice)

HAND = 0.02  # share that rounding costs in a calculation by hand with three digits
DENSITY_KG_M3 = 1.2
# The unit a technician measures a gap in, its name, and what it is of a square metre or square foot: by system.
GAP_UNITS = {"Pa": ("cm2", "cm²", 1e4, 1e2), "in. w.c.": ("in2", "in²", 144.0, 12.0)}
DOOR_GAPS, OUTER_WALL, EITHER, NEITHER = (
    "the gaps of the stair door",
    "the leaks of the outer wall",
    "either one: they stand one behind the other",
    "neither, the fan decides how much air goes through",
)


def all_gaps(draw):
    """The air through all the gaps of a stair."""
    unit, name, whole, edge = GAP_UNITS[draw.system]
    storeys, gap = draw.whole(9, 24), draw.whole(12, 30) * (10 if draw.system == "Pa" else 2)
    dp = draw.quantity("pressure", 28.0, 55.0, 1.0, _fine(draw))
    area = storeys * units.parse(f"{gap} {unit}", "area")
    flow = float(leakage.flow(dp, area, DENSITY_KG_M3))
    question = (
        f"The pressure in a stair of {storeys} storeys is {draw.say(dp, 'pressure', _fine(draw))} above that of the floors, alike on all "
        f"of them. On each storey gaps of {gap} {name} lead from the stair to the floor; the windows in the outer wall are open, so "
        f"nothing else holds the air back. How much air must the fan give? Discharge coefficient 0.65, {_air(draw)}."
    )
    slips = (
        Slip("one storey", "That is the air of one storey only. The gaps of all storeys are side by side: their areas add up.",
             flow / storeys),
        Slip("no square root", "You left out the square root. Four times the pressure drives twice the flow, not four times.",
             flow * math.sqrt(2 * dp / DENSITY_KG_M3)),
        Slip("density forgotten", "You left out the density. Under the root it divides twice the pressure.",
             flow * math.sqrt(DENSITY_KG_M3)),
        Slip("jet as wide as the gap", "You left out the discharge coefficient: the jet of air is narrower than the gap.", flow / 0.65),
        Slip("edges for squares", f"You divided the {name} by {edge:.0f}, as for a length. An area is length times length: do it twice.",
             flow * whole / edge),
    )  # fmt: skip
    way = (
        f"All gaps: {storeys} × {gap} {name} = {draw.say(area, 'area')}.",
        f"Speed of the air: {_speed_said(draw, dp)}.",
        f"0.65 × area × speed = {draw.say(flow, 'flow')}.",
    )
    more = (
        Slip("small squares", f"You put the {name} in as they are. The formula wants the large unit: {whole:.0f} small ones make one.",
             flow * whole),
        Slip("two forgotten", "You left out the 2 under the root: pressure is half the density times speed squared.", flow / math.sqrt(2)),
        Slip("coefficient twice", "You took the discharge coefficient twice. Once is enough.", flow * 0.65),
        Slip("root of the area", "You put the area under the root. Only pressure and density belong there: twice the gaps, twice the air.",
             flow / math.sqrt(storeys)),
    )  # fmt: skip
    if draw.system != "Pa":
        more += (Slip("inches without root", "You took the inches of water themselves. Their square root belongs there.",
                      flow * math.sqrt(float(units.to_display(dp, "pressure", draw.system)))),)  # fmt: skip
    return Exercise(question, _measured(draw, flow, "flow"), slips, way, more=more)


def in_a_row(draw):
    """Two gaps, one behind the other."""
    _, name, factor, _ = GAP_UNITS[draw.system]
    inner = draw.quantity("area", 0.020, 0.060, 0.001)
    outer = draw.as_written(inner * draw.whole(12, 22) / 10, "area")
    whole = float(leakage.in_series([inner, outer]))
    question = (
        f"Air leaks from a stair to a floor through {draw.say(inner, 'area')} of gaps, and from the floor to outdoors through "
        f"{draw.say(outer, 'area')}. Which one gap, from the stair straight to outdoors, would let as much through?"
    )
    slips = (
        Slip("side by side", "You added the areas. That is for gaps side by side; these stand one behind the other.", inner + outer),
        Slip("like resistors", "You added the inverse areas. The pressure goes with the flow squared, so squares have to be added.",
             inner * outer / (inner + outer)),
        Slip("the mean", "You took the mean. Air that has come through one gap has to pass the other one, too.", (inner + outer) / 2),
        Slip("the smaller one", "You let the smaller gap decide alone. The larger one also takes its part of the pressure.", inner),
    )  # fmt: skip
    way = (
        "The same air goes through both, and each takes its part of the pressure: 1/A² = 1/A1² + 1/A2².",
        f"A = {draw.say(whole, 'area')}, less than the smaller of the two.",
    )
    more = (
        Slip("the larger one", "You let the larger gap decide. Air that has come through it has to pass the smaller one, too.", outer),
        Slip("difference", "You took one gap from the other. What both let through hangs on both: 1/A² adds up.", outer - inner),
        Slip("root forgotten", "You added the inverse squares and forgot the root at the end.", whole**2),
        Slip("last inverse forgotten", "You added the inverse squares and took the root. The last step, one over that, is missing.",
             float(units.from_display(1 / units.to_display(whole, "area", draw.system), "area", draw.system))),
        Slip("small squares", f"In which unit is it asked for? {factor:.0f} {name} make one of those.", whole * factor),
        Slip("squares added", "You added the squares themselves. In a row it is their inverses that add up.", math.hypot(inner, outer)),
        Slip("mean of squares", "You took half of that. Two gaps in a row share the pressure by their squares, not half and half.",
             whole / 2),
    )  # fmt: skip
    return Exercise(question, _measured(draw, whole, "area"), draw.told_apart(slips, more, "difference"), way, more=more)


def which_to_seal(draw):
    """Which gap is worth sealing."""
    small = draw.quantity("area", 0.010, 0.030, 0.001)
    large = draw.as_written(small * draw.whole(30, 60) / 10, "area")
    door_is_small = draw.one_of((True, False))
    door, wall = (small, large) if door_is_small else (large, small)
    now, door_halved, wall_halved = leakage.in_series([(door, wall), (door / 2, wall), (door, wall / 2)])
    right = DOOR_GAPS if door_halved < wall_halved else OUTER_WALL
    wrong = OUTER_WALL if door_is_small else DOOR_GAPS
    question = (
        f"On each storey air leaks from a stair to the floor through {draw.say(door, 'area')} of gaps at the stair door, and from the "
        f"floor to outdoors through {draw.say(wall, 'area')} in the outer wall. The pressure from stair to outdoors is held. There is "
        "money to halve one of the two. Which one, if the fan is to give less air?"
    )
    slips = (
        Slip("seals the larger", "You sealed the larger one. Which of the two takes nearly all of the pressure?", wrong),
        Slip("alike because in a row", "They do stand one behind the other, but they do not weigh alike: the areas go in squared.", EITHER),
        Slip("fan for leaks", "The fan's curve decides at which speed it gives a flow. How much is needed at a pressure, the leaks decide.",
             NEITHER),
    )  # fmt: skip
    less_door, less_wall = (round(100 * (1 - halved / now)) for halved in (door_halved, wall_halved))
    way = (
        "In a row the smaller gap takes nearly all of the pressure, so it decides.",
        f"Half the gaps at the door: {less_door} % less air. Half of those in the wall: {less_wall} % less.",
        "Only where the pressure from stair to outdoors is held. Where it is held from stair to floor, as at Larkfield House, a tighter "
        "outer wall does the opposite: the floors rise and the stair with them; the fan goes a little faster, much faster once that lifts "
        "a relief damper.",
    )
    options, earlier = (DOOR_GAPS, OUTER_WALL, EITHER, NEITHER), (("either, they stand in one row", EITHER),)
    return Exercise(question, Chosen(right, options, earlier), slips, way)


def top_door(draw):
    """The top door by the hand method."""
    inner = draw.quantity("area", 0.020, 0.040, 0.001)
    outer = draw.as_written(inner * draw.whole(12, 20) / 10, "area")
    bottom = draw.quantity("pressure", 20.0, 30.0, 1.0, _fine(draw))
    stack = draw.quantity("pressure", 40.0, 90.0, 1.0, _fine(draw))
    top = float(leakage.stair_top_pressure(bottom, 1.0, stack, inner, outer))
    question = (
        f"Winter. The stack effect, stair less outdoors, is {draw.say(stack, 'pressure', _fine(draw))} from bottom to top of a stair. "
        f"Every storey leaks through {draw.say(inner, 'area')} from the stair to the floor and through {draw.say(outer, 'area')} from the "
        f"floor to outdoors. The bottom door has {draw.say(bottom, 'pressure', _fine(draw))} across it. What does the hand method say of "
        "the top door?"
    )
    ratio = inner / outer
    slips = (
        Slip("all on the door", "You put all of the stack effect on the door. The outer wall takes its share.", bottom + stack),
        Slip("bottom forgotten", "That is what comes on top. What did the bottom door have?", top - bottom),
        Slip("areas not squared", "You shared by the areas. Pressure goes with flow squared, so the areas go in squared.",
             bottom + stack / (1 + ratio)),
        Slip("the wall's share", "You gave the door the share of the wall. Which of the two is tighter, and so takes more?",
             bottom + stack / (1 + 1 / ratio**2)),
    )  # fmt: skip
    way = (
        f"Share of the door: 1 / (1 + (inner / outer)²) = {1 / (1 + ratio**2):.3f}.",
        f"{draw.say(stack / (1 + ratio**2), 'pressure', _fine(draw))} is that share of the stack effect.",
        f"{draw.say(top, 'pressure', _fine(draw))} with what the bottom door has.",
    )
    more = (
        Slip("taken off", "You took the stack effect off the bottom door. In winter does the top door get more or less?",
             bottom - stack / (1 + ratio**2)),
        Slip("areas turned round", "You turned the areas round and did not square them. Which gap is tighter, and so takes more?",
             bottom + stack / (1 + 1 / ratio)),
        Slip("stack effect alone", "That is all of the stack effect. The wall takes a share of it, and the bottom door has its own.",
             stack),
        Slip("half each", "You shared the stack effect half and half. The tighter of two gaps takes more.", bottom + stack / 2),
        Slip("nothing changes", "That is the bottom door. The stack effect lies between it and the top.", bottom),
    )  # fmt: skip
    return Exercise(question, _measured(draw, top, "pressure"), draw.told_apart(slips, more, "stack effect alone"), way, more=more)


def slower_fan(draw):
    """The power of a slower fan."""
    power, share = draw.quantity("power", 3000.0, 9000.0, 100.0, 2), draw.one_of((60, 65, 70, 75, 80))
    ratio = share / 100
    less = float(fan.power_at_speed(power, ratio))
    question = (
        f"A fan blows through a duct into the open; nothing but the duct holds the air back. At full speed its shaft takes "
        f"{draw.say(power, 'power', 2)}. The drive slows it down to {share} % of the speed. What does the shaft take now?"
    )
    slips = (
        Slip("with the speed", "You let the power fall as the speed does. That is how the flow falls.", power * ratio),
        Slip("with the square", "You let the power fall with the square of the speed. That is how the pressure falls.", power * ratio**2),
        Slip("what is saved", "That is how much less it takes. Asked for is what it still takes.", power - less),
    )
    way = (
        f"Flow goes with the speed (× {ratio:g}), pressure with its square (× {ratio**2:.3f}).",
        f"Power is flow times pressure: × {ratio**3:.3f}, so {draw.say(less, 'power', 2)}.",
        "With a set point to hold, or a stack effect, the pressure does not fall like that, and less is saved.",
    )
    more = (
        Slip("multiplied by three", "You took three times the ratio. A cube is the ratio times itself, and once more.", power * ratio * 3),
        Slip("divided", "You divided by the ratio. A slower fan takes less, not more.", power / ratio),
        Slip("cube turned round", "You divided by the cube. A slower fan takes less, not more.", power / ratio**3),
        *[Slip("what is taken off", "You let the power fall with what the speed was taken down by. Which share of the speed is left?",
               power * (1 - ratio))] * (share != 75),  # there it is the same figure as the next one but one
        Slip("what it is slower", "You worked with what the speed was taken down by. What is the speed that is left?",
             power * (1 - ratio) ** 3),
        Slip("a third", "You took the speed's loss three times. The ratio has to be multiplied by itself.", power * (1 - 3 * (1 - ratio))),
        Slip("root for power", "You went by the root of the speed. Power falls much faster than speed.", power * math.sqrt(ratio)),
    )  # fmt: skip
    return Exercise(question, _measured(draw, less, "power"), slips, way, more=more)


def _speed_said(draw, dp_pa):
    """The speed that a pressure becomes, with its square root; in feet a minute from inches of water, by the factor of the question."""
    speed = draw.say(math.sqrt(2 * dp_pa / DENSITY_KG_M3), "speed")
    if draw.system == "Pa":
        return f"√(2 · {units.to_display(dp_pa, 'pressure'):.0f} / {DENSITY_KG_M3:g}) = {speed}"
    factor = draw.say(foot_at_one_inch(), "flow").split()[0]
    return f"{factor} · √{units.to_display(dp_pa, 'pressure', draw.system):.3f} = {speed}"


def _air(draw):
    """What the air weighs, or, where nobody works with pounds of air, what that comes to."""
    if draw.system == "Pa":
        return f"density {draw.say(DENSITY_KG_M3, 'density', 1)}"
    return f"one square foot filled by the jet passes {draw.say(foot_at_one_inch(), 'flow')} at 1 in. w.c"


@cache
def foot_at_one_inch():
    """Air through a square foot at one inch of water, the jet as wide as the hole [m3/s]."""
    root = math.sqrt(units.parse("1 in. w.c.", "pressure"))
    return float(leakage.flow_coefficient(units.parse("1 ft2", "area"), DENSITY_KG_M3, 1.0)) * root


def _fine(draw):
    return 0 if draw.system == "Pa" else 3


def _measured(draw, value, dimension):
    """Rounding of a calculation by hand, and no less than half of the last digit that is shown."""
    steps = {"pressure": (1.0, 0.01), "flow": (0.01, 10.0), "power": (10.0, 0.01)}
    if dimension not in steps:
        return Measured(value, dimension, HAND * value)
    step = steps[dimension][units.SYSTEMS.index(draw.system)]
    half = step / 2 if dimension == "power" and draw.system == "Pa" else float(units.from_display(step / 2, dimension, draw.system))
    return Measured(value, dimension, max(HAND * value, half), _fine(draw) if dimension == "pressure" else None)


MAKERS = (all_gaps, in_a_row, which_to_seal, top_door, slower_fan)


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    shut, street, floor = (leaky_stair().duty(DutyAsked(**doors)) for doors in ({}, {"street_open": True}, {"open_doors": 1}))
    tight = leaky_stair("tight").duty(DutyAsked())

    def figures(shown):
        named = {"shut": shut, "street": street, "floor": floor, "tight": tight}
        flows = {name: shown.flow(found.flow_m3_s[0]) for name, found in named.items()}
        speeds = {f"{name}_hz": shown.hz(found.speed_hz) for name, found in named.items()}
        loop = "the set point is held" if street.held else "the set point is lost"
        lifted = f"{100 * tight.damper_open:.0f} %"
        return {**flows, **speeds, "loop": loop, "level": FIRST_DOORS[0], "point": shown.pa(DutyAsked().set_point_pa), "lifted": lifted}

    moves = _moves()
    start = asdict(DutyAsked()) | {"exterior_wall": "average", "stair_wall": "average", "driven": False}
    tempting = "Both are doors of one stair, and of one size: a hole is a hole. What lies behind the hole is not in sight."
    opening = "Winter, all doors shut: {shut} at {shut_hz} hold {point}."
    return Story("leakage_and_fan_duty", open_door, ALIKE, tempting, start, opening, moves, figures)


def _moves():
    return (
        Move(
            {"street_open": True},
            "Final exit open: yes",
            "One door opens and stays open. Which one costs the fan more air?",
            "The final exit door: {street} at {street_hz}, and {loop}. With the door on storey {level} instead it would be {floor}.",
        ),
        Move(
            {"street_open": False, "open_doors": 1},
            "Final exit open: no, stair doors open 1",
            "Now that one: the stair door on storey {level}. What stops the air behind it?",
            "{floor}, {floor_hz}: the outer wall stops it. Two gaps in series, and the smaller one decides. Behind the final exit "
            "door there is nothing.",
        ),
        Move(
            {"open_doors": 0, "exterior_wall": "tight"},
            "Stair doors open 0, outer walls tight",
            "Doors shut. Somebody seals the outer walls of the flats. Does the fan turn slower or faster?",
            "{tight_hz} instead of {shut_hz}, {tight}. The floors fill up, and the stair must stay {point} above them; that lifts its "
            "relief damper to {lifted}.",
        ),
    )
