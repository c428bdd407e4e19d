"""Random arguments for the public formulas: sensible ones, extreme ones, and what was never meant to be an argument at all."""

import inspect
import pkgutil
from decimal import Decimal
from fractions import Fraction
from functools import partial
from importlib import import_module

import numpy as np

from helpers import formulas
from helpers.formulas import action, air, combining, leakage, signals, uncertainty
from helpers.formulas.tuning import LeastMargins, Settings, controller_response, frequency_response

# These check nothing, and say so: they are called with what others have checked. They get numbers within their limits only.
UNCHECKED = {"kernels"}

EXTREME = (
    0.0, -0.0, 5e-324, 2.2e-308, 1e-300, 1e-160, 1e-100, 1e-30, 1e-16, 1e-9, 0.1, 1.0, 1 + 1e-15, 1e9, 1e15, 1e16, 1e30, 1e100, 1e155,
    1e300,
    1.7976931348623157e308, 2**53 + 1, 10**18, 10**300, np.float32(3.4e38), np.int64(2**63 - 1), np.uint8(255), np.float16(6e4), True,
    Decimal("1e20"), Fraction(1, 3),
)  # fmt: skip


class _Odd:
    """An object of nobody's."""

    def __repr__(self):
        return "odd"


HOSTILE = (
    None, float("nan"), float("inf"), float("-inf"), "12", "", b"1", "nan", "\0", "\u202e75", "9" * 5000, [], {}, (), object(), _Odd(), 1j,
    10**400, -(10**400), 10**5000, [1, [2, 3]], ["1", "2"], [None], [float("nan"), 1.0], [10**400], np.array([]), np.array("x"),
    np.array([1j]),
    np.datetime64("2026-01-01"), np.array(["2026-01-01"], dtype="datetime64[D]"), np.array([None]), {1.0}, range(0), iter([1.0]),
    b"\xff" * 90,
    np.ma.masked, np.float64("nan"), Decimal("NaN"), Decimal("1e999"), Ellipsis, NotImplemented, {"a": 1}, [[]], [object()], np.zeros((0,
    3)),
)  # fmt: skip

TEXTS = {
    "action": action.ACTIONS,
    "beyond": ("refuse", "extend"),
    "edition": tuple(leakage.WALL_LEAKAGE_RATIOS),
    "element": ("exterior_wall", "stair_wall", "lift_shaft_wall", "floor"),
    "entered_signal": tuple(signals.SIGNALS),
    "rule": combining.RULES,
    "shape": tuple(uncertainty.SHAPES),
    "signal": tuple(signals.SIGNALS),
    "table": tuple(air.FACE_COEFFICIENTS),
    "terrain": tuple(air.TERRAINS),
    "terrain_met": tuple(air.TERRAINS),
    "tightness": ("tight", "average", "loose", "very_loose"),
}
SHARES = {
    "confidence", "discharge_coefficient", "flow_coefficient", "efficiency", "neutral_share", "pressure_coefficient", "share", "door_share",
}  # fmt: skip
ROWS = {"areas_m2", "contributions", "lags_s", "outputs", "readings", "leads_s", "weights"}
RISING = {"change_times_s", "flows", "flows_m3_s"}
FALLING = {"pressures", "pressures_pa"}
WHOLE = {"bits": (1, 32), "count": (1, 40), "trials": (1, 300), "successes": (0, 300)}
FIELDS = ("gain", "integral_s", "derivative_s")

# Names that a refusal may use besides the function's own: what it works out from them, or what they are called one formula beneath.
BENEATH = {
    "air": ("density_ambient_kg_m3", "density_duct_kg_m3", "pressure_pa"),
    "fan": ("flows_m3_s", "pressures_pa", "energy_j"),
    "frequency": ("frequency_rad_s", "integral_s", "derivative_s"),
    "require": ("area_m2", "other_m2"),
    "signals": ("signal_value", "current_ma", "voltage_v"),
}


def public_functions():
    """(module, name, function) of every public formula."""
    for found in pkgutil.iter_modules(formulas.__path__):
        module = import_module(f"helpers.formulas.{found.name}")
        for name, function in list(vars(module).items()):
            if inspect.isfunction(function) and function.__module__ == module.__name__ and not name.startswith("_"):
                yield found.name, name, function


