"""Lesson 01's questions: the top door in winter, a wider leaf, force at a handle and back, stack effect, what moves which end."""

from dataclasses import asdict
from functools import cache

from helpers import units
from helpers.formulas import doors
from helpers.lessons.pressure_window.stack import HAND, fine, pressure_asked, stack_over_height, storeys_served
from helpers.studies.doors.stair_window import ROOM_C, STOREY_M, SimpleStair
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story
from helpers.units.said import with_unit

SAME, EASY, HEAVY, LESS = (
    "the same as at the lowest door",
    "more, but anybody may still be asked to open it",
    "so much more that nobody may be asked to open it",
    "less than at the lowest door",
)
MORE_BORNE, AS_MUCH, LESS_BORNE = "more pressure", "as much", "less pressure"
WIDE_M = 1.20


@cache
def _stair():
    return SimpleStair()


def _ask_top():
    stair = _stair()
    least, limit, closer = (
        with_unit(value, dimension)
        for value, dimension in ((stair.least_pa, "pressure"), (stair.force_limit_n, "force"), (stair.closer_n, "force"))
    )
    out, room = (with_unit(temp, "temperature") for temp in (stair.outdoor_c, ROOM_C))
    return (
        f"A stair of {stair.storeys} storeys in winter, {out} outdoors and {room} in stair and rooms, the windows in the outer walls "
        "open (so that the floors have the outdoor pressure, and all of the stack effect lies on the stair doors). The storeys are "
        f"{with_unit(STOREY_M, 'length')} high; a leaf is {with_unit(stair.leaf[0], 'length')} wide and "
        f"{with_unit(stair.leaf[1], 'length')} high, its handle {with_unit(stair.handle_m, 'length')} from the edge. A fan keeps "
        f"{least} across the lowest stair door. Every closer needs {closer}; {limit} is allowed at a handle. How much pressure is "
        "across the highest door?"
    )


def _find_top():
    stair = _stair()
    low, high = (with_unit(pressure, "pressure") for pressure in (stair.door_pa[0], stair.door_pa[-1]))
    force, limit = (with_unit(value, "force") for value in (stair.force_n[-1], stair.force_limit_n))
    right = SAME if stair.stack_pa < 1 else EASY if stair.left_pa >= 0 else HEAVY
    words = (
        f"{low} at the lowest door, {high} at the highest, where it takes {force} to open ({limit} is allowed). Warm air in the stair "
        "weighs less than the cold air outdoors, so the difference grows with every storey, whatever the fan does."
    )
    return Outcome(Chosen(right, (SAME, EASY, HEAVY, LESS)), words)


def _ask_wide():
    narrow, wide = (with_unit(width, "length") for width in (_stair().width_m, WIDE_M))
    return (
        f"The door of a stair is {narrow} wide. Somebody wants {wide}, with the same closer and the handle as near to the edge. The handle "
        "is then further from the hinges, and a longer lever is easier to pull. What does the wider door bear?"
    )


def _find_wide():
    stair = _stair()
    wide = stair.but(width_m=WIDE_M)
    before, after = (with_unit(one.most_pa, "pressure") for one in (stair, wide))
    right = LESS_BORNE if wide.most_pa < stair.most_pa else MORE_BORNE if wide.most_pa > stair.most_pa else AS_MUCH
    words = (
        f"{before} with the narrow leaf, {after} with the wide one. The lever of the hand does grow with the width; but the lever of the "
        "air grows as well, and so does the area it presses on. The width counts twice against you and once for you."
    )
    return Outcome(Chosen(right, (MORE_BORNE, AS_MUCH, LESS_BORNE)), words)


top_door = Prediction("top door", _ask_top, _find_top, (SAME, EASY, HEAVY, LESS))
wider_leaf = Prediction("wider leaf", _ask_wide, _find_wide, (MORE_BORNE, AS_MUCH, LESS_BORNE))
PREDICTIONS = (top_door, wider_leaf)

