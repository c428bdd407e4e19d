"""A garage whose fan has stopped for low demand, and the traffic that wakes it: how far the gas gets before the fan has it again.

Played with the loop of `model.loop`. Limits: well-mixed zones; readings without error; the one change that is played, from the quietest
traffic of the site file to the heaviest, at once; zones with a transmitter alone.
"""

import numpy as np

from helpers.model.plants.garage import Garage
from helpers.model.plants.pressure_plant import GarageConditions, Turn, run_plant, setup_of
from helpers.studies.report import NETWORK, Finding, time_text

QUIET_S, HEAVY_S = 600.0, 5400.0  # played beyond the stop's own wait, and of the heaviest traffic; ours


def after_a_stop(design):
    """The `Finding`, if there is one, that a zone passes its most after a stop, before the fan has the gas again; none where the fan does
    not stop in the quietest traffic."""
    site, bench = design.site, design.bench
    amounts = {name: sum(traffic.running) for name, traffic in site.traffic.items()}
    quiet, heavy = min(amounts, key=amounts.get), max(amounts, key=amounts.get)
    turns_s = site.control.low_demand.stop_after_s + QUIET_S
    setup = setup_of(Garage(site), turns_s + HEAVY_S, events=(Turn(turns_s, {"running": site.traffic[heavy].running}),))
    run = run_plant(Garage(site), GarageConditions.of(site, quiet), setup)
    gas, most = run.tubes_pa[..., 0], bench.limits[1].max()
    awake = run.time_s >= turns_s
    if run.running[np.argmax(awake), 0] or gas[awake].max() <= most:
        return
    place = int(gas[awake].max(axis=0).argmax())
    past_s = float((gas[awake].max(axis=1) > most).sum() * site.control.sample_s)
    yield Finding(
        "wrong",
        "After a stop the gas passes its most before the fan has it again",
        f"{site.transmitters[place].zone} {bench.show(gas[awake].max())} where {bench.show(most)} is the most, for {time_text(past_s)} "
        f"({quiet}, then {heavy} at once)",
        "the fan starts again by a reading of standing air that is past the set point already, and waits besides",
        f"{NETWORK}, in time",
        "no stop; or a start below the set point, without a wait, and a call by whoever drives in",
        settings=(("low demand", "restart"),),
    )
