"""Lesson 05's page: a loop let go beside its set point; its reading, the fan's speed, and what it means to people."""

from dataclasses import replace
from functools import cache

from helpers.formulas import action
from helpers.lessons.page import LessonParts, no_pass_over_a_fail
from helpers.lessons.reverse_or_direct import questions
from helpers.plots.charts import trend
from helpers.plots.markup import Verdict
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axis, Line
from helpers.plots.style import REFERENCE
from helpers.studies.beside_limit import limit_tile
from helpers.studies.report import passed
from helpers.studies.signals.action import HAND_SHARE, HELD_SHARE, STEP_PERCENT, LetGo, bench
from helpers.studies.signals.range_fit import RangeFit
from helpers.units.said import with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Task
from helpers.widgets.sliders import Slider

FANS = {"Larkfield stair": "Larkfield House", "Quayside Lab": "Quayside Lab", "Orchard garage": "Orchard Garage"}
KINDS_OF_FAN = {"Larkfield House": "supply fan", "Quayside Lab": "relief fan", "Orchard Garage": "exhaust fan"}
AUTOMATIC, BY_HAND = "automatic", f"manual, +{STEP_PERCENT:g} %"
RIGHT_WAY, SWAPPED = "right", "swapped"  # as stories have them
TUBES = {"correct": RIGHT_WAY, "reversed": SWAPPED}
STILL_SHARE = 0.002  # of the span: what moves less does not answer
NEAR = f"within {100 * HELD_SHARE:g} % of span"  # how near counts as back, as the bench has it
MINUTES_FROM_S = 600.0  # runs longer than this are shown in minutes
ROOMS = {"Larkfield House": (-10.0, 70.0), "Quayside Lab": (-25.0, 25.0), "Orchard Garage": (0.0, 60.0)}  # of the reading's axis, in SI


@cache
def panel():
    """The panel, one in a notebook."""
    controls = {
        "deviation_percent": Slider("Reading off at start", "percent", -8.0, 8.0, 0.5, -4.0),
        "gain_share": Slider("Share of site gain", "ratio", 0.5, 2.0, 0.1, 1.0),
        "site": Choice("Site and fan", FANS),
        "action": Choice("Action", action.ACTIONS, "reverse"),  # the right one: the page has just asked what the wrong one does
        "tubes": Choice("Tubes", TUBES),
        "mode": Choice("Controller", (AUTOMATIC, BY_HAND)),
    }
    groups = {"The loop": ("site", "action", "gain_share"), "What was done": ("mode", "tubes", "deviation_percent")}
    return Panel(controls, Picture(**PANEL_PX), _answer, groups=groups, read=READ, left_out=LEFT_OUT, tasks=_tasks())


def _answer(deviation_percent, gain_share, site, action, tubes, mode):
    place = bench(site)
    found = place.let_go(LetGo(deviation_percent, action, gain_share, tubes == SWAPPED, mode == BY_HAND))
    verdict = _verdict(place, found)
    do = "" if verdict.kind == "good" else _to_do(place, found)
    told = Verdict(verdict.kind, verdict.words, _head(place, found), tuple(_tiles(place, found)), do=do)
    if place.kind == "stair":  # it fails at this set point whatever the action is, as page 03 has it
        right = "Tubes and action right" if mode == BY_HAND else "Action is right"
        told = no_pass_over_a_fail(told, RangeFit(place.name, set_point_pa=place.set_point), right)
        if told.kind == "wrong":
            told = replace(told, case=_door_out(place, found))
    return told, _trend(place, found)


def _door_out(place, found):
    """Which door of a stair a wrong action or tube puts out, and by how much, where the run ends; "" for none."""
    price, least = found.price, place.window.least_pa
    if price.force_n > price.limit_n:
        return f"at the end {passed(price.force_n, price.limit_n, 'force', f'at stair door {price.force_level}')}"
    return f"at the end {passed(price.least, least, 'pressure', f'at stair door {price.least_level}')}" if price.least < least else ""


LEFT_OUT = "set point and final exit; this panel judges the action alone: pages 02, 06, 12"
READ = (
    "Above: the reading as the controller has it (solid) and the pressure or gas that is really there (dashed grey; while nothing is "
    "wrong with the tubes they lie on each other). The dotted line is the set point. Below: the fan's speed between the two end stops, "
    "the lowest and the full speed that the drive allows."
)


