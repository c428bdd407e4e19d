"""Section of the record on fan and drive: duty by case and the doors then, the fan asked for, what is to be settled about the drive."""

from contextlib import suppress

import numpy as np

from helpers.model.air.fan import REFERENCE_DENSITY_KG_M3
from helpers.model.loop.ramps import ramp_loads
from helpers.model.site.criteria import cited
from helpers.record import plot_builders
from helpers.record.standing import SET_POINT
from helpers.studies.doors.second_shaft.steady import both_shafts
from helpers.studies.duty.change_over.reckoned import change_over
from helpers.studies.duty.fan_duty import ACTIVATION_S
from helpers.studies.duty.fan_needed import BEYOND_USUAL
from helpers.studies.duty.motor_feed import no_standby, thin_air
from helpers.studies.duty.motor_load import motor_load
from helpers.studies.duty.override_speed import override_speed
from helpers.studies.duty.permissible_speed import ASK, faster_said, permissible_speed
from helpers.studies.duty.supply.outlets import riser_parts
from helpers.studies.report import MOST_FAN_PA, NETWORK, PRACTICE, SITE_FILE, Finding, Section, Table, figure
from helpers.studies.status import worst_of
from helpers.studies.tuning.ramps_offered import ramps_tried_said
from helpers.units.said import with_unit

_FAN = "similarity laws, AMCA 201 (from memory, not verified); curve and efficiencies of the site file"
_DUTY_COLUMNS = "Flow", "Fan pressure", "Speed", "Shaft power", "From the mains", "Speed left", "Reading at full speed"
_DUTY_NOTE = (
    "The verdict is the worse of both: whether the fan holds the set point, and whether every shut door is then inside its window. One "
    "efficiency at all flows, as the site file states it: at small flow the true power is larger."
)


def fan_section(design):
    """Duty points, what is left, motor."""
    duty, own = design.duty, design.own
    rows = tuple(_duty_row(duty, own, place) for place in range(len(duty.cases)))
    columns = ("Case", "Set point", "Shut doors then", *_DUTY_COLUMNS)
    states = tuple(worst_of((_duty_state(duty, place), own.status(place))) for place in range(len(duty.cases)))
    table = Table("duty", "Fan duty by case", columns, rows, states, _DUTY_NOTE)
    pictures = (plot_builders.fan_chart(design.tower, duty),)
    load, fixed = motor_load(design.tower, duty), override_speed(design.tower, design.standing.window, duty.full)
    costs, outlets, shares = riser_parts(design.tower, design.own)
    figures = (*_fan_figures(duty, design), *load.figures(), *duty.full.figures(), *fixed.figures(), *costs)
    over = change_over(design.built_tower, design.standing.window, design.shut_cases)
    shafts = both_shafts(design.built_tower, design.standing.window, design.shut_cases)
    findings = (
        *duty.findings(),
        *permissible_speed(design.site.fan),
        *thin_air(design.site, float(duty.full_shaft_power_w.max())),
        *_slow_start(design),
        *no_standby(design.site),
        *(() if over is None else over.findings()),
        *(() if shafts is None else shafts.findings()),
        *shares,
    )
    beside = () if over is None else (over.table(), over.both_table())
    beside += () if shafts is None else (shafts.table(), shafts.door_table())
    figures += () if shafts is None else shafts.figures()
    needed = duty.needed.table(*["in the riser, outlets included"] * bool(design.site.riser))
    tables = (needed, table, load.table(), *beside, *outlets, _checklist(design.site))
    return Section("fan", "Fan and drive", duty.verdict(), figures, tables, findings, pictures)


def _slow_start(design):
    """That the ramp alone takes longer from standstill to the set point than is asked for."""
    fan, held = design.site.fan, [(hz, case.name) for case, hz, _ in design.duty.needed.asked if np.isfinite(hz)]
    most, case = max(held, default=(0.0, ""))
    seconds = fan.ramp_s * most / fan.reference_speed_hz
    if seconds > ACTIVATION_S:
        yield Finding("attention", "The ramp alone is long from standstill to the set point", f"{seconds:.0f} s to {most:.1f} Hz ({case})",
                      "alarm system, loop, and standby power where the mains are off, come on top of it",
                      cited(design.site, f"{ACTIVATION_S:g} s: NFPA 92 and IBC, in one edition, for a fan; from memory, not verified"),
                      _quicker_start(design, np.floor(fan.ramp_s * ACTIVATION_S / seconds)))  # fmt: skip


def _quicker_start(design, ramp_s):
    """The ramp up [s] that starts in time, tried with the doors, or that the motor cannot follow it, in words."""
    enough_s = ramp_loads(design.site).enough_s.high
    if not enough_s <= ramp_s:
        return f"a ramp up of {ramp_s:.0f} s is more than the motor can follow: a larger motor, or a lighter wheel"
    study = None
    with suppress(ValueError):  # nothing to tune, as its section says
        study = design.tuning
    return f"a ramp up of {ramp_s:.0f} s ({ramps_tried_said(study, ramp_s, design.site.fan.slows_s)})"


# What no model here knows, and what decides whether the fan runs on the day: (what to settle, why, whence the rule).
_CHECKS = (
    ("Override of the drive's trips", "which protections give way in smoke control, and which never (short circuit, earth fault): a drive "
     "that saves itself leaves the stair without air", PRACTICE),
    ("Restart after a trip, and its counter", "a drive that has used up its restarts stays off until somebody comes: how many, "
     "how far apart, what counts, cleared by what", PRACTICE),
    ("Flying start", "the wheel still turns after a mains failure, backwards by the wind: the drive has to catch it, not trip", PRACTICE),
    ("Place of the intake", "away from smoke outlets, vents and the street: the fan must not fill the stair with smoke", PRACTICE),
    ("Smoke detector in the supply", "it stops the fan, with an override at the fire service's panel",
     "NFPA 92 (from memory, not verified)"),
    ("Proof that the fan runs", "by flow or current, not by the command given", "NFPA 92 6.4.8.2 (quoted in trade press)"),
    ("By-pass of the drive", "the fan then runs at full speed: see what that does to the doors; the motor starts across the line",
     PRACTICE),
)  # fmt: skip


