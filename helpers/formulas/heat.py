"""Heat between air and thick walls: how a wall gives way over time, and how warm air is that runs along a shaft and leaks out of it.

A thick wall (Carslaw and Jaeger 1959, section 2.7; heat-transfer text-books print the same; from memory, not verified): a half-space at one
temperature, whose surface meets air of another one through a film. Only its effusivity e = sqrt(k rho c) counts, and the film.
Limits: one material, heat straight into the wall; it holds until the other side is felt, about d^2 / (4 alpha): some 55 minutes for 0.1 m
of concrete (half of a flight of 0.2 m that air meets on both sides).
"""

import numpy as np

from helpers import require
from helpers.formulas.air import HEAT_CAPACITY_AIR

STEP = 0.5  # of the sum below: wrong by exp(-(pi / STEP)^2), less than a double can tell
TERMS = STEP * np.arange(1, 15)  # beyond, exp(-t^2) is nothing
SMOOTH = 3.0  # of x: up to here so few points see all of the answer's bend
_POINTS, _SHARES = np.polynomial.legendre.leggauss(16)
NEAR = 1e-4  # below it two terms of the series are exact to 1e-12, and the sum would subtract like from like


def _still(given):
    """exp(x^2) erfc(x). Source of the sum: Matta and Reichel, Mathematics of Computation 25, 1971 (from memory, not verified)."""
    some = np.maximum(given, NEAR)[..., None]
    terms = np.exp(-(TERMS**2)) / (TERMS**2 + some**2)
    whole = STEP * some[..., 0] / np.pi * (1 / some[..., 0] ** 2 + 2 * terms.sum(axis=-1))
    inner = np.minimum(some[..., 0], np.pi / STEP)
    pole = np.where(some[..., 0] < np.pi / STEP, 2 * np.exp(inner**2) / np.expm1(2 * np.pi * inner / STEP), 0.0)
    return np.where(given < NEAR, 1 - 2 * given / np.sqrt(np.pi) + given**2, whole - pole)


def wall_coefficient(time_s, film_w_m2k, effusivity):
    """Heat that a thick wall gives to air, a square metre and a kelvin between the air and the wall as it was before the air stepped.

    time_s since the air stepped [s], film_w_m2k [W/(m2 K)], effusivity [J/(m2 K s^0.5)]; broadcast. Returns [W/(m2 K)]: the film's at
    first, less and less later. Equation: h exp(x^2) erfc(x), x = h sqrt(t) / e. Raises ValueError for values below zero, a wall without
    effusivity. Source: Carslaw and Jaeger 1959, section 2.7 (from memory, not verified). Limits: those of this file's head.

    >>> print(f"{wall_coefficient(0.0, 6.0, 1850.0):.2f} {wall_coefficient(3600.0, 6.0, 1850.0):.2f} W/(m2 K)")
    6.00 4.88 W/(m2 K)
    """
    time = require.at_least(0, time_s=time_s)
    return film_w_m2k * _still(require.at_least(0, film_w_m2k=film_w_m2k) * np.sqrt(time) / require.positive(effusivity=effusivity))


def mean_wall_coefficient(begin_s, end_s, film_w_m2k, effusivity):
    """Mean of wall_coefficient between two times: what a change of the air's temperature that came evenly between them asks of the wall.

    begin_s, end_s [s] before now, the first the lesser; the rest as wall_coefficient; broadcast. Returns [W/(m2 K)].
    Equation: (h / b) [F(end) - F(begin)] / (end - begin), F(t) = exp(b^2 t) erfc(b sqrt(t)) / b + 2 sqrt(t / pi), b = h / e (the integral
    of the step's answer; Duhamel); where that subtracts like from like, by Gauss's points in the root of time. Raises ValueError as
    wall_coefficient, and for an end that is not after its begin. Limits: the same.
    """
    begin, end = require.at_least(0, begin_s=begin_s), require.at_least(0, end_s=end_s)
    if np.any(end <= begin):
        raise ValueError("end_s must be above begin_s")
    slow = require.positive(film_w_m2k=film_w_m2k) / require.positive(effusivity=effusivity)

    def whole(time):
        return _still(slow * np.sqrt(time)) / slow + 2 * np.sqrt(time / np.pi)

    roots = np.sqrt(begin), np.sqrt(end)
    middle, half = (roots[1] + roots[0]) / 2, (roots[1] - roots[0]) / 2
    at = middle[..., None] + half[..., None] * _POINTS
    early = (2 * at * _still(np.asarray(slow)[..., None] * at) * _SHARES).sum(axis=-1) * half / (end - begin)
    late = (whole(end) - whole(begin)) / (end - begin) / slow
    return film_w_m2k * np.where(slow * roots[1] < SMOOTH, early, late)