def _tasks():
    """To try at the panel; a share of the span is told as a pressure as well."""
    side, direct = questions.of_span("Larkfield House", questions.BELOW_PA), {"action": "direct"}
    return (
        Task(f"Action direct, {side} below. To which end does the fan go? How long does it take?", direct),
        Task(f"Start {side} above. Direct again, other side. Which end now, and what force does the hardest door need?",
             direct | {"deviation_percent": 4.0}),
        Task("Direct, the start at the set point (0). Nothing is wrong at the start. Does the loop stay? And with half the gain?",
             direct | {"deviation_percent": 0.0}),
        Task("Action reverse, with each of these starts. Then direct, with gains from 50 to 200 %. Does any of them cure a wrong "
             "action?", {"action": "reverse"}),
        Task("Direct still, and Quayside Lab: what was wrong is right. Then the garage: its axis is in minutes. How long till it is near?",
             direct | {"site": "Quayside Lab"}),
        Task("Quayside Lab, two faults: action reverse, tubes reversed. The display shows the set point. What does the building do?",
             {"site": "Quayside Lab", "tubes": SWAPPED}),
    )  # fmt: skip


def _head(place, found):
    """What decides, in one sentence."""
    right = found.letgo.action == place.right_action
    if found.letgo.by_hand:
        return _hand_head(place, found, right)
    if found.letgo.swapped:
        if found.end == "held":
            return "Two faults cancel on the display; the true pressure is wrong"
        return f"Tubes reversed: the fan {'ends at' if found.end == found.heads else 'runs to'} {_to(found.heads)}"
    if not right:
        return f"Wrong action: {_runs(place, found)}"
    if found.end != "held":
        return f"Action is right, still on its way after {_time(place.length_s)}"
    if found.price.force_n > found.price.limit_n and place.kind == "stair":
        return passed(found.price.force_n, found.price.limit_n, "force", "highest, at a door")
    if place.kind == "stair" and found.price.least < place.window.least_pa:
        return passed(found.price.least, place.window.least_pa, "pressure", "lowest, at a door")
    return "Action is right: it holds"


def _runs(place, found):
    """Where a loop of the wrong action is, in some words: at an end stop, on its way to it, or balanced on the edge."""
    if found.end == found.heads:
        return f"{found.heads} after {_time(found.at_s)}" if found.at_s else f"at {_to(found.heads)} from the start"
    if found.end == "balanced":
        return f"balanced for the moment, drifting to {_to(found.heads)}"
    return f"on its way to {_to(found.heads)} after {_time(place.length_s)}"


def _to(end):
    """An end stop after a word."""
    return f"its {end}" if end.startswith("lowest") else end


def _to_do(place, found):
    """What puts it right, in one line: instrument and tubes before the action, the action before all else."""
    if found.letgo.swapped:
        return "Do: announce it, fan in manual, change the tubes over, test again"
    if found.letgo.action != place.right_action:
        return f"Do: announce it, fan in manual, set the action to {place.right_action}, test again"
    if found.letgo.by_hand:
        return "Do: lower the speed first, then turn it up again"
    if found.end != "held":
        return "Do: wait; look again once the reading stands still"
    return "Ask: the designer for another set point; the action is right"


def _hand_head(place, found, right):
    turn = int(HAND_SHARE * len(found.time_s)) - 1
    moved = found.read[-1] - found.read[turn]
    if found.speed_hz[-1] - found.speed_hz[turn] < 0.1:
        return "The fan was at full speed already: nothing to see"
    if abs(moved) < STILL_SHARE * place.span:
        return "No answer: tubes reversed, a tube off or no signal"
    if (moved > 0) != (place.effect > 0):
        return "The reading goes the wrong way: the tubes are reversed"
    return "The tubes are right, and so is the action" if right else f"The tubes are right, the action is wrong: set {place.right_action}"


def _tiles(place, found):
    """What people get, and where the fan is."""
    price = found.price
    if place.kind == "stair":
        stair = place.air_said.rpartition("stair at ")[2]
        yield limit_tile(f"Door {price.least_level}, settled, {stair}", price.least, place.window.least_pa, "pressure", "min.")
        yield limit_tile(f"Hand, door {price.force_level}, settled, {stair}", price.force_n, price.limit_n, "force")
    else:
        gas = place.dimension == "concentration"
        held = (price.most if gas else found.true[-1]), place.set_point
        there, asked = (_fine(value, place) for value in held)
        yield "Worst zone" if gas else f"Really there, {place.site.control.rule}", there, f"{asked} set"
        if not gas:
            yield "Ground floor", _fine(price.most, place), "to outdoors"
    if found.end == "held" and found.at_s and not found.letgo.by_hand:
        yield f"Back {NEAR}", _time(found.at_s), "no limit here: page 08"
        return
    speeds = (with_unit(speed, "frequency", 0) for speed in (found.speed_hz[-1], place.fan.highest_speed_hz))  # as near as it has settled
    yield "Fan at the end", next(speeds), f"{next(speeds)} full"


