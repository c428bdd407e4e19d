"""Reverse or direct: found from the model's own answer to a change of speed, not from a table."""

from dataclasses import dataclass

import numpy as np

__all__ = ["Acting", "acting"]


@dataclass(frozen=True)
class Acting:
    """Readings at two speeds and what follows: fan_effect +1 or -1, action "reverse" or "direct", stated: the site's own."""

    slow_hz: float
    fast_hz: float
    slow_pa: np.ndarray
    fast_pa: np.ndarray
    fan_effect: int
    action: str
    stated: str


def acting(tower, cases, speed_hz, transmitters=None):
    """Find the action from the readings at two speeds. Returns `Acting`."""
    raise NotImplementedError
