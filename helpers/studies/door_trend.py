"""A door opens and shuts again in the loop, with the site's own tuning and with the proposed one: the worst door, and the fan."""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.conditions import Conditions
from helpers.model.loop.events import DoorEvent
from helpers.model.loop.results import door_course
from helpers.model.loop.run import Setup, run_loop, settings_of
from helpers.studies.tuning_doors import LENGTH_S, OPENS_S, SHUTS_S

__all__ = ["DoorTrend", "door_trend"]


@dataclass(frozen=True)
class DoorTrend:
    """Both tunings through one door event, arrays [samples, tunings], the site's own first, the proposed one second where there is one.

    door: (level, kind) of the door that opens at opens_s and shuts from shuts_s on; level: whose shut stair door sees the most pressure
    after that, with its pressure door_pa.
    """

    weather: str
    door: tuple
    opens_s: float
    shuts_s: float
    time_s: np.ndarray
    level: int
    door_pa: np.ndarray
    reading_pa: np.ndarray
    speed_hz: np.ndarray


def door_trend(tower, study, weather):
    """Run the door event of a tuning study again in one weather. study: `TuningStudy`. Returns `DoorTrend`.

    Raises ValueError for a weather that is not there, or where every stair door stands open.
    """
    site, tried = tower.site, [study.own] + ([study.recommended] if study.recommended else [])
    settings = replace(settings_of(site), **{name: np.array([getattr(one, name) for one in tried]) for name in ("gain", "integral_s")})
    level, kind = study.door
    event = DoorEvent(level, OPENS_S, shuts_s=SHUTS_S, door=kind)
    rows = Conditions.of(site, weather).rows(np.zeros(len(tried), int))
    held = tower.hold(rows).air.speed_hz
    run = run_loop(tower, rows, Setup(LENGTH_S, events=(event,), settings=settings, start_hz=held, every_reading=False))
    doors = np.stack([door_course(run, tower, number=n).pressure_pa for n in range(len(tried))], axis=1)
    doors_at = [i for i, storey in enumerate(site.storeys) if storey.stair_door and storey.stair_door_count]
    shut = [i for i in doors_at if (kind, site.storeys[i].level) != ("stair", level)]
    if not shut:
        raise ValueError("door must leave another stair door shut, got the only one there is")
    sign = 1.0 if site.fan.effect == "supply" else -1.0
    peaks = (sign * doors[run.time_s >= SHUTS_S][:, :, shut]).max(axis=(0, 1))
    worst = shut[int(peaks.argmax())]
    return DoorTrend(
        weather, study.door, OPENS_S, SHUTS_S, run.time_s, int(tower.levels[worst]), doors[:, :, worst], run.reading_pa, run.speed_hz
    )