def _checklist(site):
    """What has to be settled about drive, intake and power before anyone relies on the fan; nothing of it is in the model."""
    standby, fan = site.standby, site.fan
    faster = faster_said(fan.reference_speed_hz, fan.highest_speed_hz)
    turns = [("Permissible speed of the fan", f"{fan.highest_speed_hz:g} Hz is {faster}: {ASK}", "ask the fan's maker")] * bool(faster)
    feeds = ("Standby power", "not stated: which source, how long until the fan is at pressure again", "ask; codes differ")
    if standby is not None:
        proof = "no pressure while the mains are off" if standby.source == "none" else "take the mains away and clock the time to pressure"
        feeds = ("Standby power", f"{standby.source}, as stated: {proof}", SITE_FILE)
    rows = tuple((*row[:-1], cited(site, row[-1]), "") for row in (*_CHECKS, *turns, feeds))
    columns = ("To settle", "Why", "Source", "Settled how, by whom")
    return Table("drive_checks", "Check list of fan and drive", columns, rows, ("open",) * len(rows), "No model here knows these.")


def _fan_figures(duty, design):
    """Figures of the fan; where something comes before a set point, what is asked of the fan is what would be."""
    first, beyond = design.standing.first(SET_POINT), "stair, outlets and riser" if design.site.riser else "stair pressure at the outlet"
    place, needed, if_so = duty.design, duty.needed, f"what would be, {first}; " if first else ""
    held = "the most of the cases that the stated fan holds, without margins; no limit of the fan"
    which = held if duty.state[place] == "held" else "the most; none is held"
    most, steepest = needed.cases[needed.design].name, needed.cases[needed.steepest].name
    asked_pa, standard_pa = needed.pressure_pa[needed.steepest], needed.standard_pa[needed.steepest]
    power_w = needed.shaft_power_w
    own, held_air = (_air_of(needed, case) for case in (needed.steepest, place))
    if not needed.usual:  # no figure that somebody might buy by
        asked_pa = standard_pa = power_w = np.nan
        if_so = f"{BEYOND_USUAL.format(with_unit(MOST_FAN_PA, 'pressure'))}; {if_so}"
    with_margins = f"{if_so}with margins, {needed.margins_text()}: {most}"
    told = (
        ("Flow asked of the fan", needed.flow_m3_s[needed.design], "flow", with_margins, needed.source),
        ("Fan pressure asked", asked_pa, "pressure", f"{if_so}{beyond.replace(' pressure', '')}, duct loss: {steepest}, {own}", NETWORK),
        ("The same on a catalogue curve", standard_pa, "pressure", f"{if_so}in standard air, {_air(REFERENCE_DENSITY_KG_M3)}", "fan laws"),
        ("Shaft power asked", power_w, "power", f"{if_so}of a fan of the efficiency stated, in the air of the case", _FAN),
        ("Largest flow held", duty.flow_m3_s[place], "flow", f"{which}: {duty.cases[place].name}", NETWORK),
        ("Fan pressure at that flow", duty.pressure_pa[place], "pressure", f"{beyond} and duct loss, {held_air}", NETWORK),
        ("Speed at that flow", duty.speed_hz[place], "frequency", "where the combined reading meets the set point", NETWORK),
        ("Shaft power at that flow", duty.shaft_power_w[place], "power", "flow times pressure over the fan's efficiency", _FAN),
        ("Power from the mains at that flow", duty.electric_power_w[place], "power", "over motor and drive efficiency", _FAN),
        ("Lowest speed that can hold", duty.lowest_speed_hz, "frequency", "slower, even without flow, the pressure is out of reach", _FAN),
        ("Maximum shaft power", duty.full_shaft_power_w.max(), "power", f"at {duty.motor_speed_said}".rstrip(","), _FAN),
        ("Motor", duty.motor_power_w, "power", "on the plate", f"{SITE_FILE}, fan"),
    )
    return [figure(label, None if np.isnan(value) else value, *rest) for label, value, *rest in told]


def _air(density_kg_m3):
    return with_unit(density_kg_m3, "density")


def _air_of(needed, place):
    """In which air a pressure of a case holds, in words."""
    return f"in its own air of {_air(needed.density_ratio[place] * REFERENCE_DENSITY_KG_M3)}"


def _duty_row(duty, own, place):
    values = (duty.flow_m3_s, duty.pressure_pa, duty.speed_hz, duty.shaft_power_w, duty.electric_power_w)
    dimensions = ("flow", "pressure", "frequency", "power", "power")
    shown = [with_unit(value[place], dimension) for value, dimension in zip(values, dimensions, strict=True)]
    spare = f"{100 * duty.speed_margin[place]:.0f} %"
    out = own.out_in(duty.cases[place])
    doors = f"{len(out)} out, worst {out[0].text()}" if out else "none out"
    return (duty.cases[place].name, str(duty.state[place]), doors, *shown, spare, with_unit(duty.full_reading_pa[place], "pressure"))


def _duty_state(duty, place):
    if duty.state[place] == "held":
        return "good"
    return "wrong" if duty.needed.required[place] else "attention"
