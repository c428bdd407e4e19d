"""Fans: a curve from points, similarity laws, power, the least speed that can hold a pressure, motor speed, how quickly a wheel may slow.

A curve is points of flow [m3/s] and pressure [Pa] at one reference speed and density, from shut-off (flow 0) on, flow strictly rising and
pressure strictly falling. A fan whose pressure dips near shut-off (many forward-curved ones) is refused: it has two flows for one pressure.
`speed_ratio` is speed over reference speed.

The air takes power as the cube of the speed (similarity laws), so that a wheel which the air alone brakes slows as 1 / (1 + t / tau).
"""

import numpy as np

from helpers import require

LEAST_END_STEEPNESS = 0.01  # ours: an end of the curve falls at least at this share of its last chord, so that the inverse stays tame
_STEPS = 80  # more than the 53 halvings that a double can need


def check_curve(flows_m3_s, pressures_pa):
    """Give a fan curve back as two float arrays, or say what is wrong with it.

    flows_m3_s (n,) [m3/s], pressures_pa (n,) [Pa]. Returns (flows, pressures). Raises ValueError for fewer than two points, a first flow
    that is not 0, flows that do not rise, pressures that do not fall. Source: AMCA 210 gives such points (memory). Limits: fans that fall
    from shut-off on; see the head of this file.
    """
    flows, pressures = require.same_length(flows_m3_s=flows_m3_s, pressures_pa=pressures_pa)
    if flows.size < 2 or flows[0] != 0:
        raise ValueError(f"flows_m3_s must hold two or more points, the first at flow 0 (shut-off), got {flows.size} from {flows[0]:g}")
    _strict("flows_m3_s must rise from point to point", flows, np.diff(flows) < require.LEAST)
    _strict("pressures_pa must fall from point to point", pressures, np.diff(pressures) >= 0)
    return flows, pressures


def curve_slopes(flows_m3_s, pressures_pa):
    """Slopes of the monotone cubic at the points of a fan curve.

    flows_m3_s (n,) [m3/s], pressures_pa (n,) [Pa]. Returns (n,) [Pa s/m3], all below zero. Equation, inner points: weighted harmonic mean
    of the chords on both sides; ends: three-point parabola, no flatter than LEAST_END_STEEPNESS times the end chord. Raises ValueError as
    check_curve. Source: Fritsch and Carlson 1980; Fritsch and Butland 1984 (memory). Limits: as check_curve.
    """
    flows, pressures = check_curve(flows_m3_s, pressures_pa)
    step = np.diff(flows)
    chord = np.diff(pressures) / step
    if chord.size == 1:
        return np.repeat(chord, 2)
    before, after = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    inner = (before + after) / (before / chord[:-1] + after / chord[1:])
    ends = [_end_slope(step[0], step[1], chord[0], chord[1]), _end_slope(step[-1], step[-2], chord[-1], chord[-2])]
    return np.concatenate([ends[:1], inner, ends[1:]])


def pressure_at_flow(flow_m3_s, flows, pressures, speed_ratio=1, beyond="refuse"):
    """Pressure a fan makes at a flow and speed.

    flow_m3_s [m3/s], speed_ratio [-]; broadcast. flows (n,) [m3/s], pressures (n,) [Pa] the curve at reference speed. beyond: "refuse" a
    flow off the curve, or "extend" it straight on at the end's slope (for solvers; no claim about a real fan). Returns [Pa].
    Equation: p = s^2 f(Q/s), f the monotone cubic. Raises ValueError for a bad curve, a speed that is not positive, a flow off the curve.
    Source: fan similarity, AMCA 201 (memory); Fritsch and Carlson 1980 (memory). Limits: one density, speeds near the tested one.

    >>> curve = [0, 2, 4], [500, 400, 100]
    >>> print(f"{pressure_at_flow(2.0, *curve):.0f} Pa, at half speed {pressure_at_flow(1.0, *curve, 0.5):.0f} Pa")
    400 Pa, at half speed 100 Pa
    """
    s = require.positive(speed_ratio=speed_ratio)
    # value of the monotone cubic at reference speed, straight on beyond its ends
    flow = require.finite(flow_m3_s=flow_m3_s) / s
    x, y = check_curve(flows, pressures)
    d = curve_slopes(x, y)
    _refuse_beyond(beyond, "flow_m3_s", flow, x[0], x[-1])
    inside = np.clip(flow, x[0], x[-1])
    i = np.clip(np.searchsorted(x, inside, side="right") - 1, 0, x.size - 2)
    h, rise, t = x[i + 1] - x[i], y[i + 1] - y[i], (inside - x[i]) / (x[i + 1] - x[i])
    value = y[i] + t * (rise + (1 - t) * ((h * d[i] - rise) * (1 - t) + (rise - h * d[i + 1]) * t))
    return s**2 * (value + np.where(flow < x[0], d[0], d[-1]) * (flow - inside))


