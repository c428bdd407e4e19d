"""Where parts of a site disagree with each other: storeys that are not there, ranges upside down, air with nowhere to go.

Each check takes a Draft and yields (place, sentence) pairs. A draft may lack the parts that were already refused, so that one reading of
a file tells as much as can be told; a check that needs a whole section asks for it with `whole`.
"""

from collections import Counter
from dataclasses import dataclass, field
from itertools import islice, pairwise

from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.model.files import MOST_TOLD
from helpers.model.site.release import release_is_whole
from helpers.model.site.second_shaft import second_shaft_is_whole
from helpers.model.site.stair import other_stair_doors_are_there, relief_gives_way_gradually, reliefs_told
from helpers.model.site.supply import riser_has_its_outlets, supplies_share_the_air

MOST_ON_A_PLANT = {"transmitters": 40, "inputs": 40, "supplies": 60, "doors": 60, "zones": 200, "weather": 40}
MOST_ON_A_STAIR = MOST_ON_A_PLANT | {"transmitters": 8}  # the injected points of more than eight are too many combinations
WEATHER_NEEDED = ("winter", "summer", "mild")


@dataclass
class Draft:
    """The sound parts of a site: sections by field name, items of a list or table of tables by their number or name."""

    sections: dict = field(default_factory=dict)
    whole_sections: set = field(default_factory=set)
    levels: set = field(default_factory=set)
    door_names: set = field(default_factory=set)
    stated: set = field(default_factory=set)  # sections that are there, sound or not

    def items(self, section):
        """Sound items of a list or table of tables as (number or name, item) pairs."""
        return list(self.sections.get(section, {}).items())

    def whole(self, *sections):
        """Whether all these sections were given and found sound."""
        return self.whole_sections.issuperset(sections)

    @classmethod
    def of(cls, site):
        """Draft of a complete site."""
        parts = {name: getattr(site, name) for name in type(site).model_fields}
        lists = {name: dict(enumerate(part)) for name, part in parts.items() if isinstance(part, list)}
        storeys, doors = getattr(site, "storeys", ()), getattr(site, "doors", ())
        stated = {name for name, part in parts.items() if part is not None}
        return cls(parts | lists, set(parts), {storey.level for storey in storeys}, set(doors), stated)


def disagreements(draft, checks):
    """All (place, sentence) pairs of a draft, in the order of the checks of its kind of site."""
    return list(islice((found for check in checks for found in check(draft)), MOST_TOLD))


def storeys_in_order(draft):
    """Levels run without gap and without double."""
    levels = sorted(draft.levels)
    gaps = [level for level in range(levels[0], levels[-1]) if level not in draft.levels] if levels else []
    if gaps:
        yield ("storeys",), f"must run without gap; storey {', '.join(map(str, gaps[:5]))} is not there"
    if draft.whole("storeys"):
        counts = Counter(storey.level for _, storey in draft.items("storeys"))
        for level in (level for level, count in counts.items() if count > 1):
            yield ("storeys",), f"must state each storey once; storey {level} is there twice"
        if [storey.level for _, storey in draft.items("storeys")] != sorted(counts.elements()):
            yield ("storeys",), "must run from the lowest storey up"


def places_on_storeys(draft):
    """Transmitters, supplies and relief dampers sit on levels that exist."""
    places = [((section, key), item.level) for section in ("transmitters", "supplies") for key, item in draft.items(section)]
    places += [(place, relief.level) for place, relief in reliefs_told(draft)]
    for place, level in places:
        if draft.levels and level not in draft.levels:
            yield (*place, "level"), f"must be a storey of this site, from {min(draft.levels)} to {max(draft.levels)}; got {level}"


def doors_are_described(draft):
    """Every door that a storey names is described."""
    known = ", ".join(map(repr, sorted(draft.door_names)))
    for key, storey in draft.items("storeys"):
        for use in ("stair_door", "final_exit_door", "lobby_door", "lift_door"):
            name = getattr(storey, use)
            if name is not None and draft.door_names and name not in draft.door_names:
                yield ("storeys", key, use), f"must be a door described under [doors] ({known}); got {name!r}"


