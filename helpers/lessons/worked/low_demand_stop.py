"""How many starts an hour a motor bears, by hand from the published table."""

from helpers.formulas import low_demand
from helpers.lessons.worked_example import Line, WorkedExample
from helpers.studies.low_demand_judged import minutes

__all__ = ["motor_starts"]

HP, INERTIA_KG_M2 = 10, 0.1
STOP_AFTER_S, RESTART_AFTER_S = 60.0, 30.0


def motor_starts():
    """A four-pole motor of 10 hp with a light fan wheel: which of the table's two limits holds."""
    row = next(row for row in low_demand.NEMA_MG10_STARTS if row[0] == HP)
    power_w = HP * low_demand.WATTS_PER_HORSEPOWER
    inertia = INERTIA_KG_M2 / low_demand.KG_M2_PER_LB_FT2
    allowed = low_demand.starts_allowed(power_w, INERTIA_KG_M2)
    hasty = float(low_demand.fastest_cycles_per_hour(STOP_AFTER_S, RESTART_AFTER_S))
    given = (
        Line("Motor, four poles, switched straight onto the mains", f"{HP} hp on the plate", power_w, "power"),
        Line("Inertia of the wheel at the motor's shaft [kg m²]", "from the fan's data sheet", INERTIA_KG_M2, "number", 1),
        Line("Table, column B: starts an hour times inertia [lb ft²/h]", f"row of {HP} hp", row[2], "number", 0),
    )
    working = (
        Line("Inertia in the table's unit [lb ft²]", f"{INERTIA_KG_M2:g} / {low_demand.KG_M2_PER_LB_FT2:.5f}", inertia, "number", 2),
        Line("Starts an hour that the inertia allows", f"{row[2]} / {inertia:.2f}", row[2] / inertia, "number", 1),
        Line("Least time from start to start", "3600 / starts an hour", 3600 / float(allowed.per_hour), "time", 0),
        Line("Starts an hour that the motor bears: the lesser of this and column A", f"column A, row of {HP} hp", float(allowed.per_hour),
             "number", 1),
    )  # fmt: skip
    explained = (
        f"A rest of {float(allowed.rest_s):.0f} s belongs to it (column C). A stop with waits of {minutes(STOP_AFTER_S)} and "
        f"{minutes(RESTART_AFTER_S)} lets up to {hasty:.0f} starts an hour through: the table tells at once that this cannot be left so."
    )
    source = "NEMA MG 10-2001 table 2-3, four poles"
    return WorkedExample(
        "How many starts an hour does this motor bear?", given, working, 12.5, 0.05, source, "seen in public text", explained
    )
