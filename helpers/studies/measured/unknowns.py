"""What a test day is asked for: by which factor each kind of leak, the shaft and the fan differ from the site file, what each storey has
beside the mean of all, and by how much the day itself may have been misread; each in standard deviations from the file's figure. And what
would be read at such unknowns."""

from dataclasses import dataclass

import numpy as np

from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.formulas.uncertainty import normal_quantile
from helpers.model.air.network import KINDS
from helpers.model.site.schema import Site
from helpers.studies.measured.readings import FLOW, QUANTITIES, SURE, every_quantity

STEP = 0.2  # of central differences, in standard deviations: wide enough that a leak whose flow turns round has a slope
CLASSES = 2 * float(normal_quantile(0.95))  # from tight to loose: nine buildings of ten lie between; ours
# Of logarithms: gaps and shaft half to twice, a damper's leak a third to three times, a fan some per cent; common practice, no source.
GAPS_SD, SHAFT_SD, DAMPER_SD, FAN_SD = 0.42, 0.42, 0.7, 0.05
OVER_OUTDOORS = tuple(QUANTITIES.index(f"{what} over outdoors") for what in ("floor", "stair"))
STOREY_SD = 0.2  # of logarithms: walls and gaps of one storey beside the mean of all; common practice, no source
TEMPERATURE_SD_C = 1.0  # of the day's air temperatures where the doors are; common practice, no source


class NotSeparatedError(ValueError):
    """What was read cannot carry what is asked of it."""


@dataclass(frozen=True)
class Unknowns:
    """What is asked for, in one row of numbers: by name the standard deviations [unknowns]; kinds: names of those of KINDS."""

    site: Site
    kinds: tuple
    names: tuple
    deviations: np.ndarray

    @classmethod
    def of(cls, site, readings=None):
        """Unknowns of a site, with those of a day where readings are given."""
        apart = {wall: _classes_apart(site.leakage.edition, wall) for wall in ("stair_wall", "exterior_wall", "floor")}
        spread = {"stair side": max(apart["stair_wall"], GAPS_SD), "facade": apart["exterior_wall"], "between storeys": apart["floor"],
                  "relief damper": DAMPER_SD, "stair shaft": SHAFT_SD, "fan": FAN_SD}  # fmt: skip
        alone = len(site.storeys) == 1
        absent = {"relief damper": site.stair.relief is None, "between storeys": alone, "stair shaft": alone}
        kinds = tuple(kind for kind in KINDS if not absent.get(kind, False))
        deviations = {kind: spread[kind] for kind in kinds}
        for what in ("walls", "gaps"):
            deviations |= {f"{what} of storey {storey.level}": STOREY_SD for storey in site.storeys}
        if readings is not None:
            gauges, wind = readings.day.gauges, readings.day.weather.wind_speed_m_s
            deviations |= {"traverse": gauges.flow_percent / 100 / SURE}
            deviations |= {"outdoors": TEMPERATURE_SD_C / SURE, "stair's air": TEMPERATURE_SD_C}
            deviations |= {"wind": gauges.wind_m_s / SURE / wind} if wind else {}
            deviations |= {name: readings.scale_percent / 100 / SURE for name in readings.gauges}
        return cls(site, kinds, tuple(deviations), np.array(list(deviations.values())))

    def __len__(self):
        return len(self.names)

    @property
    def lasting(self):
        """Which of them are alike on all storeys: about these the storeys' own scatter is taken as straight."""
        return np.array([" of storey " not in name for name in self.names])

    def conditions(self, base, x):
        """(`Conditions`, the traverse's factor [points, rows]): rows of base for every point of x [points, unknowns], points first."""
        moved, rows = dict(zip(self.names, (x * self.deviations).T, strict=True)), len(base)
        kinds = np.ones((len(x), len(KINDS)))
        for kind in self.kinds:
            kinds[:, KINDS.index(kind)] = np.exp(moved[kind])
        walls, gaps = (np.exp(np.stack([moved[f"{what} of storey {storey.level}"] for storey in self.site.storeys], axis=1))
                       for what in ("walls", "gaps"))  # fmt: skip
        many = base.rows(np.tile(np.arange(rows), len(x)))
        each = np.repeat(np.arange(len(x)), rows)
        many.kind_factor = many.kind_factor * kinds[each]
        many.leak_factor, many.gap_factor = many.leak_factor * walls[each], many.gap_factor * gaps[each]
        still = np.zeros(len(x))
        many.outdoor_c = many.outdoor_c + moved.get("outdoors", still)[each]
        warmer = moved.get("stair's air", still)[each]
        many.stair_c = many.stair_c + (warmer[:, None] if many.stair_c.ndim == 2 else warmer)
        many.wind_speed_m_s = many.wind_speed_m_s * np.exp(moved.get("wind", still))[each]
        return many, np.exp(moved.get("traverse", still))

    def scales(self, x, readings):
        """What each storey's pressure gauge shows of a true pascal [points, storeys]."""
        places = [self.names.index(name) for name in readings.gauges]
        factors = np.exp(x[:, places] * self.deviations[places])
        return factors[:, (np.arange(len(self.site.storeys)) >= readings.upper_from).astype(int)]