LATCH_EDGE_M = (0.07, 0.12)
CODE_LIMITS_N = (doors.FORCE_LIMITS_N["nfpa101_set_in_motion"], doors.FORCE_LIMITS_N["en12101_6"])
UPPER_DOWN, UPPER_UP, LOWER_DOWN, LOWER_UP = (
    "its upper end comes down",
    "its upper end goes up",
    "its lower end comes down",
    "its lower end goes up",
)
FOLLOWS = {
    UPPER_DOWN: "less pressure brings the force at the handle to its limit",
    UPPER_UP: "it takes more pressure to bring the force at the handle to its limit",
    LOWER_DOWN: "less pressure is enough to keep it out",
    LOWER_UP: "it takes more pressure to keep it out",
}
# What changes, what it does to the window, and why.
CHANGES = (
    ("The door slams no more: somebody has turned the closer up.", UPPER_DOWN, "the closer uses up more of the force allowed"),
    ("The leaf is replaced by a narrower one; closer and handle stay.", UPPER_UP, "the air has less area and a shorter lever"),
    ("An old closer is replaced by a lighter one.", UPPER_UP, "the closer leaves more of the force for the air"),
    ("The leaf is replaced by a wider one, for beds and wheelchairs; closer and handle stay.", UPPER_DOWN, "the air's lever and area grow"),
    ("The leaf is replaced by a taller one; all else stays.", UPPER_DOWN, "the air has more area to press on"),
    ("The handle is moved nearer to the hinges, to make room for a lock.", UPPER_DOWN, "the hand has a shorter lever"),
    ("The local code lowers the force that may be asked at the handle.", UPPER_DOWN, "less force is left for the air"),
    ("Sprinklers are put in on all floors.", LOWER_DOWN, "the smoke stays cooler and pushes less"),
    ("The spaces beside the stair, till now without sprinklers, get them.", LOWER_DOWN, "the smoke stays cooler and pushes less"),
    ("The building, without sprinklers, gets storeys with much higher ceilings.", LOWER_UP, "a taller layer of hot smoke pushes harder"),
    ("The sprinklers are taken out, and the code then asks for the pressure of unsprinklered spaces.", LOWER_UP, "hot smoke pushes harder"),
)  # fmt: skip


def handle_force(draw):
    """The force at the handle."""
    width, height, handle = _leaf(draw)
    closer, dp = draw.quantity("force", 35.0, 75.0, 1.0, _force_digits(draw)), draw.quantity("pressure", 45.0, 75.0, 1.0, fine(draw))
    force = float(doors.opening_force(dp, width, height, closer, handle))
    lever, push = width - handle, dp * width * height
    question = (
        f"{_told(draw, width, height, handle)} Its closer needs {_given(draw, closer)} at the handle, and the stair is at "
        f"{draw.say(dp, 'pressure', fine(draw))} above the pressure of the floor, against the way the leaf opens. "
        f"What force at the handle opens "
        f"it?{draw.on_a_foot}"
    )
    slips = (
        Slip("closer forgotten", "That is the air alone. What else pulls the door shut?", force - closer),
        Slip("air at the edge", "The air presses all over the leaf, as if in the middle of it. You let it push at the edge: b for b/2.",
             closer + push * width / lever),
        Slip("handle at the edge", "You let the hand pull at the very edge. The handle sits a little nearer to the hinges.",
             closer + push / 2),
    )  # fmt: skip
    way = (
        f"The air presses with {draw.say(dp, 'pressure', fine(draw))} on {draw.say(width * height, 'area')}, in the middle of the leaf.",
        f"That is {_say_force(draw, push)}. Its lever is {draw.say(width / 2, 'length', 3)}, the hand's {draw.say(lever, 'length', 3)}: "
        f"{_say_force(draw, force - closer)} at the handle.",
        f"With the closer: {_say_force(draw, force)}.",
    )
    # rounding of what has to be worked out by hand, and no less than half of a newton or of a pound
    half = units.from_display(0.5, "force", draw.system)
    at_handle = force - closer
    more = (
        Slip("half the door", "That is the air on half of the leaf. It presses on all of it; the half belongs to the lever.",
             closer + at_handle / 2),
        Slip("push alone", "That is the air's push on the leaf. What does the lever make of it, and what else pulls the door shut?", push),
        Slip("no lever", "That is all of the air's push, as if the hand pulled in the middle of the leaf. Which lever has the hand?",
             closer + push),
        Slip("lever upside down", "You turned the two levers round. The longer lever needs the smaller force.",
             closer + push * lever / (width / 2)),
        Slip("closer taken off", "You took the closer off the air. Both pull the door shut: what do they come to?", at_handle - closer),
        Slip("closer twice", "You counted the closer twice. It is given at the handle already.", force + closer),
        Slip("height for width", "You took the height where the width belongs. The leaf turns about its upright edge.",
             closer + push * (height / 2) / lever),
    )  # fmt: skip
    return Exercise(question, Measured(force, "force", max(HAND * force, half), 1), slips, way, more=more)