def speed_for_duty(flow_m3_s, pressure_pa, flows, pressures):
    """Speed ratio at which a fan gives a flow against a pressure.

    flow_m3_s [m3/s], pressure_pa [Pa], none below 0; broadcast. flows, pressures the curve at reference speed. Returns [-], 0 where
    nothing is asked. Equation: s^2 f(Q/s) = p, s found between two speeds. Raises ValueError for a bad curve, a flow or pressure below 0.
    Source: fan similarity, AMCA 201 (memory). Limits: as pressure_at_flow; past the curve's end it runs straight on, no claim about a fan.

    >>> print(f"{speed_for_duty(1.0, 100.0, [0, 2, 4], [500, 400, 100]):.2f}")
    0.50
    """
    flow, target = np.broadcast_arrays(require.at_least(0, flow_m3_s=flow_m3_s), require.at_least(0, pressure_pa=pressure_pa))
    x, y = check_curve(flows, pressures)
    low = np.zeros(flow.shape)
    high = np.maximum(flow / x[-1], np.sqrt(target / y[0])) + 1e-9
    for _ in range(_STEPS):
        if np.all(enough := pressure_at_flow(flow, x, y, high, beyond="extend") >= target):
            break
        high = np.where(enough, high, 2 * high)
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        enough = pressure_at_flow(flow, x, y, np.maximum(middle, 1e-12), beyond="extend") >= target
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return np.where((flow > 0) | (target > 0), high, 0.0)


def lowest_speed_for(pressure_pa, shutoff_pressure_pa):
    """Speed ratio at which a fan only just reaches a pressure, with no flow; any slower and the pressure is out of reach.

    pressure_pa [Pa], shutoff_pressure_pa at reference speed [Pa]; broadcast. Returns [-], may be above 1: the fan is too small.
    Equation: sqrt(p / p_max). Raises ValueError for a negative pressure or a shut-off pressure that is not positive.
    Source: fan similarity, AMCA 201 (memory). Limits: duct loss and any flow at all ask for more; curves highest at shut-off.

    >>> print(f"{lowest_speed_for(50.0, 200.0):.2f}")
    0.50
    """
    return np.sqrt(require.at_least(0, pressure_pa=pressure_pa) / require.positive(shutoff_pressure_pa=shutoff_pressure_pa))


def power_at_speed(power_w, speed_ratio, density_ratio=1):
    """Shaft power of the same duty point at another speed and density: P s^3 r.

    power_w [W], speed_ratio, density_ratio [-]; broadcast. Returns [W]. Raises ValueError for a negative speed or power, or a density ratio
    that is not positive. Source: fan similarity, AMCA 201 (memory). Limits: same fan; a system whose pressure follows the flow squared; a
    set point or a stack pressure does not: then use the curve. Belt, bearing, motor and drive losses fall more slowly.

    >>> print(f"{power_at_speed(100.0, 0.8):.1f} W")
    51.2 W
    """
    cubed = require.at_least(0, speed_ratio=speed_ratio) ** 3
    return require.at_least(0, power_w=power_w) * cubed * require.positive(density_ratio=density_ratio)


def air_power_w(flow_m3_s, pressure_pa):
    """Power a fan gives to the air.

    flow_m3_s [m3/s], pressure_pa fan total pressure [Pa]; broadcast. Returns [W]. Equation: Q p.
    Raises ValueError for anything not finite. Source: AMCA 210 (memory). Limits: incompressible, below about 2.5 kPa.
    """
    return require.finite(flow_m3_s=flow_m3_s) * require.finite(pressure_pa=pressure_pa)


def shaft_power_w(flow_m3_s, pressure_pa, efficiency):
    """Power at the fan's shaft.

    flow_m3_s [m3/s], pressure_pa [Pa], efficiency of the fan [-] from 0.01 to 1; broadcast. Returns [W]. Equation: Q p / eta.
    Raises ValueError for an efficiency outside that. Source: AMCA 210 (memory).
    Limits: total pressure with total efficiency, static with static.
    """
    return air_power_w(flow_m3_s, pressure_pa) / require.between(0.01, 1, efficiency=efficiency)


