"""Towers for measuring and testing the air network: ordinary ones, and wild ones that no architect would draw."""

import numpy as np

from helpers.model.air.fan import FanCurve
from helpers.model.air.laws import FanShare, Leak, ReliefBlade
from helpers.model.air.spaces import Network, OnStorey, Outside, Upward

STAIR, FLOOR, LOBBY = 0, 1, 2
PER_AREA = 0.65 * np.sqrt(2 * 1.2)  # kg/(s m2 Pa^0.5): an orifice of one square metre in standard air
CURVE = FanCurve.from_points([0, 4, 8, 11, 14, 16], [620, 600, 545, 450, 290, 140])


def ordinary(storeys=40, conditions=2000, seed=1, wall_exponent=0.5):
    """A pressurised stair under drawn weather, wind, leaks, doors and fan speeds; two unknown pressures a storey.

    wall_exponent: 0.5 is the orifice law of NFPA 92 and the ASHRAE fire and smoke chapter; 0.65 what walls measure.
    """
    rng = np.random.default_rng(seed)
    outdoor = rng.uniform(-35, 45, conditions)
    height = 3.0 * (np.arange(storeys)[:, None] + 0.5)
    wind = 0.6 * rng.uniform(0, 15, conditions) ** 2 * rng.uniform(-0.5, 0.7, conditions) * (height / 10) ** 0.44
    door = np.where(rng.random((storeys, conditions)) < 1 / storeys, 1.6, 0.03 * rng.uniform(0.5, 2, (storeys, conditions)))
    facade = 0.08 * rng.uniform(0.5, 2, (storeys, conditions)) * 75 ** (0.5 - wall_exponent)
    openings = [
        OnStorey(STAIR, FLOOR, Leak(PER_AREA * door)),
        Outside(FLOOR, Leak(PER_AREA * facade, wall_exponent), wind),
        _fan(rng.uniform(0.5, 1.0, conditions), 1.2, storeys - 1),
    ]
    if storeys > 1:
        openings.append(Upward(STAIR, Leak(np.full((storeys - 1, 1), PER_AREA * 4.0)), _stack(outdoor, 20.0, storeys)))
    return Network(2, storeys, conditions, openings)


def wild(storeys, conditions, seed):
    """Leaks over six decades, any door open or shut, wind to 30 m/s, -35 to 45 degC, fans from none to ten times the duty."""
    rng = np.random.default_rng(seed)
    outdoor = rng.uniform(-35, 45, conditions)
    height = 3.0 * (np.arange(storeys)[:, None] + 0.5)
    wind = 0.6 * rng.uniform(0, 30, conditions) ** 2 * rng.choice([0.7, 0.6, -0.3, -0.65], conditions) * (height / 10) ** 0.3
    lobby = bool(rng.random() < 0.3)
    shape = (storeys, conditions)
    openings = [
        OnStorey(STAIR, LOBBY if lobby else FLOOR, Leak(PER_AREA * _doors(rng, shape))),
        Outside(FLOOR, Leak(PER_AREA * _decades(rng, shape), rng.choice([0.5, 0.6, 0.65, 1.0])), wind),
        OnStorey(STAIR, FLOOR, Leak(PER_AREA * _decades(rng, shape), 0.65)),
        # Speed ratios up to 3.2: ten times the pressure of the ordinary tower's fan; one in twenty stands still.
        _fan(rng.uniform(0, 3.2, conditions) * (rng.random(conditions) > 0.05), 1.2, rng.integers(storeys)),
    ]
    if lobby:
        openings.append(OnStorey(LOBBY, FLOOR, Leak(PER_AREA * _doors(rng, shape))))
    if rng.random() < 0.3:
        openings.append(_relief(rng, storeys))
    if storeys > 1:
        shaft = np.broadcast_to(PER_AREA * 10 ** rng.uniform(-1, 1, (1, conditions)), (storeys - 1, conditions))
        openings.append(Upward(STAIR, Leak(shaft), _stack(outdoor, rng.uniform(10, 25), storeys)))
        if rng.random() < 0.3:
            slabs = PER_AREA * _decades(rng, (storeys - 1, conditions))
            openings.append(Upward(FLOOR, Leak(slabs, 0.6), _stack(outdoor, 21.0, storeys)))
    return Network(3 if lobby else 2, storeys, conditions, openings)


def _decades(rng, shape):
    return 10 ** rng.uniform(-6, 0, shape)


def _doors(rng, shape):
    return np.where(rng.random(shape) < rng.uniform(0, 0.5, shape[1]), 1.6, _decades(rng, shape))


def _fan(ratio, density, storey):
    law = FanShare(CURVE, 1.0, 1.0, ratio[None, :], np.full((1, ratio.size), density))
    return Outside(STAIR, law, np.zeros((1, ratio.size)), int(storey), int(storey) + 1)


def _relief(rng, storeys):
    i = int(rng.integers(storeys))
    law = ReliefBlade(PER_AREA * 0.005, PER_AREA * 10 ** rng.uniform(-1, 0.5), 40.0, 60.0, np.ones((1, 1)))
    return Outside(STAIR, law, np.zeros((1, 1)), i, i + 1)


def _stack(outdoor_c, indoor_c, storeys):
    lift = 9.80665 * 3.0 * 353.05 * (1 / (outdoor_c + 273.15) - 1 / (indoor_c + 273.15))
    return np.broadcast_to(lift, (storeys - 1, outdoor_c.size)).copy()
