"""The lowest speed that reaches a pressure, from the similarity laws; starts an hour of a source that fills a store, what a motor bears."""

from functools import cache

import sympy

from helpers.formulas import low_demand
from helpers.studies.low_demand.night import mill_street
from helpers.studies.low_demand.verdict import minutes
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved
from helpers.teaching.mathematics import sympified
from helpers.units.said import with_unit

__all__ = ["cycles", "most_cycles", "motor_starts", "shutoff_speed"]

STARTS = "seconds_an_hour*demand_m3_s*(source_m3_s - demand_m3_s)/(store_m3*source_m3_s)"


@cache
def shutoff_speed():
    """From p ~ n squared to the speed ratio at which the shut-off pressure just equals the set point."""
    makes = "{} = wheel_factor*density_kg_m3*(wheel_radius*{})**2".format
    law = "pressure_pa__asked = speed_ratio**2*shutoff_pressure_pa"
    steps = (
        Step("Call the speed as a share of full speed r:", "speed_ratio = speed/full_speed"),
        Step("A wheel throws the air off its rim. The pressure goes with the density and with the speed of the rim squared, at any speed "
             "and at full speed. One by the other, wheel and air drop out:",
             f"{makes('pressure_pa__asked', 'speed')}; {makes('shutoff_pressure_pa', 'full_speed')}", folded=True),
        Step("The pressure goes with the square of the speed. With no flow the fan makes its shut-off pressure, times that square. Let it "
             "only just reach what is asked for:", law),
    )  # fmt: skip
    return Derivation(
        "The slowest speed that reaches a pressure",
        "In words: the root of pressure asked for by shut-off pressure. For {pressure_pa__asked} a fan with {shutoff_pressure_pa} at "
        "{full_speed} must turn at {speed_ratio} of that, {speed}.",
        steps,
        Step("Solve for the speed. Mind the root: a quarter of the pressure takes half the speed.",
             "speed_ratio = sqrt(pressure_pa__asked/shutoff_pressure_pa)", solved("speed_ratio", law)),
        ("pressure_pa__asked", "shutoff_pressure_pa"), "helpers.formulas.fan.lowest_speed_for",
        {"pressure_pa__asked": 150.0, "shutoff_pressure_pa": 1150.0, "full_speed": 50.0},
        (Step("In Hz:", "speed = speed_ratio*full_speed"),),
    )  # fmt: skip


@cache
def cycles():
    """From the time to fill and the time to empty a store to the starts an hour."""
    filling, emptying = "fill_s = store_m3/(source_m3_s - demand_m3_s)", "empty_s = store_m3/demand_m3_s"
    steps = (
        Step("While the source runs, what is not asked for fills the store:", filling),
        Step("While it stands, the store serves the demand:", emptying),
        Step("One start to the next is both together:", "cycle_s = fill_s + empty_s"),
    )
    return Derivation(
        "Starts an hour of a store that is filled",
        "In words: an hour, divided by the time to fill and to empty. A store of {store_m3}, filled with {source_m3_s} and emptied with "
        "{demand_m3_s}, makes {starts_per_hour}: that many starts an hour.",
        steps,
        Step("An hour has 3600 s. Divided by the time from start to start:", f"starts_per_hour = {STARTS}",
             sympified("seconds_an_hour") / solved("cycle_s", "cycle_s = fill_s + empty_s", filling, emptying)),
        ("store_m3", "demand_m3_s", "source_m3_s"), "helpers.formulas.low_demand.cycles_per_hour",
        {"store_m3": 2.0, "demand_m3_s": 0.004, "source_m3_s": 0.01}, constants={"seconds_an_hour": 3600},
    )  # fmt: skip


