"""Whether the motor stated bears its fan; what motor and drive stand on beside their plates: air thick enough to cool them, and a second
source of power. For record, schedule and review alike."""

import numpy as np

from helpers.model.site.criteria import criteria_of
from helpers.studies.report import PRACTICE, Finding
from helpers.units.said import with_unit

THIN_AIR_FROM_M = 1000.0  # up to which plates of motors and drives hold; IEC 60034-1 (from memory, not verified)
NONE = "none, as the site file states"
KEEP_WAIVER = "see the waiver itself, and keep it with the papers"
SOURCE_OR_WAIVER = (
    "a second source; or a waiver of the authority having jurisdiction in writing, stated in the site file under standby, waiver"
)
LESS_BY_100_M = 0.01  # of the plate, for every 100 m above that; common practice, no source
STANDBY_CODE = "IBC 909.11: a smoke control system has a standby source of power where that code is adopted (from memory, not verified)"


def thin_air(site, taken_w):
    """That thin air cools motor and drive less than their plates say; nothing up to THIN_AIR_FROM_M.

    taken_w: the most that the fan takes at the shaft [W]. Limits: a rule of thumb for both together; makers state their own.
    """
    if site.altitude_m <= THIN_AIR_FROM_M:
        return
    left_w = max(0.0, 1 - LESS_BY_100_M * (site.altitude_m - THIN_AIR_FROM_M) / 100) * site.fan.motor_power_w
    plate, left, taken = (with_unit(power, "power", 2) for power in (site.fan.motor_power_w, left_w, taken_w))
    high, end = (with_unit(height, "length", 0) for height in (site.altitude_m, THIN_AIR_FROM_M))
    short = ", more than that" if taken_w > left_w else ""
    yield Finding(
        "attention", "The motor stands in thin air, which cools it less than its plate says",
        f"at {high} a plate of {plate} counts as some {left}; the shaft takes up to {taken}{short}",
        f"plates hold up to {end}; for every {with_unit(100.0, 'length', 0)} above it {100 * LESS_BY_100_M:g} % less, of the drive as well",
        f"{PRACTICE}; {end}: IEC 60034-1 (from memory, not verified)",
        "ask the makers of motor and drive what theirs give at this height" + ", or take the next size" * bool(short),
    )  # fmt: skip


def no_standby(site):
    """That a stair in smoke control has no pressure while the mains are off: "wrong" until the site file names the written waiver of the
    authority having jurisdiction, whichever code is adopted, "attention" with one."""
    if site.control.fire_mode and site.standby is not None and site.standby.source == "none":
        asked = criteria_of(site.standard).by_building_code and site.building_code_adopted is not False
        waiver, state = site.standby.waiver, "attention" if site.standby.waiver else "wrong"
        figure = f"none, as the site file states; waived: {waiver}, as it states, seen by nobody here" if waiver else NONE
        yield Finding(state, "No standby power feeds the fan", figure,
                      "while the mains are off the stair has no pressure, and a fire may take them", STANDBY_CODE if asked else PRACTICE,
                      KEEP_WAIVER if waiver else SOURCE_OR_WAIVER)  # fmt: skip


def motor_said(duty, fail=""):
    """Whether the motor stated bears the fan stated of a `Duty`, or the one to buy where that is another, in a sentence; fail: the word for
    not. Where no fan is laid down no motor is."""
    asked = with_unit(duty.needed.shaft_power_w, "power") if np.isfinite(duty.needed.shaft_power_w) else ""
    most, plate = _powers(duty)
    if duty.motor_short:
        return f"{fail}: the motor stated, {plate}, is too small for the fan stated: at {duty.motor_speed_said} the shaft takes {most}."
    if duty.fan_open:
        needs = f"; the required cases take {asked} at the shaft, of a fan that is not chosen yet" if asked else ""
        return f"No motor is laid down before the fan is: the fan stated takes {most}, the motor stated has {plate}{needs}."
    if not duty.another:
        return "The motor stated is large enough for the fan stated."
    bears = "is too small for it" if duty.needed.shaft_power_w > duty.motor_power_w else "is for the fan stated"
    return f"The fan to buy takes {asked} at the shaft, and more at its highest speed: the motor stated, {plate}, {bears}."


def plate_said(duty):
    """The most that the fan stated of a `Duty` takes against the plate of the motor stated, in a sentence."""
    most, plate = _powers(duty)
    enough = "too small" if duty.motor_short else "no motor is laid down before the fan is" if duty.fan_open else "enough"
    return f"At {duty.motor_speed_said} the shaft takes up to {most}; the motor's plate says {plate}: {enough}."


def motor_finding(duty):
    """Whether the motor stated carries the fan stated of a `Duty`: a finding."""
    most, plate = _powers(duty)
    figure = f"{most} at the highest speed of {duty.highest_hz:g} Hz, plate {plate}"
    if duty.motor_short:
        return Finding("wrong", "The motor is too small for the fan at its highest speed", figure, "the loop goes to full speed where "
                       "a door takes the pressure away", "shaft power Q p / efficiency, AMCA 210 (from memory, not verified)",
                       "a larger motor")  # fmt: skip
    if duty.fan_open:
        return Finding("open", "No motor is laid down: first the fan", f"the fan stated takes {figure}", "a motor is chosen for its fan")
    return Finding("good", "The motor carries the fan at its highest speed in every case", figure)


def _powers(duty):
    return tuple(with_unit(power, "power") for power in (duty.full_shaft_power_w.max(), duty.motor_power_w))