def _strict(rule, values, wrong):
    if np.any(wrong):
        at = int(np.argmax(wrong))
        raise ValueError(f"{rule}, got {values[at]:g} then {values[at + 1]:g}")


def _end_slope(near_step, next_step, near_chord, next_chord):
    parabola = ((2 * near_step + next_step) * near_chord - near_step * next_chord) / (near_step + next_step)
    return min(parabola, LEAST_END_STEEPNESS * near_chord)


def _refuse_beyond(beyond, name, values, low, high):
    """Only slips of rounding at the curve's ends pass: a product divided again by the speed ratio may land one digit outside."""
    slack = 1e-9 * (high - low)
    if require.one_of(("refuse", "extend"), beyond=beyond) == "refuse":
        wrong = (values < low - slack) | (values > high + slack)
        if np.any(wrong):
            got = f"from {low:g} to {high:g} at reference speed, got {values[wrong].flat[0]:g}"
            raise ValueError(f"{name} must be on the fan curve, {got}")


SLIP = 1 / 30  # of a loaded induction motor: 1450 rpm of 1500; common practice, no source


def angular_speed(frequency_hz, motor_poles, slip=SLIP):
    """Speed of an induction motor's shaft.

    frequency_hz of the drive [Hz], motor_poles (2, 4, 6 ...), slip [-]; broadcast. Returns [rad/s].
    Equation: 4 pi f (1 - slip) / poles. Source: any textbook of electrical machines; from memory, not verified.
    Limits: slip taken as the same part at every speed.
    Raises ValueError for a frequency below zero, fewer than two poles, slip beyond 0 to 1.

    >>> print(f"{angular_speed(50.0, 4) * 60 / (2 * 3.14159265):.0f} rpm")
    1450 rpm
    """
    frequency, poles = require.at_least(0, frequency_hz=frequency_hz), require.at_least(2, motor_poles=motor_poles)
    return 4 * np.pi * frequency * (1 - require.between(0, 1, slip=slip)) / poles


def kinetic_energy(inertia_kg_m2, speed_rad_s, to_speed_rad_s=0.0):
    """Energy that a wheel gives back when it slows from one speed to another.

    inertia_kg_m2 at the motor's speed (through belts: inertia times the square of the ratio) [kg m2], speeds [rad/s]; broadcast.
    Returns [J], below zero where it speeds up. Equation: J (w1^2 - w2^2) / 2. Raises ValueError for an inertia that is not positive.

    >>> fast, slow = angular_speed(50.0, 4), angular_speed(24.0, 4)
    >>> print(f"{kinetic_energy(1.5, fast, slow) / 1000:.1f} kJ")
    13.3 kJ
    """
    inertia = require.positive(inertia_kg_m2=inertia_kg_m2)
    speed, to_speed = require.at_least(0, speed_rad_s=speed_rad_s), require.at_least(0, to_speed_rad_s=to_speed_rad_s)
    return require.finite(energy_j=inertia / 2 * (speed**2 - to_speed**2))


def coasting_time_constant(inertia_kg_m2, speed_rad_s, shaft_power_w):
    """Time in which a coasting wheel falls to half of its speed.

    inertia_kg_m2 [kg m2], speed_rad_s at the start [rad/s], shaft_power_w that the air takes at that speed [W]; broadcast. Returns [s].
    Equation: tau = J w0^2 / P0, from J w dw/dt = -P0 (w/w0)^3. Raises ValueError for what is not positive.
    Limits: a power that goes with the cube of the speed (dampers and set pressures change that); friction and the motor's losses, which
    slow the wheel as well, left out: a real wheel stops sooner.

    >>> print(f"{coasting_time_constant(1.5, angular_speed(50.0, 4), 3700.0):.1f} s")
    9.3 s
    """
    inertia, speed = require.positive(inertia_kg_m2=inertia_kg_m2), require.positive(speed_rad_s=speed_rad_s)
    return require.finite(tau_s=inertia * speed**2 / require.positive(shaft_power_w=shaft_power_w))