@cache
def most_cycles():
    """The demand with most starts, by the derivative, and how many these are."""
    demand, starts = map(sympified, ("demand_m3_s", STARTS))
    slope = sympy.factor(sympy.diff(starts, demand))
    (worst,) = sympy.solve(slope, demand)
    steps = (
        Step("Little demand empties the store slowly, great demand lets it fill slowly: most starts lie in between.",
             f"starts_per_hour = {STARTS}"),
        Step("How the starts change with the demand. At the top that is zero:",
             "seconds_an_hour*(source_m3_s - 2*demand_m3_s)/(store_m3*source_m3_s) = 0", slope, folded=True),
        Step("The top lies at half of what the source gives:", "demand_m3_s = source_m3_s/2", worst),
    )  # fmt: skip
    return Derivation(
        "Maximum starts an hour",
        "In words: it is worst when half is asked for of what the source gives. The store of {store_m3} with {source_m3_s} then makes "
        "{most_per_hour}: that many starts an hour.",
        steps,
        Step("Put in, that is the maximum:", "most_per_hour = seconds_an_hour*source_m3_s/(4*store_m3)", starts.subs(demand, worst)),
        ("store_m3", "source_m3_s"), "helpers.formulas.low_demand.most_cycles_per_hour",
        {"store_m3": 2.0, "source_m3_s": 0.01}, constants={"seconds_an_hour": 3600},
    )  # fmt: skip


HP, INERTIA_KG_M2 = 10, 0.1
STOP_AFTER_S, RESTART_AFTER_S = 60.0, 30.0


def motor_starts():
    """A four-pole motor of 10 hp with a light fan wheel: which of the table's two limits holds."""
    row = next(row for row in low_demand.NEMA_MG10_STARTS if row[0] == HP)
    power_w = HP * low_demand.WATTS_PER_HORSEPOWER
    inertia = INERTIA_KG_M2 / low_demand.KG_M2_PER_LB_FT2
    allowed = low_demand.starts_allowed(power_w, INERTIA_KG_M2)
    hasty = float(low_demand.fastest_cycles_per_hour(STOP_AFTER_S, RESTART_AFTER_S))
    office = mill_street().site
    office_w = office.fan.motor_power_w
    below, above = (row for row in low_demand.NEMA_MG10_STARTS if row[0] in (10, 25))
    office_most = float(low_demand.starts_allowed(office_w).per_hour)
    given = (
        Row("Motor, four poles, switched straight onto the mains", f"{HP} hp on the plate", power_w, "power"),
        Row("Inertia of the wheel at the motor's shaft [kg m²]", "from the fan's data sheet", INERTIA_KG_M2, "number", 1, "inertia_kg_m2"),
        Row("Table, column B: starts an hour times inertia [lb ft²/h]", f"row of {HP} hp", row[2], "number", 0, "column_b"),
    )
    working = (
        Row("Inertia in the table's unit [lb ft²]", f"= inertia_kg_m2/{low_demand.KG_M2_PER_LB_FT2:.5f}", inertia, "number", 2,
             "inertia_lb_ft2"),
        Row("Starts an hour that the inertia allows", "= column_b/inertia_lb_ft2", row[2] / inertia, "number", 1),
        Row("Starts an hour that the motor may make: the lesser of this and column A", f"column A, row of {HP} hp", float(allowed.per_hour),
             "number", 1, "starts_per_hour"),
    )  # fmt: skip
    explained = (
        f"The time from start to start is {3600 / float(allowed.per_hour):.0f} s or more, with a rest of "
        f"{float(allowed.rest_s):.0f} s (column C). "
        f"A stop with waits of {minutes(STOP_AFTER_S)} and {minutes(RESTART_AFTER_S)} lets up to {hasty:.0f} starts an hour through: the "
        "table tells at once that this cannot be left so. "
        f"The motor of {office.name}, {with_unit(office_w, 'power')} or {office_w / low_demand.WATTS_PER_HORSEPOWER:.2f} hp, lies between "
        f"two rows of column A that we looked up: {below[0]} hp, {below[1]:g} starts an hour, and {above[0]} hp, {above[1]:g}. "
        f"Straight between them, in the logarithms of power and starts, comes {office_most:.1f} starts an hour, with a wheel so light that "
        "column A holds."
    )
    source = "NEMA MG 10-2001 table 2-3, four poles"
    return WorkedExample(
        "How many starts an hour does this motor bear?", given, working, 12.5, 0.05, source, "checked in public text", explained
    )
