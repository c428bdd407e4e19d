"""Refusals in one sentence: which argument, what it got, what it must be.

Every formula passes its arguments through here first, so that nonsense stops at the door and not as a NaN in a picture.
Each function takes exactly one argument by its name and gives it back as a float array: `area = require.positive(area_m2=area_m2)`.
"""

import numpy as np

__all__ = ["above", "at_least", "between", "finite", "number", "one_of", "positive", "same_length"]


def finite(**named):
    """Give the named argument back as a float array; refuse text, NaN, infinity and empty arrays."""
    (name,) = named
    array = number(**named)
    if not np.isfinite(array).all():
        bad = array[~np.isfinite(array)].flat[0]
        raise ValueError(f"{name} must be a finite number, got {bad}")
    return array


def number(**named):
    """Give the named argument back as a float array that may hold NaN (a reading marked bad); refuse text and empty arrays."""
    ((name, value),) = named.items()
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise ValueError(f"{name} must be a number or an array of numbers, got {value!r:.80}") from None
    if isinstance(value, (str, bytes)):
        raise ValueError(f"{name} must be a number, got the text {value!r:.80}")
    if array.size == 0:
        raise ValueError(f"{name} must hold at least one number, got an empty array")
    return array


def positive(**named):
    """Give the named argument back as a float array with every value above zero."""
    return above(0.0, **named)


def above(limit, **named):
    """Give the named argument back as a float array with every value above `limit`."""
    array = finite(**named)
    return _held(named, array, array > limit, f"above {limit:g}")


def at_least(limit, **named):
    """Give the named argument back as a float array with every value at or above `limit`."""
    array = finite(**named)
    return _held(named, array, array >= limit, f"{limit:g} or more")


def between(low, high, **named):
    """Give the named argument back as a float array with every value from `low` to `high`, ends included."""
    array = finite(**named)
    return _held(named, array, (array >= low) & (array <= high), f"from {low:g} to {high:g}")


def one_of(choices, **named):
    """Give the named text back; refuse one that is not among `choices`, naming them all."""
    ((name, value),) = named.items()
    if not isinstance(value, str) or value not in choices:
        raise ValueError(f"{name} must be one of {', '.join(choices)}; got {value!r:.80}")
    return value


def same_length(**named):
    """Give the named arrays back as one-dimensional float arrays of one length."""
    arrays = [np.atleast_1d(finite(**{name: value})) for name, value in named.items()]
    if len({a.shape for a in arrays}) != 1 or arrays[0].ndim != 1:
        got = ", ".join(f"{name} {a.shape}" for name, a in zip(named, arrays, strict=True))
        raise ValueError(f"{' and '.join(named)} must be lists of the same length, got shapes {got}")
    return arrays


def _held(named, array, good, rule):
    if not np.all(good):
        (name,) = named
        raise ValueError(f"{name} must be {rule}, got {array[~good].flat[0]:g}")
    return array
