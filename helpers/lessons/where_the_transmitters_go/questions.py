"""Lesson 07's questions: what matters most of place, rule and set point, one transmitter dead, how sure a share is, the neutral plane."""

import math
from functools import cache

from helpers import units
from helpers.formulas.air import ZERO_C_K, neutral_plane_height
from helpers.formulas.uncertainty import normal_quantile, wilson_interval
from helpers.studies.placement.results import counted, percent
from helpers.studies.placement.table import CONDITIONS, placement_table, set_points_pa
from helpers.studies.report import listed
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story
from helpers.units.said import with_unit

RULE, LOWER, UPPER, SET_POINT_PA = "average", 1, 12, 40.0  # the site file's own choice
OTHER_RULE, OTHER_UPPER, OTHER_SET_POINT_PA = "lowest", 8, 45.0
MOVED, RULED, HELD = (
    "the upper transmitter goes down to storey 8",
    "the rule becomes lowest, with the same set point",
    "the set point goes up by an eighth",
)
CHANGES = {
    MOVED: (RULE, LOWER, OTHER_UPPER, SET_POINT_PA),
    RULED: (OTHER_RULE, LOWER, UPPER, SET_POINT_PA),
    HELD: (RULE, LOWER, UPPER, OTHER_SET_POINT_PA),
}
HELP = ("middle", "highest")  # rules that one reading of zero does not pull down
FEW, UNDER_HALF, OVER_HALF, MOST = "in fewer than 25 %", "in 25 to 50 %", "in 50 to 75 %", "in more than 75 %"
SHARES = (FEW, UNDER_HALF, OVER_HALF, MOST)


def _own():
    return placement_table().at(RULE, LOWER, UPPER, SET_POINT_PA)


def _costs_most():
    shares = {words: placement_table().at(*change).share() for words, change in CHANGES.items()}
    worst = min(shares, key=shares.get)
    refound, ruled = (
        max((placement_table().at(*places, point) for point in set_points_pa()), key=lambda one: one.inside)
        for places in ((RULE, LOWER, OTHER_UPPER), (OTHER_RULE, LOWER, UPPER))
    )
    told = ", ".join(f"{percent(share)} if {words}" for words, share in shares.items())
    ends = [placement_table().at(*change).interval() for change in CHANGES.values()]
    sure = f"each to about {max(50 * (high - low) for low, high in ends):.0f} points either side, at 95 %"
    words = (
        f"{percent(_own().share())} of the sampled conditions as it stands; {told} ({sure}). The average of a lower pair stands "
        "for a lower storey, and the doors at the top pay for it; at its own set point, "
        f"{with_unit(refound.set_point_pa, 'pressure')}, that pair keeps "
        f"{percent(refound.share())}. But the lowest reading with the average's set point sends the fan up whenever one end is "
        f"low, or a door stands open beside a transmitter; at its own, {with_unit(ruled.set_point_pa, 'pressure')}, it keeps "
        f"{percent(ruled.share())}. A rule, its set point and its places belong together."
    )
    return Outcome(Chosen(worst, tuple(CHANGES)), words)


def _dead_one():
    own = _own()
    table = placement_table()
    helped = [f"the {one.text()} keeps {counted(one.dead, CONDITIONS)}" for one in (table.best(rule, loss="dead") for rule in HELP)]
    words = (
        f"of {percent(own.share())} there remain {counted(own.dead, CONDITIONS)}, in brackets the 95 % interval: one zero in an average "
        "of two asks for twice the set point at the other. The fan does not reach it and ends at full speed, wherever the tubes end. What "
        f"helps is a rule that a zero cannot pull down: {listed(helped)}. (A reading stuck high is another matter; "
        "then the highest fails and the middle holds.)"
    )
    return Outcome(Chosen(_quarter_of(100 * own.share("dead")), SHARES), words)