def _classes_apart(edition, wall):
    """Standard deviation of the logarithm of a wall's leakage ratio, by its classes; where an edition has one class of it alone (floors of
    ashrae_1999) by those of one that has them all."""
    both = (WALL_LEAKAGE_RATIOS[one][wall] for one in (edition, *WALL_LEAKAGE_RATIOS))
    classes = next(ratios for ratios in both if {"tight", "loose"} <= set(ratios))
    return np.log(classes["loose"] / classes["tight"]) / CLASSES


def carries(readings, unknowns, left_out=()):
    """Refuse a day that cannot carry the factors; left_out: sentences about rounds that are not among its readings."""
    count = len(unknowns.kinds)
    if len(readings) < count:
        without = f"; {'; '.join(left_out)}" if left_out else ""
        raise NotSeparatedError(f"readings must be {count} at least, one for each factor; got {len(readings)}{without}")
    if not (readings.quantity == FLOW).any():
        raise NotSeparatedError(
            "readings must hold a flow of the fan: pressures alone tell how leaks stand to each other, not how large they are"
        )
    if not np.isin(readings.quantity, OVER_OUTDOORS).any():
        raise NotSeparatedError(
            "readings must hold floors or stair over outdoors: stair doors and outer walls lie one behind the other, and pressures "
            "across the doors alone do not tell which of the two leaks"
        )


def blade_shut(site):
    """The site with a relief damper that never lifts: in the rounds used it does not (see _lifted), on the way to the answer it might."""
    never = [{"opens_pa": 19000.0, "full_pa": 20000.0} for _ in site.stair.reliefs]
    return site.with_changes(stair={"relief": never[0], "more_reliefs": never[1:]}) if never else site


def read_of(readings, every):
    """The readings [points, readings] among all that could be read."""
    return every[:, readings.round, readings.quantity, readings.storey]


def slopes_of(tower, readings, unknowns, x):
    """How each reading moves with each unknown [readings, unknowns], all in one solution of the network."""
    steps = STEP * np.eye(len(x))
    ahead, behind = np.split(read_of(readings, computed_at(tower, readings, unknowns, np.concatenate([x + steps, x - steps]))), 2)
    return (ahead - behind).T / (2 * STEP)


def computed_at(tower, readings, unknowns, x):
    """All that could be read [points, rounds, quantities, storeys] at points x [points, unknowns]; a flow as the traverse shows it.

    Raises ValueError where some air has no answer.
    """
    every, answered = air_at(tower, readings, unknowns, x)
    if not answered.all():
        raise ValueError("readings must be of rounds whose air has an answer in the model; one has none")
    return every


def air_at(tower, readings, unknowns, x):
    """The same, and whether the air of every round that was read has an answer [points]."""
    conditions, traverse = unknowns.conditions(readings.conditions, x)
    air = tower.solve(conditions, np.tile(readings.speeds_hz, len(x)))
    every = every_quantity(air).reshape(len(x), len(readings.speeds_hz), -1, len(tower.levels))
    every[:, :, FLOW] *= traverse[:, None, None]
    every[:, :, :FLOW] *= unknowns.scales(x, readings)[:, None, None]
    return every, air.converged.reshape(len(x), -1)[:, np.unique(readings.round)].all(axis=1)
