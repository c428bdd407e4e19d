"""What motor and drive stand on beside their plates: air thick enough to cool them, and a second source of power. For record, schedule and
review alike."""

from helpers.model.site.criteria import criteria_of
from helpers.studies.report import PRACTICE, Finding
from helpers.units.said import with_unit

THIN_AIR_FROM_M = 1000.0  # up to which plates of motors and drives hold; IEC 60034-1 (from memory, not verified)
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
    """That a stair in smoke control has no pressure while the mains are off."""
    if site.control.fire_mode and site.standby is not None and site.standby.source == "none":
        asked = criteria_of(site.standard).by_building_code and site.building_code_adopted is not False
        yield Finding("attention", "No standby power feeds the fan", "none, as the site file states",
                      "while the mains are off the stair has no pressure, and a fire may take them", STANDBY_CODE if asked else PRACTICE,
                      "a second source, or the word of the authority having jurisdiction that this building needs none")  # fmt: skip