def _quarter_of(share_percent):
    """The option that a share is."""
    return SHARES[min(int(share_percent // 25), 3)]


costs_most = Prediction(
    "costs_most",
    lambda: (
        f"Larkfield House holds the average of storeys {LOWER} and {UPPER} at {with_unit(SET_POINT_PA, 'pressure')} now. Its doors "
        "are judged under many sampled conditions: weather of a year, doors open here and there, walls leakier or tighter than planned. "
        f"Which change costs the most? (An eighth more is {with_unit(OTHER_SET_POINT_PA, 'pressure')}.)"
    ),
    _costs_most,
    tuple(CHANGES),
    earlier=(("the upper transmitter goes down to level 8", MOVED),),
)
dead_one = Prediction(
    "dead_one",
    lambda: (
        "The same two transmitters, the same average. One of them dies and reads zero, and nothing takes it out of the average. In how "
        "many per cent of the conditions are all doors still inside their windows?"
    ),
    _dead_one,
    SHARES,
    "percent",
    option_of=_quarter_of,
)
PREDICTIONS = (costs_most, dead_one)

Z = float(normal_quantile(0.975))

FLOOR, LOBBY, OUTDOORS, PLANT = (
    "in the corridor on the other side of that door",
    "in the lobby on the other side of that door",
    "outdoors, in a shielded head away from the wind",
    "in the plant room, where the transmitter hangs",
)
TUBES = (FLOOR, LOBBY, OUTDOORS, PLANT)
ASKED = (
    ("The stair doors of a tower open straight into the corridors. The loop is to hold the pressure across these doors", FLOOR),
    ("An escape stair of a hotel: no lobbies, each storey's corridor begins behind the stair door. Its doors are to keep smoke out", FLOOR),
    ("Between a stair and each corridor lies a lobby of its own. The loop is to hold the pressure across the stair doors", LOBBY),
    ("A fire-fighting stair with a lobby on every storey. The code gives a pressure for the door from lobby to stair", LOBBY),
    ("A laboratory building is to be held slightly above outdoors by a relief fan", OUTDOORS),
    ("A hall is to stand a little below the air outside, so that dust stays in. Its exhaust fan follows the pressure", OUTDOORS),
)
TUBE_HINTS = {
    FLOOR: "A corridor is one side of a stair door without a lobby. Is that the door, or the wall, that is asked about here?",
    LOBBY: "The lobby is right only where the door that is asked about leads into one. Does it, here?",
    OUTDOORS: "Outdoors changes with wind and with height. Is it really outdoors that the pressure is to be held against?",
    PLANT: "The place where the transmitter hangs has nothing to do with it: the fan changes the plant room's own pressure as well.",
}

TWO_THIRDS, BRANCHES, HIGH_LOW, SPREAD = (
    "one, about two thirds of the way along the longest duct",
    "one near the end of each of the two branches, lowest reading",
    "two or three, places tried together with the rule and its set point; away from doors that often stand open",
    "several in the places where people breathe, highest reading",
)
PLACES = (TWO_THIRDS, BRANCHES, HIGH_LOW, SPREAD)
# In earlier records; the places of the lesson's own stair are not one low and one high.
EARLIER_PLACES = (("one low and one high, away from doors that often stand open, with a set point of their own rule", HIGH_LOW),)
FANS = (
    ("A supply duct with a single trunk and many air boxes along it", TWO_THIRDS),
    ("A supply duct of one long run, air boxes evenly along it", TWO_THIRDS),
    ("A supply duct that splits near the fan into two branches of the same length, one to the sunny side and one to the other", BRANCHES),
    ("A duct with two far ends, whose demand rises at different hours", BRANCHES),
    ("A pressurised stair of sixteen storeys in a cold climate", HIGH_LOW),
    ("A smoke-free stair of twelve storeys with a fan on the roof", HIGH_LOW),
    ("An exhaust fan of a car park that follows carbon monoxide", SPREAD),
    ("The ventilation of a garage with three aisles, by gas readings", SPREAD),
)
PLACE_REASONS = {
    TWO_THIRDS: "One run has one far end. Nearer to the fan the reading hides what the far boxes lose; at the very end it is jumpy.",
    BRANCHES: "At one hour the one end runs short, at another hour the other: the lowest reading is that of the end which is short now.",
    HIGH_LOW: "Stack effect moves the reading with the storey, and a door that opens takes it away: no single place is right all year.",
    SPREAD: "The gas gathers now here, now there, and people breathe the worst of it: the highest reading is that of the worst place.",
}
PLACE_HINTS = {
    TWO_THIRDS: "That rule is for one duct without large branches. Is this one?",
    BRANCHES: "That is for ducts with several far ends, so that none of them starves. Is this one?",
    HIGH_LOW: "That is for a tall space with stack effect and doors. Is this one?",
    SPREAD: "That is for something that gathers here and there, and where the worst place counts. Is it, here?",
}


HALF_POINT = 0.5  # three digits carried through the steps move an end of an interval by less


def lower_end(draw):
    """The lower end of an interval."""
    trials = draw.whole(18, 45)
    good = trials - draw.whole(1, 5)
    share = good / trials
    low, high = _interval(good, trials, 0.95)
    plain = 100 * (share - Z * math.sqrt(share * (1 - share) / trials))
    narrow, _ = _interval(good, trials, 0.68)
    question = (
        f"Under {trials} sampled conditions a choice of transmitters kept all doors inside in {good}. How small may the true share be? "
        f"Give the lower end of Wilson's interval at 95 % (z = {Z:.2f}), in per cent."
    )
    centre, half = share + Z**2 / (2 * trials), Z * math.sqrt(share * (1 - share) / trials + Z**2 / (4 * trials**2))
    undivided = 100 * (centre - half)
    both = abs(undivided - narrow) <= 2 * HALF_POINT and (  # one figure may then come of either
        "You took z as 1 (that is for two thirds, not for 95 %), or left out a step: what is centre less half width divided by?"
    )
    slips = (
        Slip("the share itself", "That is the share that was seen. With so few conditions the true one may be less.", 100 * share),
        Slip("normal interval", "The seen share's own spread is off with few conditions, or near 100 %: take Wilson's c, w and d.",
             plain),
        Slip("upper end", "That is the other end.", high),
        Slip("one sigma", both or "You took z as 1: that is an interval for two thirds, not for 95 %.", narrow),
        Slip("share for percent", "That is the end as a fraction. Per cent were asked for.", low / 100),
    )  # fmt: skip
    way = (
        f"p = {good}/{trials} = {share:.3f}; z² = {Z**2:.2f}",
        f"Centre: p + z² / (2 n) = {centre:.3f}; half width: {half:.3f}; divisor {1 + Z**2 / trials:.3f}",
        f"Lower end: {low:.1f} %",
    )
    thin = Z * math.sqrt(share * (1 - share) / trials)
    more = (
        Slip(
            "half width without its second part",
            "Under the root of the half width stand two terms. Did you take both?",
            100 * (centre - thin) / (1 + Z**2 / trials),
        ),
        Slip("divisor forgotten", both or "One step is missing: what is centre less half width divided by?", undivided),
    )
    return Exercise(question, Measured(low, "percent", HALF_POINT), slips, way, more=more)


@cache
def _interval(good, trials, confidence):
    """Wilson's interval in per cent; kept, since finding the normal quantile takes longest."""
    return tuple(100 * float(end) for end in wilson_interval(good, trials, confidence))


class _RoundedUp(Measured):
    """A count that says so of itself, since one below it is taken, too."""

    def says(self, value):
        """A value in words."""
        return f"{super().says(value)}, rounded up"


def conditions_needed(draw):
    """How many conditions it takes."""
    share, points = draw.one_of((0.7, 0.75, 0.8, 0.85, 0.9)), draw.one_of((1.0, 1.5, 2.0, 2.5, 3.0))
    spread = Z**2 * share * (1 - share)
    answer = spread / (points / 100) ** 2
    z = round(Z, 2)  # as given; in pencil
    pencil = z**2 * share * (1 - share) / (points / 100) ** 2
    question = (
        f"A choice keeps all doors inside in about {100 * share:.0f} % of conditions. You want that share to within {points:g} "
        f"point{'s' * (points != 1)} to "
        f"either side, at 95 % (z = {z:.2f}). About how many conditions must be sampled? The plain formula n = z² p (1 − p) / e² will do; "
        "round up at the end."
    )
    # At three quarters two slips each give one figure: 1 - p is p (1 - p) of one half, and p is four times p (1 - p).
    two_in_one = math.isclose(share, 0.75)
    whole, half = "You took the points for the whole width. They were to either side.", "You took p as one half. The share is given."
    if two_in_one:
        whole = "You took the points for the whole width, or p alone. They were to either side, and the spread of a share is p (1 - p)."
        half = "You took 1 - p alone, or p as one half. The share is given, and its spread is p (1 - p)."
    slips = (
        Slip("forgot the square", "You divided by the points once. To halve the doubt takes more than twice as many: how many?",
             spread / (points / 100)),
        Slip("whole width", whole, 4 * answer),
        Slip("z once", "z belongs under the square, too.", answer / Z),
    )  # fmt: skip
    way = (
        f"p (1 - p) = {share * (1 - share):.4f}; e = {points / 100:g}",
        f"z² p (1 − p) / e² = {z**2:.4f} x {share * (1 - share):.4f} / {points / 100:g}^2 = {pencil:.1f}; rounded up: {math.ceil(pencil)}",
    )
    # 2 %: z rounded to 1.96 or to 2.0 is another matter, 4 %; the question gives 1.96.
    more = (
        Slip("points for share", "You put the points in as they stand. e is a share: a point is a hundredth.", answer / 1e4),
        Slip("share left out", "You left p (1 - p) out. A share near one half needs more conditions than one near the ends.",
             Z**2 / (points / 100) ** 2),
        Slip("p alone", "You took p alone. The spread of a share is p (1 - p).", Z**2 * share / (points / 100) ** 2),
        Slip("1 - p alone", half if two_in_one else "You took 1 - p alone. The spread of a share is p (1 - p).",
             Z**2 * (1 - share) / (points / 100) ** 2),
        Slip("z left out", "You left z out, as if it were 1 (right in two counts of three; you want 95 %), or took e twice as large. "
             "e is to either side.",
             share * (1 - share) / (points / 100) ** 2),
        Slip("p of one half", half, Z**2 / 4 / (points / 100) ** 2),
        Slip("root taken", "You took the root of it. The number of conditions stands outside any root.", math.sqrt(answer)),
    )  # fmt: skip
    # Since the fourth edition rounded up; what was right before it is right still.
    asked, kind = (answer, Measured) if draw.edition < 4 else (float(math.ceil(pencil)), _RoundedUp)
    return Exercise(question, kind(asked, "number", 0.02 * answer + asked - answer, 0, "conditions"), slips, way, more=more)


def no_stack_effect_here(draw):
    """The height without stack effect."""
    digits = 1
    distance = draw.quantity("length", 24.0, 60.0, 3.0, digits)
    colder = draw.edition > 3  # else the warm air moves the plane by less than a hand calculation rounds
    # 0.2 to 0.3 and a winter's air come out as the ratio alone
    other = (0.25, 0.5) if colder else (0.2, 0.3)
    low, high = draw.one_of(((0.4, 0.2), (0.3, 0.2), other, (0.2, 0.4), (0.5, 0.25), (0.3, 0.4)))
    area_low, area_high = (draw.as_written(area, "area", 2) for area in (low, high))
    outdoor, inside = (
        draw.quantity("temperature", *((-20.0, -6.0) if colder else (-15.0, 0.0)), 1.0),
        draw.quantity("temperature", 18.0, 22.0, 1.0),
    )
    answer = float(neutral_plane_height(distance, area_low, area_high, outdoor, inside))
    three = 1 if units.to_display(answer, "length", draw.system) >= 10 else 2  # digits behind the point for three figures
    ratio, warm = area_low / area_high, (inside + ZERO_C_K) / (outdoor + ZERO_C_K)
    question = (
        f"A shaft at {draw.say(inside, 'temperature', 0)} stands in air of {draw.say(outdoor, 'temperature', 0)}, without wind and with "
        f"its fan off. It has an opening of {draw.say(area_low, 'area', 2)} at the bottom and one of {draw.say(area_high, 'area', 2)} "
        f"at the top, {draw.say(distance, 'length', digits)} higher. How high above the lower opening would a transmitter against outdoors "
        "read zero?"
    )
    slips = (
        Slip("half-way", "Half-way is for openings that are alike. Towards which of the two does the plane move?", distance / 2),
        Slip(
            "ratio not squared",
            "Flow goes with the root of pressure, so the areas' ratio comes in with a power.",
            distance / (1 + ratio * warm),
        ),
        Slip("upside down", "You measured from the other end: the plane lies nearer to the larger opening.", distance - answer),
    )
    way = (
        f"Areas, low over high: {ratio:.2f}, squared {ratio**2:.2f}; absolute temperatures, warm over cold: {warm:.3f}",
        f"{draw.say(distance, 'length', digits)} / (1 + {ratio**2:.2f} x {warm:.3f}) = {draw.say(answer, 'length', three)}",
    )
    # For the rounding of a hand calculation: three digits carried through the steps move it by less than 1 %.
    shown = (0.05 if colder else 0.5) * float(units.from_display(1.0, "length", draw.system))
    tolerance = max((0.01 if colder else 0.02) * answer, shown)
    as_celsius = [float(units.to_display(one, "temperature", draw.system)) + ZERO_C_K for one in (inside, outdoor)]
    more = (
        Slip("temperatures turned round", "You put the absolute temperatures upside down. Which of the two is larger?",
             distance / (1 + ratio**2 / warm)),
        Slip("temperatures left out", "You left the temperatures out. The warm air moves the plane a little.", distance / (1 + ratio**2)),
        Slip("areas turned round", "You turned the areas round. It is the lower one over the upper one.", distance / (1 + warm / ratio**2)),
        Slip("ratio alone", "You multiplied by the ratio of the areas. Which share of the height lies below the plane?", distance * ratio),
        Slip("all of it", "That is the upper opening. The plane lies somewhere between the two.", distance),
        Slip("not squared, other end", "You counted from the other end, and the areas' ratio comes in with a power.",
             distance - distance / (1 + ratio * warm)),
        *(Slip("degrees as they are", "The ratio is of absolute temperatures. You put degrees in as they are.",
               distance / (1 + ratio**2 * raw))
          for raw in _raw_ratios(draw, inside, outdoor) if abs(1 + ratio**2 * raw) > 0.01),
        *[Slip("273.15 on °F", "273.15 goes with degrees Celsius. With degrees Fahrenheit add 459.67.",
               distance / (1 + ratio**2 * as_celsius[0] / as_celsius[1]))] * (draw.system != units.SYSTEMS[0]),
        *[Slip("minus lost", "The outdoor air is below zero in degrees Celsius. What becomes of its minus in kelvin?",
               distance / (1 + ratio**2 * (inside + ZERO_C_K) / (ZERO_C_K - outdoor)))] * (outdoor < 0),
    )  # fmt: skip
    apart = draw.told_apart(slips, more, "temperatures left out")
    return Exercise(question, Measured(answer, "length", tolerance, three), apart, way, more=more)


def _raw_ratios(draw, inside_c, outdoor_c):
    """Ratios of the temperatures as somebody has them who leaves out the absolute zero: in °C, and as they are given."""
    given = [
        tuple(float(units.to_display(temp, "temperature", system)) for temp in (inside_c, outdoor_c)) for system in ("Pa", draw.system)
    ]
    return [inside / outdoor for inside, outdoor in dict.fromkeys(given) if outdoor]


def low_side_tube(draw):
    """Where the low-side tube ends."""
    told, right = draw.one_of(ASKED)
    ranges = draw.one_of(("on storey 4", "on storey 9", "half-way up", "near the top"))
    place = "" if right == OUTDOORS else f", {ranges}"
    question = f"{told}{place}. The high-side tube ends in the space whose pressure is held. Where does the low-side tube end?"
    slips = tuple(Slip(f"says: {wrong}", TUBE_HINTS[wrong], wrong) for wrong in TUBES if wrong != right)
    way = ("A transmitter reads the difference that people, or smoke, will meet: across that door, or across that wall.", f"So: {right}.")
    return Exercise(question, Chosen(right, TUBES), slips, way)


def which_place(draw):
    """Which place for which fan."""
    told, right = draw.one_of(FANS)
    earlier = {option: words for words, option in EARLIER_PLACES}  # by which records name the slip
    slips = tuple(Slip(f"says: {earlier.get(wrong, wrong)}", PLACE_HINTS[wrong], wrong) for wrong in PLACES if wrong != right)
    way = (f"{told}.", PLACE_REASONS[right], f"So: {right} (common practice, no source; the local code and the designer decide).")
    return Exercise(f"{told}. Where do the transmitters go, for a start?", Chosen(right, PLACES, EARLIER_PLACES), slips, way)


MAKERS = (lower_end, conditions_needed, no_stack_effect_here, low_side_tube, which_place)


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    table = placement_table()
    own = table.at(RULE, LOWER, UPPER, SET_POINT_PA)
    spare = table.best("middle", loss="dead")

    def figures(shown):
        shares = {name: table.at(*CHANGES[words]).share() for name, words in
                  (("ruled", RULED), ("moved", MOVED), ("held", HELD))}  # fmt: skip
        return {
            "lower": own.lower, "upper": own.upper, "point": shown.pa(own.set_point_pa), "own": percent(own.share()),
            **{name: percent(share) for name, share in shares.items()}, "dead": percent(own.share("dead")),
            "spare": spare.text(), "spare_dead": percent(spare.share("dead")), "spare_well": percent(spare.share()),
            "spare_lower": spare.lower, "spare_upper": spare.upper, "spare_point": shown.pa(spare.set_point_pa),
        }  # fmt: skip

    moves = _moves(spare)
    start = {"lower": own.lower, "upper": own.upper, "set_point_pa": own.set_point_pa, "rule": own.rule, "loss": "none"}
    tempting = "The lesson asks about places, and drilling is what one sees and pays for. A rule is one line on a display."
    opening = "Average of storeys {lower} and {upper}, {point}: {own} in order, final exit apart."
    return Story("where_the_transmitters_go", costs_most, MOVED, tempting, start, opening, moves, figures)


def _moves(spare):
    return (
        Move(
            {"rule": OTHER_RULE},
            "Fan follows lowest of two",
            "Which change costs the most?",
            "The rule: {ruled} remain; {moved} with the upper one moved, {held} with the higher set point. Whatever is changed, rule or "
            "place, look for the set point again.",
        ),
        Move(
            {"rule": RULE, "loss": "dead"},
            "Fan follows average of two, transmitters one dead, read as zero",
            "The average again. One of the two dies, reads zero, and is counted. In how many of a hundred cases is all well?",
            "{dead} instead of {own}. Half of the average is lost, and the fan runs towards twice the set point.",
        ),
        Move(
            {"rule": spare.rule, "lower": spare.lower, "upper": spare.upper, "set_point_pa": spare.set_point_pa},
            "Fan follows middle of three, PDT-1 storey {spare_lower}, PDT-2 storey {spare_upper}, set point {spare_point}",
            "What would you buy, so that one dead transmitter does no harm, and what does it cost on a good day?",
            "The {spare}: {spare_dead} with one dead, {spare_well} with all of them right. Two others outvote the zero.",
        ),
    )
