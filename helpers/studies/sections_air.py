"""Sections of the design record about building, window, air flow and fan."""

import numpy as np

from helpers import units
from helpers.formulas import doors as door_formulas
from helpers.studies import picture_data
from helpers.studies.figures import Figure, Finding, Section, Table, figure, signed

__all__ = ["fan_section", "flow_section", "site_section", "window_section"]

_NETWORK = "air network of this site"
_SITE_FILE = "site file"
AGREES_WITHIN = 0.02  # hand formula and network under the hand method's assumptions


def site_section(design, system):
    """What the record stands on: building, weather, cases."""
    site, storeys = design.site, design.site.storeys
    height = sum(storey.height_m for storey in storeys)
    loop = site.control
    figures = (
        Figure("Storeys", float(len(storeys)), f"{len(storeys)}, level {storeys[0].level} to {storeys[-1].level}", "", _SITE_FILE),
        figure("Height", height, "length", "sum of the storeys; stack effect grows with it", _SITE_FILE, system, 1),
        figure("Altitude", site.altitude_m, "length", "thin air moves less weight at the same pressure", _SITE_FILE, system, 0),
        figure("Set point", loop.set_point_pa, "pressure", "what the combined reading is held at", f"{_SITE_FILE}, control", system),
        Figure("Rule", None, loop.rule, "which reading runs the fan", f"{_SITE_FILE}, control"),
        Figure("Standard", None, design.window.standard.name, "whose criteria are compared with", _SITE_FILE),
    )
    rows = tuple(_case_row(design, case, system) for case in design.cases)
    columns = ("Case", "Outdoors", "Stair", "Floors", "Wind", "Stair doors open", "Final exits open")
    cases = Table("cases", "Cases looked at", columns, rows, note="Winds blow at the reference height of the site file.")
    return Section("site", "Building and cases", site.note, figures, (cases,))


def _case_row(design, case, system):
    site, state = design.site, design.site.weather[case.weather]
    stair = site.temperatures.stair_c if state.stair_c is None else state.stair_c
    temperatures = [units.show(value, "temperature", system) for value in (state.outdoor_c, stair, site.temperatures.floor_c)]
    wind = f"{units.show(state.wind_speed_m_s, 'speed', system)} from {units.show(state.wind_from_deg, 'angle', system)}"
    return (case.name, *temperatures, wind, _levels(case.open_doors), _levels(case.open_exits))


def _levels(levels):
    return ", ".join(str(level) for level in levels) or "none"


def window_section(design, system):
    """The pressure window door by door, and how tall a stair it would carry by hand."""
    window = design.window
    figures = [
        figure("Least pressure across a stair door", window.least_pa, "pressure", _end(window.least, "least"), _end_source(window.least, "least"), system),
        figure("Most pressure across a stair door", window.most_pa, "pressure", _end(window.most, "most"), _end_source(window.most, "most"), system),
    ]  # fmt: skip
    if window.width_pa is not None:
        reason = "all that stack effect, wind, open doors and errors may use up"
        figures.append(figure("Room between them", window.width_pa, "pressure", reason, "most less least", system))
    if window.width_pa is not None and window.width_pa > 0 and design.ladder is not None:
        figures.append(_height_limit(design, system))
    rows = tuple(
        (door.place, door.across, door.text(system), door.least_reason, door.most_reason, door.least_source, door.most_source)
        for door in window.doors
    )
    columns = ("Door", "Pressure across it", "Window", "Why not less", "Why not more", "Source of the least", "Source of the most")
    states = tuple("good" if door.feasible else "wrong" for door in window.doors)
    table = Table("window", "Pressure window of every door", columns, rows, states)
    notes = ("A closer pulls a leaf shut with half to two thirds of the force it takes to open it (common practice, no source).",)
    return Section("window", "Pressure window", window.verdict(system), tuple(figures), (table,), window.findings(system), notes=notes)


def _end(door, end):
    return "no stair door states one" if door is None else getattr(door, f"{end}_reason")


def _end_source(door, end):
    return _SITE_FILE if door is None else getattr(door, f"{end}_source")


def _height_limit(design, system):
    """Tallest stair by hand; the stack effect alone, with the stair as warm as the rooms."""
    hand, window = design.ladder.hand, design.window
    limit = hand.height_limit(window.least_pa, window.most_pa)
    source = "ASHRAE HVAC Applications, fire and smoke chapter; Jensen, J. Fire Prot. Eng. 13(4) 2003"
    reason = f"stack effect in {design.weather} with the stair as warm as the rooms; this one is {units.show(hand.height_m, 'length', system, 1)}"
    if np.isinf(limit):
        return Figure("Tallest stair for one supply, by hand", None, "no limit", "no stack effect in this weather", source)
    return figure("Tallest stair for one supply, by hand", limit, "length", f"{reason} between its end doors", source, system, 0)