def shortest_ramp_down(inertia_kg_m2, speeds_rad_s, taken_w, reference_rad_s):
    """Shortest straight ramp from the reference speed to standstill at which the wheel gives nothing back that has to go anywhere.

    inertia_kg_m2 [kg m2], one or [...]; speeds_rad_s (n,) that the ramp passes [rad/s]; taken_w (n,) or (..., n): what air and losses
    take at each of them [W]; reference_rad_s [rad/s]. Returns [s], one or [...]; inf where nothing is taken.
    Equation: the largest of J w w_ref / P(w). At the slow end the air takes least, and the ramp is decided there.
    Raises ValueError for an inertia, speed or reference that is not positive, a power below zero.
    Limits: what a brake resistor, or the motor made to waste it, could take is not in it.

    >>> import numpy as np
    >>> speeds = angular_speed(np.array([50.0, 40.0, 24.0]), 4)
    >>> print(f"{float(shortest_ramp_down(1.5, speeds, 3700.0 * (speeds / speeds[0]) ** 3, speeds[0])):.0f} s")
    41 s
    """
    inertia, speeds = require.positive(inertia_kg_m2=inertia_kg_m2), require.positive(speeds_rad_s=speeds_rad_s)
    taken, reference = require.at_least(0, taken_w=taken_w), require.positive(reference_rad_s=reference_rad_s)
    with np.errstate(divide="ignore"):
        return (inertia[..., None] * speeds * reference / taken).max(axis=-1)


def shortest_run_up(inertia_kg_m2, speed_rad_s, fan_torque_nm, motor_torque_nm):
    """Shortest time in which a motor that always gives its most brings a wheel from standstill to a speed.

    inertia_kg_m2 [kg m2], speed_rad_s to reach [rad/s], fan_torque_nm that the air takes there, motor_torque_nm that the motor gives all
    the way [N m]; broadcast. Returns [s]; inf where the motor gives no more than the air takes.
    Equation: J dw/dt = M - M_air (w / w1)^2, so t = J w1 / M artanh(r) / r with r^2 = M_air / M. Raises ValueError for what is not
    positive. Source: Newton's second law; integral from memory, checked in the tests by integration. Limits: a torque of the air that goes
    with the square of the speed; bearings left out.

    >>> w = angular_speed(50.0, 4)
    >>> print(f"{shortest_run_up(1.5, w, 24.0, 54.0):.1f} s")
    5.1 s
    """
    air, motor = require.positive(fan_torque_nm=fan_torque_nm), require.positive(motor_torque_nm=motor_torque_nm)
    inertia, speed = require.positive(inertia_kg_m2=inertia_kg_m2), require.positive(speed_rad_s=speed_rad_s)
    root = np.sqrt(np.minimum(air / motor, 1.0))
    with np.errstate(divide="ignore"):
        return inertia * speed / motor * np.arctanh(root) / root


def shaft_torque(power_w, speed_rad_s):
    """Torque at a shaft.

    power_w [W], speed_rad_s [rad/s]; broadcast. Returns [N m]. Equation: P / w. Raises ValueError for a speed that is not positive.
    Source: definition of power. Limits: none; losses between motor and fan are left out.

    >>> print(f"{shaft_torque(3700.0, angular_speed(50.0, 4)):.1f} N m")
    24.4 N m
    """
    return require.finite(power_w=power_w) / require.positive(speed_rad_s=speed_rad_s)


def motor_current_share(torque_share, magnetising_share, field_share=1.0):
    """Current of an induction motor as a share of its plate's.

    torque_share: of the rated torque; magnetising_share: of the plate's current that it takes without load, from 0 to below 1; field_share:
    of its rated field, 1 up to the speed of its plate and base speed over speed above it; broadcast. Returns [-].
    Equation: sqrt((m f)^2 + (1 - m^2) (t / f)^2): the part that makes the field and the part that makes the torque stand at right angles.
    Source: any textbook of electrical machines; from memory, not verified. Raises ValueError for shares outside their ranges.
    Limits: steady, sinusoidal; iron saturates and slip changes with load, which are left out; a drive's ripple adds some.

    >>> print(f"{motor_current_share(1.0, 0.4):.2f}, half loaded {motor_current_share(0.5, 0.4):.2f}")
    1.00, half loaded 0.61
    """
    torque = require.at_least(0, torque_share=torque_share)
    magnetising, field = require.between(0, 0.99, magnetising_share=magnetising_share), require.between(0.01, 1, field_share=field_share)
    return np.sqrt((magnetising * field) ** 2 + (1 - magnetising**2) * (torque / field) ** 2)