def most_borne(draw):
    """The most pressure a door bears."""
    width, height, handle = _leaf(draw)
    limit = draw.as_written(draw.one_of(CODE_LIMITS_N), "force", _force_digits(draw))
    closer = draw.quantity("force", 30.0, 65.0, 1.0, _force_digits(draw))
    most = float(doors.pressure_tolerated(limit, width, height, closer, handle))
    spare, lever, area = limit - closer, width - handle, width * height
    question = (
        f"{_told(draw, width, height, handle)} Its closer needs {_given(draw, closer)} at the handle, and the local code allows "
        f"{_given(draw, limit)}. What is the maximum pressure against which a person may be asked to open it?{draw.on_a_foot}"
    )
    slips = (
        Slip("closer forgotten", "You gave the air all of the force allowed. The closer has had its part before the air gets any.",
             most * limit / spare),
        Slip("air at the edge", "You let the air push at the edge of the leaf. On the whole it pushes in the middle: b/2 and not b.",
             spare * lever / (area * width)),
        Slip("handle at the edge", "You let the hand pull at the very edge. Which lever has it from hinges to handle?", 2 * spare / area),
    )  # fmt: skip
    way = (
        f"Left for the air: {_given(draw, limit)} less {_given(draw, closer)} is {_say_force(draw, spare)} at the handle.",
        f"At the middle of the leaf: × {draw.say(lever, 'length', 3)} / {draw.say(width / 2, 'length', 3)} = "
        f"{_say_force(draw, spare * lever * 2 / width)}.",
        f"{draw.say(most, 'pressure', fine(draw))} is that on {draw.say(area, 'area')} of leaf.",
    )
    more = (
        Slip("closer added", "You added the closer to the force allowed. It uses some of it up: what is left for the air?",
             most * (limit + closer) / spare),
        Slip("closer for what is left", "You gave the air the closer's own force. What does the limit leave beside it?",
             most * closer / spare),
        Slip("no lever", "You put the force at the handle on the whole leaf. Hand and air have different levers.", spare / area),
        Slip("lever upside down", "You turned the two levers round. The hand has the longer one, and holds more for it.",
             spare * (width / 2) / (lever * area)),
        Slip("half the door", "You let the air press on half of the leaf. It presses on all of it; the half belongs to the lever.",
             2 * most),
        Slip("height for width", "You took the height where the width belongs. The leaf turns about its upright edge.",
             spare * lever / (area * height / 2)),
    )  # fmt: skip
    return Exercise(question, pressure_asked(draw, most), slips, way, more=more)


def gauge_reading(draw):
    """The pressure behind a force gauge."""
    width, height, handle = _leaf(draw)
    gauge = "in. w.c." if draw.system == "Pa" else "Pa"  # an instrument from the other side of the ocean
    shut = units.parse(units.show(draw.whole(30, 60), "force", gauge, 1), "force")
    read = units.parse(units.show(draw.whole(95, 130), "force", gauge, 1), "force")
    dp = float(doors.pressure_tolerated(read, width, height, shut, handle))
    unread = float(units.to_display(1.0, "force", gauge) / units.to_display(1.0, "force", draw.system))  # a figure taken in the wrong unit
    question = (
        f"{_told(draw, width, height, handle)} A borrowed force gauge, hooked on at the handle, reads in "
        f"{units.unit_label('force', gauge)}. With the fan off the door opens at {units.show(shut, 'force', gauge, 1)}, with "
        f"the fan on at {units.show(read, 'force', gauge, 1)}. How much pressure is across it? "
        f"1 lbf is {units.parse('1 lbf', 'force'):.2f} N.{draw.on_a_foot}"
    )
    slips = (
        Slip("gauge's unit", f"You read the gauge as if it showed {units.unit_label('force', draw.system)}. Look at its dial again.",
             dp * unread),
        Slip("closer forgotten", "You gave all of the second reading to the air. What did the gauge show without any air?",
             dp * read / (read - shut)),
        Slip("air at the edge", "You let the air push at the edge of the leaf. It pushes in the middle: b/2 and not b.", dp / 2),
    )  # fmt: skip
    way = (
        f"Air at the handle: {units.show(read - shut, 'force', gauge, 1)}, that is {_say_force(draw, read - shut)}.",
        f"2 × (b − d) × force / (b × b × h) = {draw.say(dp, 'pressure', fine(draw))} of pressure.",
    )
    lever = width - handle
    more = (
        Slip("readings added", "You added the two readings. The second one holds the first one already.",
             dp * (read + shut) / (read - shut)),
        Slip("fan off for fan on", "You worked with the reading without the fan. That is the closer; what comes on top is the air's.",
             dp * shut / (read - shut)),
        Slip("handle at the edge", "You let the hand pull at the very edge. Which lever has it from hinges to handle?", dp * width / lever),
        Slip("no lever", "You put the force at the handle on the whole leaf. Hand and air have different levers.",
             dp * width / (2 * lever)),
        Slip("half the door", "You let the air press on half of the leaf. It presses on all of it; the half belongs to the lever.", 2 * dp),
        Slip("factor turned round", "You turned the unit's factor round. Is a pound of force more or less than a newton?",
             dp * unread * unread),
    )  # fmt: skip
    return Exercise(question, pressure_asked(draw, dp), slips, way, more=more)