def doors_can_be_worked(draft):
    """A door worked by hand states closer, handle and limit, and can be opened without pressure; any door leaks less shut than open."""
    for name, door in draft.items("doors"):
        hand = {"closer_force": door.closer_force_n, "handle_to_edge": door.handle_to_edge_m, "force_limit": door.force_limit_n}
        missing = [key for key, value in hand.items() if value is None]
        if len(missing) in (1, 2):
            yield (
                ("doors", name),
                f"must state closer_force, handle_to_edge and force_limit, all or none; {' and '.join(missing)} is missing",
            )
        if not missing and door.closer_force_n >= door.force_limit_n:
            found = f"; got {door.closer_force_n:g} N, too heavy without any pressure"
            yield ("doors", name, "closer_force"), f"must be below the force limit, {door.force_limit_n:g} N{found}"
        if door.handle_to_edge_m is not None and door.handle_to_edge_m >= door.width_m / 2:
            yield (
                ("doors", name, "handle_to_edge"),
                f"must be below half the leaf's width, {door.width_m / 2:g} m; got {door.handle_to_edge_m:g} m",
            )
        if door.leak_area_m2 >= door.flow_area_m2:
            yield (
                ("doors", name, "leak_area"),
                f"must be below the open door's area, {door.flow_area_m2:g} m2; got {door.leak_area_m2:g} m2",
            )


def storeys_are_complete(draft):
    """Lobbies have their door, lifts their shaft, stair walls no more outside than there is."""
    for key, storey in draft.items("storeys"):
        if storey.lobby and storey.lobby_door is None:
            yield ("storeys", key, "lobby_door"), "is missing; a storey with a lobby needs the door from lobby to floor"
        if storey.lobby_vent_m2 and not storey.lobby:
            yield ("storeys", key, "lobby_vent"), f"belongs to a storey with a lobby; storey {storey.level} has none"
        if storey.lobby_vent_faces_deg is not None and not storey.lobby_vent_m2:
            yield ("storeys", key, "lobby_vent_faces"), "belongs to a lobby_vent, which is missing"
        if storey.lift_doors and storey.lift_door is None:
            yield ("storeys", key, "lift_door"), f"is missing; there are {storey.lift_doors} lift doors"
        if storey.lift_doors and "lift" not in draft.sections:
            yield ("storeys", key, "lift_doors"), f"must be 0 where the site has no [lift]; got {storey.lift_doors}"
        if storey.stair_outside_wall_m2 > storey.stair_wall_m2:
            yield (
                ("storeys", key, "stair_outside_wall"),
                f"must be no more than stair_wall, {storey.stair_wall_m2:g} m2; got {storey.stair_outside_wall_m2:g} m2",
            )


def air_has_a_way_out(draft):
    """Somewhere the stair leaks; without any leak no flow has anywhere to go."""
    if not draft.whole("storeys", "doors", "stair"):
        return
    doors, reliefs = dict(draft.items("doors")), draft.sections["stair"].reliefs
    leaks = [storey.stair_wall_m2 for _, storey in draft.items("storeys")]
    for _, storey in draft.items("storeys"):
        used = [*storey.stair_doors, storey.final_exit_door]
        leaks += [doors[name].leak_area_m2 for name in used if name in doors]
    if not sum(leaks) + sum(relief.leak_area_m2 for relief in reliefs):
        yield ("storeys",), "leave the air nowhere to go: no stair wall, stair door or final exit door leaks on any storey"