def air_left(transfer_units, kept):
    """Air that runs along a wall and leaks out evenly on its way: what is left of its difference from the wall.

    transfer_units: conductance to the wall over the heat capacity flow that comes in, 0 or more; kept: share of the air that goes on at the
    end, 0 to 1; broadcast. Returns (at the end, mean over the way), shares of the difference at the start.
    Equation: m(z) cp dT/dz = -h P (T - Tw), m falling evenly: end = kept^(N / (1 - kept)), exp(-N) where nothing leaks; mean =
    (1 - kept end) / (N + 1 - kept), which is the balance of heat. Raises ValueError outside these bounds.
    Source: first-order heat balance, derived here. Limits: one wall temperature; no mixing along the way.

    >>> end, mean = air_left(2.7, 1.0)
    >>> print(f"{end:.3f} {mean:.3f}")
    0.067 0.345
    """
    units, kept = require.at_least(0, transfer_units=transfer_units), require.between(0, 1, kept=kept)
    lost = 1.0 - kept
    some = np.where(lost > 1e-9, lost, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.where(lost > 1e-9, np.log1p(-lost) / some, -1.0)  # tends to -1 where nothing leaks
        # Without any heat exchanged all of the difference is left, however much leaks.
        end = np.exp(np.where(units > 0, units * power, 0.0))
    both = units + lost
    mean = np.where(both > 1e-9, (1.0 - kept * end) / np.where(both > 1e-9, both, 1.0), 1.0 - units / 2)
    return end, mean


def shaft_temperatures(in_kg_s, in_c, up_kg_s, conductance_w_k, wall_c):
    """Air temperature on every storey of a shaft that air enters on some storeys, runs up and down in, and leaks out of.

    in_kg_s [storeys, ...] what enters a storey from outside the shaft [kg/s], at in_c [°C]; up_kg_s [storeys - 1, ...] what goes from each
    storey to the next, below zero downwards; conductance_w_k to the walls of each storey [W/K], at wall_c [°C]; all broadcast over what
    follows the storeys. What enters and does not go on leaks out. Returns [storeys, ...] in °C, the mean of each storey's air.
    Equation: on each storey the air that comes in mixes, then `air_left`. Raises ValueError for shapes that do not fit, flows or
    conductances below zero. Source: heat balance. Limits: no mixing between storeys but by the flow (cold air above warm sinks and mixes,
    which flattens the profile and hardly moves its mean); steady; air's own heat counted only through conductance_w_k.
    """
    enters, wall, brings = require.at_least(0, in_kg_s=in_kg_s), require.finite(wall_c=wall_c), require.finite(in_c=in_c)
    conductance = require.at_least(0, conductance_w_k=conductance_w_k)
    none_passes = (isinstance(up_kg_s, list | tuple) and not up_kg_s) or (isinstance(up_kg_s, np.ndarray) and not up_kg_s.size)
    up = np.zeros((0, *[1] * (enters.ndim - 1))) if none_passes else require.finite(up_kg_s=up_kg_s)
    if not enters.ndim or up.ndim != enters.ndim or len(up) != len(enters) - 1:
        count = len(enters) if enters.ndim else 0
        raise ValueError(f"up_kg_s must hold a flow between each two of {count} storeys, one or more, got the shape {up.shape}")
    storeys = len(enters)
    try:
        shape = np.broadcast_shapes(enters.shape, wall.shape, conductance.shape, (storeys, *up.shape[1:]), brings.shape)
    except ValueError:
        raise ValueError("in_kg_s, in_c, up_kg_s, conductance_w_k and wall_c must be of shapes that fit each other") from None
    if len(shape) != enters.ndim or shape[0] != storeys:
        raise ValueError(f"in_kg_s must have the storeys first and as many axes as the others, got the shape {enters.shape} beside {shape}")
    none = np.zeros((1, *shape[1:]))
    up = np.broadcast_to(up, (storeys - 1, *shape[1:]))
    from_below, from_above = (np.concatenate([none, np.maximum(up, 0)]), np.concatenate([np.maximum(-up, 0), none]))
    comes = enters + from_below + from_above
    goes = np.concatenate([np.maximum(up, 0), none]) + np.concatenate([none, np.maximum(-up, 0)])
    safe = np.maximum(comes, 1e-9)  # a milligram a second: still air takes the wall's temperature
    end, mean = air_left(conductance / (safe * HEAT_CAPACITY_AIR), np.minimum(goes / safe, 1.0))
    excess = enters * (brings - wall)  # differences from the storey's own wall, times flow
    leaves = np.empty(shape)
    total, wall = np.array(np.broadcast_to(excess, shape)), np.broadcast_to(wall, shape)
    for i in range(storeys):  # air that goes up comes only from below
        if i:
            total[i] += from_below[i] * (leaves[i - 1] - wall[i])
        leaves[i] = wall[i] + end[i] * total[i] / safe[i]
    for i in range(storeys - 1, -1, -1):  # and air that goes down only from above
        if i < storeys - 1:
            total[i] += from_above[i] * (leaves[i + 1] - wall[i])
        leaves[i] = wall[i] + end[i] * total[i] / safe[i]
    return wall + mean * total / safe