def _trend(place, found):
    """Reading and truth above, speed below."""
    long = place.length_s > MINUTES_FROM_S
    time = found.time_s / (60.0 if long else 1.0)
    what = "Gas" if place.dimension == "concentration" else "Pressure"
    point = (f"set point {with_unit(place.set_point, place.dimension)}", place.set_point, "set point")
    curves = Line(time, found.read, label="as the controller reads it"), Line(time, found.true, REFERENCE, "what is really there")
    ends = ("lowest", place.fan.lowest_speed_hz), ("full", place.fan.highest_speed_hz)
    stops = [(f"{name} {with_unit(speed, 'frequency', 0)}", speed, "") for name, speed in ends]
    axes = (
        (Axis(what, place.dimension, room=ROOMS[place.name]), curves, [point]),
        (Axis("Speed", "frequency", room=(0.0, 55.0)), [Line(time, found.speed_hz, label="speed of the fan")], stops),
    )
    turn = HAND_SHARE * place.length_s if found.letgo.by_hand else 0.0
    event = "the hand turns the fan up" if found.letgo.by_hand else "to automatic", turn / (60.0 if long else 1.0)
    title = f"{place.name}, {KINDS_OF_FAN[place.name]}: {place.where}"
    return trend("let_go", title, "Time [min]" if long else "Time [s]", axes, [event], columns=3)


def _verdict(place, found):
    if found.letgo.by_hand:
        return _by_hand(place, found)
    sign = action.loop_sign(found.letgo.action, place.effect)
    right = sign == action.HOLDS
    price = found.price.says()
    if found.letgo.swapped:
        return Verdict("wrong", f"{_swapped(place, found, right)} {price}")
    if right:
        signs = f"{found.letgo.action.capitalize()} acting, and {_effect(place)}: the loop holds."
        signs += f" {_started(place, found)}." * _cut_short(place, found)
        if found.end == "held":
            kind = "good" if found.price.good else "attention"
            there = f"near the set point, {NEAR} ({_fine(HELD_SHARE * place.span, place)})"
            back = f"Back {there}, after {_time(found.at_s)}" if found.at_s else f"It stays {there}"
            return Verdict(kind, f"{signs} {back}. {price}")
        return Verdict(
            "attention", f"{signs} It is still on its way after {_time(place.length_s)}: slow, but on its way to the set point. {price}"
        )
    return Verdict("wrong", f"{_wrong(place, found)} {price}")


def _wrong(place, found):
    signs = f"Wrong action: {found.letgo.action} acting, and {_effect(place)}."
    return f"{signs} {_started(place, found)}; {_ended(place, found)}."


def _started(place, found):
    if not found.letgo.deviation_percent:
        return (
            "It started at the set point, where the least error will do: the last digit of the input, which rounds the reading to a hair "
            "above or below (here, by the model, the rounding decides the side)"
        )
    side = "above" if found.deviation > 0 else "below"
    most = ", as far as this fan can bring it" * _cut_short(place, found)
    return f"It started {_fine(abs(found.deviation), place)} {side} the set point{most}"


def _cut_short(place, found):
    """Whether the fan cannot bring the reading as far from the set point as the start was asked for."""
    return abs(found.deviation) < abs(found.letgo.deviation_percent) / 100 * place.span * (1 - 1e-6)


def _ended(place, found):
    if found.end == found.heads:
        when = f"after {_time(found.at_s)}" if found.at_s else "from the start"
        return f"{when} the fan is at its end stop, {found.heads}, and nothing brings it back"
    if found.end == "balanced":
        return (
            f"after {_time(place.length_s)} it is balanced near the set point, for the moment only: the smallest disturbance runs it to an "
            f"end stop, as it drifts now to {_to(found.heads)}. Never call that held"
        )
    return f"after {_time(place.length_s)} it is still on its way to {_to(found.heads)}"