def tightness_is_in_the_edition(draft):
    """The words for tightness are in the table of the chosen edition."""
    leakage = draft.sections.get("leakage")
    if leakage is None:
        return
    table = WALL_LEAKAGE_RATIOS[leakage.edition]
    words = [(("leakage", element), element, getattr(leakage, element)) for element in table]
    words += [(("storeys", key, "wall_tightness"), "exterior_wall", storey.wall_tightness) for key, storey in draft.items("storeys")]
    for place, element, word in words:
        if word is not None and word not in table[element]:
            yield place, f"must be one of {', '.join(map(repr, table[element]))} in edition {leakage.edition}; got {word!r}"


def fan_curve_falls(draft):
    """Flows rise, pressures fall; the drive's limits stand in order."""
    fan = draft.sections.get("fan")
    if fan is None:
        return
    if len(fan.flows_m3_s) != len(fan.pressures_pa):
        yield ("fan", "pressures"), f"must hold as many values as flows, {len(fan.flows_m3_s)}; got {len(fan.pressures_pa)}"
    if fan.flows_m3_s[0]:
        yield ("fan", "flows"), f"must begin with 0 m3/s, the shut-off point; got {fan.flows_m3_s[0]:g} m3/s"
    if not _rises(fan.flows_m3_s):
        yield ("fan", "flows"), f"must rise from value to value; got {_listed(fan.flows_m3_s, 'm3/s')}"
    if not _rises(fan.pressures_pa[::-1]):
        yield ("fan", "pressures"), f"must fall from value to value as the flow rises; got {_listed(fan.pressures_pa, 'Pa')}"
    if fan.lowest_speed_hz >= fan.highest_speed_hz:
        yield ("fan", "highest_speed"), f"must be above the lowest speed of {fan.lowest_speed_hz:g} Hz; got {fan.highest_speed_hz:g} Hz"


def drive_can_slow_the_wheel(draft):
    """A wheel that has an inertia takes time to turn; the speeds of smoke control stand in order, within those of the drive."""
    fan = draft.sections.get("fan")
    if fan is None:
        return
    if fan.inertia_kg_m2 is not None and not fan.ramp_s:
        yield ("fan", "ramp"), "must be above 0 s where inertia is stated: no drive turns a wheel in no time; got 0 s"
    plate = {"brake_power": fan.brake_power_w, "brake_short_power": fan.brake_short_power_w, "brake_short_time": fan.brake_short_time_s}
    if fan.brake != "resistor":
        stated = next((key for key, value in plate.items() if value is not None), None)
        if stated:
            yield ("fan", stated), 'is of a brake resistor: brake must be "resistor" where it is stated'
    elif (fan.brake_short_power_w is None) != (fan.brake_short_time_s is None):
        missing = "brake_short_power" if fan.brake_short_power_w is None else "brake_short_time"
        yield ("fan", missing), "is missing: a resistor bears its short-time power for a time, and both stand on its plate"
    elif None not in plate.values() and fan.brake_short_power_w < fan.brake_power_w:
        yield ("fan", "brake_short_power"), f"must be at least brake_power, {fan.brake_power_w:g} W; got {fan.brake_short_power_w:g} W"
    low, high = fan.smoke_lowest_speed_hz, fan.smoke_highest_speed_hz
    for key, speed in (("smoke_lowest_speed", low), ("smoke_highest_speed", high)):
        if speed is not None and not fan.lowest_speed_hz <= speed <= fan.highest_speed_hz:
            ends = f"from {fan.lowest_speed_hz:g} Hz to {fan.highest_speed_hz:g} Hz"
            yield ("fan", key), f"must be within what the drive does, {ends}; got {speed:g} Hz"
    if low is not None and high is not None and low >= high:
        yield ("fan", "smoke_highest_speed"), f"must be above smoke_lowest_speed, {low:g} Hz; got {high:g} Hz"


def tubes_are_whole(draft):
    """A bore belongs to a length."""
    for key, transmitter in draft.items("transmitters"):
        if transmitter.tube_bore_m is not None and transmitter.tube_length_m is None:
            yield ("transmitters", key, "tube_length"), "is missing; a tube_bore alone says nothing of a tube"