def flow_section(design, system):
    """Hand method beside network, and what lies between them."""
    ladder = design.ladder
    if ladder is None:
        said = "The hand method is for a stair that a fan blows into, held above the floors; here it does not apply."
        return Section("flow", "Supply air by hand and by the network", said)
    hand, network = ladder.rungs[0], ladder.rungs[-1]
    bottom, top = ladder.hand.end_pressures(ladder.door_dp_pa)
    formula = "closed formula, ASHRAE HVAC Applications 1999 to 2007, fire and smoke chapter (memory)"
    figures = (
        figure("Supply air by hand", hand.flow_m3_s, "flow", "standard air, doors shut", formula, system),
        figure("Bottom door by hand", bottom, "pressure", "pressure difference stair over floor", formula, system),
        figure("Top door by hand", top, "pressure", "the stack effect of the height between them on top", formula, system),
        figure("Supply air by the network", network.flow_m3_s if network.held else None, "flow", "at the fan's inlet, doors shut", _NETWORK, system),
    )  # fmt: skip
    reasons, changes = ladder.reasons(system), ladder.changes_m3_s
    rows = tuple(
        (rung.label, units.show(rung.flow_m3_s, "flow", system) if rung.held else "not held",
         signed(change, "flow", system) if place and np.isfinite(change) else "", reason)
        for place, (rung, change, reason) in enumerate(zip(ladder.rungs, changes, reasons, strict=True))
    )  # fmt: skip
    note = "What a step adds depends on the order: it is what it adds to all steps before it."
    table = Table("flow", "From hand to network", ("Step", "Supply air", "Change", "Why"), rows, note=note)
    pictures = (picture_data.flow_steps(ladder, system),)
    return Section("flow", "Supply air by hand and by the network", ladder.verdict(system), figures, (table,), _agreement(ladder), pictures)


def _agreement(ladder):
    off = ladder.agreement
    figure_text = f"{100 * off:+.1f} %"
    if abs(off) <= AGREES_WITHIN:
        return (Finding("good", "Network and hand formula agree under the same assumptions", figure_text),)
    return (
        Finding("attention", "Network and hand formula differ even under the same assumptions", figure_text,
                "the formula takes a pressure that changes evenly over many storeys", "", "rely on the network here"),
    )  # fmt: skip


def fan_section(design, system):
    """Duty points, what is left, motor."""
    duty, place = design.duty, design.duty.design
    case = duty.cases[place].name
    amca = "similarity laws, AMCA 201 (memory); curve and efficiencies of the site file"
    figures = (
        figure("Design flow", duty.flow_m3_s[place], "flow", f"the largest that is held: {case}", _NETWORK, system),
        figure("Fan pressure at it", duty.pressure_pa[place], "pressure", "stair pressure at the outlet and duct loss", _NETWORK, system),
        figure("Speed at it", duty.speed_hz[place], "frequency", "where the combined reading meets the set point", _NETWORK, system),
        figure("Shaft power at it", duty.shaft_power_w[place], "power", "flow times pressure over the fan's efficiency", amca, system),
        figure("Power from the mains at it", duty.electric_power_w[place], "power", "over motor and drive efficiency", amca, system),
        figure("Lowest speed that can hold", duty.shutoff_speed_hz.max(), "frequency", "below it the fan does not reach the stair's pressure, even without flow", amca, system),
        figure("Most shaft power at full speed", duty.full_shaft_power_w.max(), "power", "the loop goes there when open doors take the pressure", amca, system),
        figure("Motor", duty.motor_power_w, "power", "on the plate", "site file, fan", system),
    )  # fmt: skip
    rows = tuple(_duty_row(duty, place, system) for place in range(len(duty.cases)))
    columns = ("Case", "Loop", "Flow", "Fan pressure", "Speed", "Shaft power", "From the mains", "Speed to spare", "Reading at full speed")
    states = tuple(_duty_state(duty, place) for place in range(len(duty.cases)))
    note = "One efficiency at all flows, as the site file states it: at small flow the true power is larger."
    table = Table("duty", "Fan duty by case", columns, rows, states, note)
    pictures = (picture_data.fan_chart(design.tower, duty, system),)
    return Section("fan", "Fan and drive", duty.verdict(system), figures, (table,), tuple(duty.findings(system)), pictures)


def _duty_row(duty, place, system):
    shown = [
        units.show(array[place], dimension, system)
        for array, dimension in (
            (duty.flow_m3_s, "flow"),
            (duty.pressure_pa, "pressure"),
            (duty.speed_hz, "frequency"),
            (duty.shaft_power_w, "power"),
            (duty.electric_power_w, "power"),
        )
    ]
    spare = f"{100 * duty.speed_margin[place]:.0f} %"
    return (duty.cases[place].name, str(duty.state[place]), *shown, spare, units.show(duty.full_reading_pa[place], "pressure", system))


def _duty_state(duty, place):
    if duty.state[place] == "held":
        return "good"
    return "wrong" if duty.cases[place].shut else "attention"


def door_force(design, level):
    """(force [N], case name) at the handle of a level's stair door at its highest pressure in any case; None without a handle to pull."""
    storey = design.site.storeys[design.tower.storey(level)]
    door = design.site.doors[storey.stair_door] if storey.stair_door else None
    if door is None or not door.worked_by_hand:
        return None
    dp = design.own.door_dp_pa[:, design.tower.storey(level)]
    place = int(dp.argmax())
    way = -1.0 if door.opens == "with pressure" else 1.0
    force = door_formulas.opening_force(way * dp[place], door.width_m, door.height_m, door.closer_force_n, door.handle_to_edge_m)
    return float(force), design.cases[place].name
