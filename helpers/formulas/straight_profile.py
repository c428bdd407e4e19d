"""Pressures over the height of a stair where they run in a straight line: a first view of what stack effect does to the doors."""

from helpers.formulas import require


def pressure_at(height_m, reading_pa, reading_height_m, gradient_pa_m):
    """Pressure across a door where the profile is a straight line through a reading.

    height_m of the door, reading_pa at reading_height_m, gradient_pa_m (above zero: more pressure higher up, as in winter); broadcast.
    Returns [Pa]. Equation: reading + gradient (height - reading height). Raises ValueError for anything not finite. Source: stack effect
    of even temperatures, ASHRAE Fundamentals 2021 ch. 16 (memory). Limits: doors shut, the same leaks on all storeys, no friction in the
    stair, no wind; an open door bends the profile.

    >>> print(f"{pressure_at(38.0, 40.0, 20.0, 0.8):.1f} Pa")
    54.4 Pa
    """
    above = require.finite(height_m=height_m) - require.finite(reading_height_m=reading_height_m)
    return require.finite(reading_pa=reading_pa) + require.finite(gradient_pa_m=gradient_pa_m) * above