def closers_and_exits_belong_to_something(draft):
    """A closer's share needs a closer, a bearing an exit, and no two storeys are called alike on the drawings."""
    for name, door in draft.items("doors"):
        if door.closing_share is not None and door.closer_force_n is None:
            yield ("doors", name, "closing_share"), "belongs to a door with a closer; closer_force is missing"
    for key, storey in draft.items("storeys"):
        if storey.exit_faces_deg is not None and storey.final_exit_door is None:
            yield ("storeys", key, "exit_faces"), f"belongs to a storey with a final exit; storey {storey.level} has none"
    names = Counter(storey.drawing_name for _, storey in draft.items("storeys") if storey.drawing_name is not None)
    for name, count in names.items():
        if count > 1:
            key = next(key for key, storey in draft.items("storeys") if storey.drawing_name == name)
            yield (
                ("storeys", key, "drawing_name"),
                f"must differ from the other storeys'; {name!r} is there {count} times (a group may list one name a storey)",
            )


def standby_has_a_source(draft):
    """Times belong to a source."""
    standby = draft.sections.get("standby")
    if standby is not None and standby.source != "none" and standby.waiver is not None:
        yield ("standby", "waiver"), f"must be left out where there is a source to lose; got one beside {standby.source!r}"
    if standby is None or standby.source != "none":
        return
    stated = [key for key in ("detection", "start", "transfer", "drive") if getattr(standby, f"{key}_s") is not None]
    if stated:
        yield ("standby", "source"), f"must be a source where {' and '.join(stated)} is stated; got 'none', with which nothing starts"


def design_opens_doors_that_are_there(draft):
    """Levels that the design takes as open have such a door."""
    design = draft.sections.get("design")
    if design is None or not draft.whole("storeys"):
        return
    storeys = [storey for _, storey in draft.items("storeys")]
    stair = {storey.level for storey in storeys if storey.stair_door is not None and storey.stair_door_count}
    exits = {storey.level for storey in storeys if storey.final_exit_door is not None}
    for key, levels, there, what in (
        ("open_doors", design.open_doors, stair, "stair door"),
        ("open_exits", design.open_exits, exits, "final exit"),
    ):
        wrong = [str(level) for level in levels if level not in there]
        if wrong:
            known = ", ".join(map(str, sorted(there))) or "none"
            yield ("design", key), f"must be storeys that have a {what} ({known:.80}); storey {', '.join(wrong[:5])} has none"
        if len(set(levels)) < len(levels):
            yield ("design", key), "must name each storey once"


def second_set_is_another(draft):
    """A site judged by its own standard twice is judged once."""
    own, second = (draft.sections.get(name) for name in ("standard", "second_standard"))
    if own is not None and own == second:
        yield ("second_standard",), f"must be another set of criteria than standard; got {second!r} for both"


def weather_is_there(draft):
    """Winter, summer and mild are described."""
    for name in WEATHER_NEEDED:
        if draft.whole("weather") and name not in draft.sections["weather"]:
            yield ("weather", name), "is missing; winter, summer and mild must be described"


def names_are_single(draft):
    """No two transmitters of a site, no two inputs of a strategy share a name."""
    for section in ("transmitters", "inputs"):
        counts = Counter(one.name for _, one in draft.items(section))
        for key, one in draft.items(section):
            if counts[one.name] > 1:
                yield (section, key, "name"), f"must differ from the other {section}'; {one.name!r} is there more than once"


def counts_have_limits(draft):
    """There are no more of anything than a building has and the studies can work through: some of them try every combination."""
    most = MOST_ON_A_STAIR if draft.door_names or "doors" in draft.sections else MOST_ON_A_PLANT
    for section, limit in most.items():
        if (count := len(draft.items(section))) > limit:
            yield (section,), f"must be {limit} at the most; got {count}"


