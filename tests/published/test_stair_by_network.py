"""The published 20-storey stair by the air network, with the hand method's assumptions put in one by one.

Source: ASHRAE Handbook, HVAC Applications, fire and smoke chapter, stairwell example, 1999 to 2007 (memory): storeys 10.8 ft, facade
6030 ft2 a floor at 0.21e-3, stair wall 560 ft2 a floor at 0.11e-3, door gap 0.26 ft2, 14 degF outside, 70 degF inside, 0.080 in. at the
bottom: top 0.425 in., about 8200 cfm (8258 from unrounded areas).
"""

import numpy as np
import pytest

from helpers.formulas import air, leakage
from helpers.model.air.fan import FanCurve
from helpers.model.air.laws import FanShare, Leak
from helpers.model.air.network import at_ratio, solve
from helpers.model.air.spaces import Network, OnStorey, Outside, Upward
from helpers.units import parse

STOREYS, HEIGHT_M = 20, parse("10.8 ft", "length")
OUTSIDE_C, INSIDE_C = parse("14 °F", "temperature"), parse("70 °F", "temperature")
STAIR_M2 = 560 * 0.11e-3 * 0.09290304 + 0.26 * 0.09290304
FACADE_M2 = 6030 * 0.21e-3 * 0.09290304
INCH_PA, CFM = 249.0889, 0.0004719474


def _stair(shaft_m2):
    """Hand method's assumptions: standard density in every leak, square-root law, no slab leaks, no wind; shaft free if large."""
    leak = [float(leakage.flow_coefficient(area)) * 1.2 for area in (STAIR_M2, FACADE_M2, shaft_m2)]
    lift = float(air.stack_gradient(OUTSIDE_C, INSIDE_C)) * HEIGHT_M
    curve = FanCurve.from_points([0, 4, 8], [400, 300, 100])
    openings = [
        OnStorey(0, 1, Leak(np.full((STOREYS, 1), leak[0]))),
        Outside(1, Leak(np.full((STOREYS, 1), leak[1])), np.zeros((1, 1))),
        Upward(0, Leak(np.full((STOREYS - 1, 1), leak[2])), np.full((STOREYS - 1, 1), lift)),
        Outside(0, FanShare(curve, 1.0, 1.0, np.full((1, 1), 0.5), np.full((1, 1), 1.2)), np.zeros((1, 1)), 0, 1),
    ]
    return Network(2, STOREYS, 1, openings)


def _at_bottom(network, bottom_pa):
    """Air and top pressure when the difference across the bottom of the bottom storey is `bottom_pa` (found by halving the speed)."""
    low, high = 0.05, 2.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        found = solve(at_ratio(network, np.array([middle])))
        across = (found.pressure[0] - found.pressure[1])[:, 0]
        half_storey = 0.5 * (across[1] - across[0])
        low, high = (middle, high) if across[0] - half_storey < bottom_pa else (low, middle)
    fan = network.openings[-1]
    law = at_ratio(network, np.array([middle])).openings[-1].law
    return law.volume_flow(fan.difference(found.pressure))[0, 0], across[-1] + half_storey


def test_the_network_finds_the_published_stair():
    flow, top = _at_bottom(_stair(shaft_m2=1e4), 0.080 * INCH_PA)
    assert top / INCH_PA == pytest.approx(0.425, abs=0.0025)  # source rounds B to 0.0017 in./ft: 0.4 % of the rise
    assert flow / CFM == pytest.approx(8258, rel=0.005)
    assert flow / CFM == pytest.approx(8200, rel=0.01)  # printed, from rounded areas


def test_network_and_hand_formula_agree_within_one_percent_when_their_assumptions_do():
    bottom = 0.080 * INCH_PA
    flow, top = _at_bottom(_stair(shaft_m2=1e4), bottom)
    gradient = air.stack_gradient(OUTSIDE_C, INSIDE_C)
    hand_top = leakage.stair_top_pressure(bottom, STOREYS * HEIGHT_M, gradient, STAIR_M2, FACADE_M2)
    hand_flow = leakage.stair_supply_flow(STOREYS, STAIR_M2, bottom, hand_top)
    assert top == pytest.approx(hand_top, rel=0.002)
    assert flow == pytest.approx(hand_flow, rel=0.002)


def test_shaft_friction_that_the_hand_method_leaves_out_shows_as_a_lower_top():
    _, free_top = _at_bottom(_stair(shaft_m2=1e4), 0.080 * INCH_PA)
    _, rough_top = _at_bottom(_stair(shaft_m2=3.0), 0.080 * INCH_PA)
    assert rough_top < free_top - 1.0