def _fine(value, place):
    """A small difference of the reading in words."""
    digits = (1, 3) if place.dimension == "pressure" else 1
    return with_unit(value, place.dimension, digits)


def _swapped(place, found, right):
    low = place.site.transmitters[0].range_low_pa
    if found.end == "held":
        return "Two faults that cancel on the display: it shows the set point, and the true pressure is as far on the other side of zero."
    why = "the sign of the reading is turned" if low < 0 else "the reading lies at the bottom of its range whatever the fan does"
    to = f"the fan {'ends at' if found.end == found.heads else 'is on its way to'} {_to(found.heads)}"
    ended = f"{why}, and {to}, from whichever side of the set point it starts"
    return f"The action is {'right' if right else 'wrong, too'}, and the tubes are reversed: {ended}."


def _by_hand(place, found):
    """What a technician learns from turning the fan up by hand."""
    turn = int(HAND_SHARE * len(found.time_s)) - 1
    moved = found.read[-1] - found.read[turn]
    before, after = (_fine(found.read[sample], place) for sample in (turn, -1))
    went = f"goes from {before} to {after}" if abs(moved) >= STILL_SHARE * place.span else f"stays at {after}"
    told = f"By hand the fan turns up, and the reading {went}."
    if found.speed_hz[-1] - found.speed_hz[turn] < 0.1:
        return Verdict("attention", f"{told} The fan was at full speed already: start with the reading higher, or there is nothing to see.")
    if abs(moved) < STILL_SHARE * place.span:
        return Verdict(
            "wrong",
            f"{told} It does not answer. A reading at the bottom of its range, or as far below it as the signal goes (3.8 of 4-20 mA, "
            "lesson 04), comes from reversed tubes, a tube off or no signal.",
        )
    if (moved > 0) != (place.effect > 0):
        return Verdict(
            "wrong",
            f"{told} That is the wrong way: {_effect(place)}. So the tubes are reversed. Put them right before you look at the action.",
        )
    word = "slower, that is reverse" if place.effect > 0 else "faster, that is direct"
    kind = "good" if found.letgo.action == place.right_action else "wrong"
    set_to = f"It is set to {found.letgo.action}" + (", as it must be." if kind == "good" else ": wrong.")
    return Verdict(kind, f"{told} So the tubes are right. If the reading is too high, this fan must go {word} acting. {set_to}")


def _effect(place):
    way = "raises" if place.effect > 0 else "lowers"
    return f"a faster fan {way} the reading"


def _time(seconds):
    return f"{seconds / 60:.0f} min" if seconds > MINUTES_FROM_S / 2 else f"{seconds:.0f} s"


SIDE_PERCENT = 4.0  # of the span, for the card


def _lines():
    place = bench("Larkfield House")
    low, high = (place.let_go(LetGo(side, "direct")) for side in (-SIDE_PERCENT, SIDE_PERCENT))
    below, above = (_doubles(place, side) for side in (-SIDE_PERCENT, SIDE_PERCENT))
    answers = [place.process_gain(side / 100 * place.span) for side in (-SIDE_PERCENT, SIDE_PERCENT)]
    heavy, limit = (with_unit(force, "force") for force in (high.price.force_n, high.price.limit_n))
    least = with_unit(low.price.least, "pressure")
    return (
        "Reading too high, fan slower: reverse. Reading too high, fan faster: direct. The fan's effect times the action must be minus.",
        f"The wrong action ends at an end stop: at {place.name} at the {low.end} from below the set point, at {high.end} from above it.",
        f"What people get there: a door at {least}, so that smoke passes, or {heavy} at stair door {high.price.force_level}, where {limit} "
        f"is allowed ({place.air_said}).",
        f"With no lag or ramp a small error doubles in {below} below the set point, in {above} above it: there the relief damper opens, "
        f"and 1 % more speed moves the reading by {answers[1]:.2f} instead of {answers[0]:.2f} % of span. Lags and ramp can more than "
        "double the times.",
        "Reversed tubes look like a wrong action and are not: with the right action the fan goes to the same end from both sides. Test in "
        "manual.",
    )


def _doubles(place, side_percent):
    own, gain = place.settings(), place.process_gain(side_percent / 100 * place.span)
    rate = action.error_rate_per_s(action.RUNS_AWAY, gain, own.gain, own.integral_s)
    return with_unit(float(action.doubling_time_s(rate)), "time")


page = LessonParts("reverse_or_direct", _lines, ("error_rate", "proportional_band"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