def ranges_stand_upright(draft, end="pa", unit="Pa"):
    """A range's top is above its bottom; end: what the names of both end in, by their unit."""
    for key, transmitter in draft.items("transmitters"):
        low, high = (getattr(transmitter, f"range_{side}_{end}") for side in ("low", "high"))
        if high <= low:
            yield ("transmitters", key, "range_high"), f"must be above range_low, {low:g} {unit}; got {high:g} {unit}"


def lobbies_are_there_to_refer_to(draft):
    """A transmitter that refers to a lobby sits on a storey that has one."""
    lobbies = {storey.level: storey.lobby for _, storey in draft.items("storeys")}
    for key, transmitter in draft.items("transmitters"):
        if transmitter.reference == "lobby" and not lobbies.get(transmitter.level, True):
            yield ("transmitters", key, "reference"), f"must be 'floor' or 'outdoors' on storey {transmitter.level}, which has no lobby"


def set_point_is_measured(draft):
    """The set point lies in the range of a transmitter at least."""
    control = draft.sections.get("control")
    if control is None or not draft.whole("transmitters"):
        return
    ranges = [(transmitter.range_low_pa, transmitter.range_high_pa) for _, transmitter in draft.items("transmitters")]
    if all(low < high for low, high in ranges) and not any(low <= control.set_point_pa <= high for low, high in ranges):
        spans = ", ".join(f"{low:g} to {high:g} Pa" for low, high in sorted(set(ranges)))
        yield ("control", "set_point"), f"must lie in the range of a transmitter ({spans}); got {control.set_point_pa:g} Pa"


def rule_is_complete(draft):
    """Weights belong to the rule "weighted" and to nothing else, one for each transmitter; the middle needs three readings."""
    control = draft.sections.get("control")
    if control is None:
        return
    if control.rule == "weighted" and control.weights is None:
        yield ("control", "weights"), "is missing; the rule 'weighted' needs a weight for each transmitter"
    if control.rule != "weighted" and control.weights is not None:
        yield ("control", "weights"), f"belongs to the rule 'weighted'; the rule is {control.rule!r}"
    if not draft.whole("transmitters"):
        return
    count = len(draft.items("transmitters"))
    if control.weights is not None and len(control.weights) != count:
        yield ("control", "weights"), f"must hold one value for each of the {count} transmitters; got {len(control.weights)}"
    if control.weights is not None and not sum(control.weights):
        yield ("control", "weights"), "must not all be zero"
    if control.rule == "middle" and count < 3:
        yield ("control", "rule"), f"must be another where fewer than three transmitters are there; 'middle' of {count} has no middle"


def low_demand_keeps_out_of_fire(draft):
    """No low-demand stop in smoke control: life safety."""
    control = draft.sections.get("control")
    if control is not None and control.fire_mode and control.low_demand:
        yield ("control", "low_demand"), "must be left out where fire_mode is true: a fan in smoke control never stops for low demand"


def _rises(values):
    return all(before < after for before, after in pairwise(values))


def _listed(values, unit):
    return f"{', '.join(f'{value:g}' for value in values[:12])} {unit}"


STAIR_CHECKS = (
    storeys_in_order,
    places_on_storeys,
    doors_are_described,
    other_stair_doors_are_there,
    doors_can_be_worked,
    storeys_are_complete,
    air_has_a_way_out,
    tightness_is_in_the_edition,
    supplies_share_the_air,
    riser_has_its_outlets,
    fan_curve_falls,
    drive_can_slow_the_wheel,
    tubes_are_whole,
    closers_and_exits_belong_to_something,
    standby_has_a_source,
    design_opens_doors_that_are_there,
    relief_gives_way_gradually,
    release_is_whole,
    second_shaft_is_whole,
    second_set_is_another,
    weather_is_there,
    names_are_single,
    counts_have_limits,
    ranges_stand_upright,
    lobbies_are_there_to_refer_to,
    set_point_is_measured,
    rule_is_complete,
    low_demand_keeps_out_of_fire,
)