class Maker:
    """Makes argument sets for one function out of a `random.Random`."""

    def __init__(self, module, name, function, rng):
        self.module, self.name, self.rng = module, name, rng
        self.parameters = [p for p in inspect.signature(function).parameters.values() if p.kind is not p.VAR_KEYWORD]
        self.length = 3

    def one(self):
        """Keyword arguments of one call."""
        rng = self.rng
        self.length = rng.choice((2, 3, 3, 4, 12)) if self.name != "fit_first_order_delay" else 24
        wild = rng.random()
        kept = [p for p in self.parameters if p.default is p.empty or rng.random() < 0.6]
        given = {p.name: self.sensible(p.name) for p in kept}
        names = list(given)
        if self.module in UNCHECKED or not names:
            return self.for_require(given) if self.module == "require" else given
        if wild > 0.9:
            given = {name: rng.choice((self.extreme, self.hostile, self.sensible))(name) for name in names}
        elif wild > 0.7:
            given[rng.choice(names)] = self.hostile(None)
        elif wild > 0.5:
            given = {name: self.extreme(name) for name in names}
        elif wild > 0.3:
            name = rng.choice(names)
            given[name] = self.extreme(name)
        if self.module == "require":
            return self.for_require(given)
        return given

    def for_require(self, given):
        """A refusal takes one argument under its own name, or several of one length."""
        given = {
            name: value for name, value in given.items() if name in ("limit", "low", "high", "choices")
        }  # of the refusal itself: numbers
        given |= {"limit": 0.0} if "limit" in given else {}
        given |= {"low": -1.0, "high": 1.0} if "low" in given else {}
        given |= {"choices": ("a", "b")} if "choices" in given else {}
        if self.name == "axis_of":
            return {"array": np.ones((2, 3)), "axis": self.rng.choice((0, 1, -1, self.hostile(None), self.extreme("axis")))}
        if self.name == "of_kind":
            return {"kind": "function", "area_m2": self.hostile(None)}
        values = {"area_m2": self.rng.choice((self.number, lambda: self.extreme("x"), lambda: self.hostile(None), lambda: "a"))()}
        return given | values | ({"other_m2": self.number()} if self.name == "same_length" else {})

    def sensible(self, name):
        """An argument as the trade has it."""
        rng = self.rng
        if name in TEXTS:
            return rng.choice(TEXTS[name])
        if name in SHARES:
            return rng.random()
        if name == "exponent":
            return rng.choice((0.5, 1.0, 0.5 + rng.random() / 2))
        if name in WHOLE:
            return rng.randint(*WHOLE[name])
        if name.startswith("temp_"):
            return rng.uniform(-60, 1000)
        if name in ROWS:
            return [abs(self.number()) for _ in range(self.length)]
        if name in RISING or (name == "time_s" and self.name == "fit_first_order_delay"):
            return self.rising()
        if name in FALLING:
            return sorted((abs(self.number()) for _ in range(self.length)), reverse=True)
        special = getattr(self, f"_{name}", None)
        return special() if special else self.number()

    def number(self):
        """A number of everyday size, above zero more often than below."""
        rng = self.rng
        size = rng.choice((10 ** rng.uniform(-3, 4), rng.uniform(0, 2), float(rng.randint(0, 60))))
        return -size if rng.random() < 0.15 else size

    def extreme(self, name):
        """A number that is one, but which nobody enters."""
        rng = self.rng
        if name in TEXTS:
            return self.sensible(name)
        value = rng.choice(EXTREME)
        value = -value if rng.random() < 0.2 and not isinstance(value, (bool, np.unsignedinteger)) else value
        if name in ROWS | RISING | FALLING:
            return [rng.choice((value, self.number(), rng.choice(EXTREME))) for _ in range(self.length)]
        if name == "settings":
            kept = self.sensible(name)
            return kept._replace(**{rng.choice(kept._fields[:2]): value}) if isinstance(kept, tuple) else kept
        return value

    def hostile(self, name):
        """What is no such argument."""
        return self.rng.choice(HOSTILE)

    def rising(self):
        """Numbers that rise from 0."""
        steps = [0.0] + [abs(self.number()) + 1e-3 for _ in range(self.length - 1)]
        return list(np.cumsum(steps))

    def _car_speed_m_s(self):
        return self.rng.uniform(0, 10)

    def _shaft_area_m2(self):
        return self.rng.uniform(2, 40)

    def _free_area_m2(self):
        return self.rng.uniform(0.1, 2)

    def _power_w(self):
        return self.rng.uniform(3000, 80_000)

    def _settings(self):
        return Settings(abs(self.number()), abs(self.number()), self.rng.choice((0.0, abs(self.number()))))

    def _loop(self):
        lags = [abs(self.number()) + 1e-3 for _ in range(3)]
        settings = Settings(abs(self.number()) + 1e-3, abs(self.number()) + 1e-3)
        return partial(_loop_of, settings, abs(self.number()) + 1e-3, lags, abs(self.number()))

    def _process(self):
        gain, lags, delay = abs(self.number()) + 1e-3, [abs(self.number()) + 1e-3 for _ in range(3)], abs(self.number())
        return frequency_response(np.logspace(-2, 2, 40), gain, lags, delay)

    def _frequency_rad_s(self):
        return np.logspace(-2, 2, 40) if self.name == "largest_gain" else self.number()

    def _asked(self):
        return LeastMargins(self.rng.uniform(1.1, 3), self.rng.uniform(1.1, 4), self.rng.uniform(5, 80))

    def _good(self):
        return self.rng.choice((None, [self.rng.random() < 0.7 for _ in range(self.length)]))

    def _axis(self):
        return self.rng.choice((-1, 0, -1, 0, 1, 7))

    def _integrators(self):
        return self.rng.choice((0, 1, 2))

    def _loop_sign(self):
        return self.rng.choice((-1, 1))

    def _fan_effect(self):
        return self.rng.choice((-1, 1))

    def _clamp(self):
        return self.rng.random() < 0.5

    def _output(self):
        return [40.0] * 5 + [45.0] * (self.length - 5)

    def _reading(self):
        if self.name != "fit_first_order_delay":
            return self.number()
        gain, rest = self.number(), self.number()
        answer = [min(max(place - 4, 0) / 4, 1.0) for place in range(self.length)]
        return [rest + gain * part + self.rng.gauss(0, 0.01) for part in answer]

    def _reading_low(self):
        return None

    _reading_high = _reading_low

    def _too_low(self):
        return partial(_below, self.rng.uniform(0, 2))

    def _height(self):
        return partial(_less, self.rng.uniform(0, 2))

    def _low(self):
        return np.zeros(self.length)

    def _high(self):
        return np.full(self.length, 2.0)


def _loop_of(settings, gain, lags, delay, frequency_rad_s):
    return frequency_response(frequency_rad_s, gain, lags, delay) * controller_response(frequency_rad_s, settings)


def _below(root, x):
    return x < root


def _less(root, x):
    return x - root