def what_moves(draw):
    """Which end of the window moves."""
    right = draw.one_of((UPPER_DOWN, UPPER_DOWN, UPPER_UP, LOWER_DOWN, LOWER_UP))
    told, _, because = draw.one_of([change for change in CHANGES if change[1] == right])
    hints = {
        UPPER_DOWN: "The upper end is the person's: force allowed, closer, leaf and handle. Does this change bear on any of them?",
        UPPER_UP: "The upper end goes up when more force is left for the air, or the air has less leaf to press on. Has it?",
        LOWER_DOWN: "The lower end comes down when the smoke pushes less. Is the smoke changed, and which way?",
        LOWER_UP: "The lower end goes up when the smoke pushes harder. Is that what has changed?",
    }
    if right in (UPPER_DOWN, UPPER_UP):  # the right end, the wrong way
        hints[UPPER_UP if right == UPPER_DOWN else UPPER_DOWN] = (
            "It is the person's end, yes. Now the way: is there more force left for the air than before, or less?"
        )
    else:
        hints[LOWER_UP if right == LOWER_DOWN else LOWER_DOWN] = (
            "It is the smoke's end, yes. Now the way: does the smoke push harder than before, or less?"
        )
    slips = tuple(Slip(f"says {wrong}", hint, wrong) for wrong, hint in hints.items() if wrong != right)
    way = (
        "The lower end belongs to the smoke, the upper end to the person at the door.",
        f"Here {because}: {FOLLOWS[right]}.",
        f"So {right}.",
    )
    question = f"{told} What happens to the window of the stair door?"
    return Exercise(question, Chosen(right, (UPPER_DOWN, UPPER_UP, LOWER_DOWN, LOWER_UP)), slips, way)


def _leaf(draw):
    """Width, height and handle of a leaf as written."""
    width, height = draw.quantity("length", 0.80, 1.10, 0.01), draw.quantity("length", 2.00, 2.20, 0.01)
    return width, height, draw.quantity("length", *LATCH_EDGE_M, 0.01)


def _told(draw, width, height, handle):
    return (
        f"A stair door is {draw.say(width, 'length')} wide and {draw.say(height, 'length')} high; its handle sits "
        f"{draw.say(handle, 'length')} from the latch edge."
    )


def _force_digits(draw):
    return 0 if draw.system == "Pa" else 1


def _given(draw, force_n):
    """A force as it was drawn."""
    return draw.say(force_n, "force", _force_digits(draw))


def _say_force(draw, value):
    return draw.say(value, "force", 1)


MAKERS = (what_moves, handle_force, most_borne, gauge_reading, stack_over_height, storeys_served)


HEAVIER_N = 30.0  # a closer turned up so much


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    warm, cold = SimpleStair(outdoor_c=ROOM_C), SimpleStair()
    low = cold.but(storeys=cold.most_storeys)
    heavy = low.but(closer_n=low.closer_n + HEAVIER_N)

    def figures(shown):
        return {
            "storeys": warm.storeys, "least": shown.pa(cold.least_pa), "cold": shown.c(cold.outdoor_c),
            "limit": shown.n(cold.force_limit_n), "bottom": shown.pa(cold.door_pa[0]), "top": shown.pa(cold.door_pa[-1]),
            "force": shown.n(cold.force_n[-1]), "few": low.storeys, "just": shown.n(low.force_n[-1]), "heavier": shown.n(HEAVIER_N),
            "closer": shown.n(heavy.closer_n), "most": shown.pa(low.most_pa), "lowered": shown.pa(heavy.most_pa),
            "too_heavy": heavy.too_heavy,
        }  # fmt: skip

    moves = _moves(cold, low, heavy)
    tempting = "The stair is one shaft, and one thinks of it as a tyre: pumped up, it has one pressure. Nobody feels that air has weight."
    opening = "{storeys} storeys; outdoors as warm as the stair; a fan holds {least}."
    return Story("pressure_window", top_door, SAME, tempting, asdict(warm), opening, moves, figures)


def _moves(cold, low, heavy):
    return (
        Move(
            {"outdoor_c": cold.outdoor_c},
            "Outdoors {cold}",
            "The temperature drops to {cold}. The lowest door stays. And the highest?",
            "{bottom} across the lowest door, {top} across the highest: {force} to open it, {limit} is allowed. The cold does that, not "
            "the fan.",
        ),
        Move(
            {"storeys": low.storeys},
            "Storeys {few}",
            "How many storeys can this fan serve in such weather? Would another set point make it more?",
            "{few} storeys: the highest door takes {just}. Another set point moves all dots together: what helps the top door lets smoke "
            "in below.",
        ),
        Move(
            {"closer_n": heavy.closer_n},
            "Door closer {closer}",
            "Somebody fits closers that pull {heavier} more. Which end of the window moves?",
            "Only the upper end, from {most} to {lowered}: {too_heavy} of {few} doors are too heavy now. Smoke asks for {least} as before.",
        ),
    )
