"""Refusals in one sentence: which argument, what it got, what it must be.

Every formula passes its arguments through here first, so that nonsense stops at the door and not as a NaN in a picture.
Each function takes exactly one argument by its name and gives it back as a float array: `area = require.positive(area_m2=area_m2)`.
"""

import numpy as np

# Ours, for all formulas: no quantity of this trade is as large, and products and powers of a few stay what a double can hold.
MOST = 1e15
LEAST = 1e-30  # of what must be above zero: so that a quotient of a few stays so as well
_PLAIN = (float, int, np.float64)


def finite(**named):
    """Give the named argument back as a float array; refuse text, NaN, what is larger than MOST either way, and empty arrays."""
    ((name, value),) = named.items()
    if type(value) in _PLAIN and -MOST <= value <= MOST:  # most that is asked: one number, and nothing to find wrong with it
        return np.asarray(value, dtype=float)
    array = number(**named)
    sound = np.abs(array) <= MOST
    if not sound.all():
        bad = array[~sound].flat[0]
        rule = f"from {-MOST:g} to {MOST:g}" if np.isfinite(bad) else "a finite number"
        raise ValueError(f"{name} must be {rule}, got {bad:g}")
    return array


def number(**named):
    """Give the named argument back as a float array that may hold NaN (a reading marked bad); refuse text and empty arrays."""
    ((name, value),) = named.items()
    if isinstance(value, (str, bytes)):
        raise ValueError(f"{name} must be a number, got the text {value!r:.80}")
    try:
        # Anything else than numbers has a kind of its own, and would be made numbers of: the list of texts ["1"], dates, imaginary parts.
        array = value if type(value) is float else np.asarray(value)
        array = np.asarray(array, dtype=float) if type(array) is float or array.dtype.kind in "fiubO" else None
    except (TypeError, ValueError, OverflowError):
        array = None
    if array is None or value is None or isinstance(value, np.ma.MaskedArray):  # what is masked is no number to calculate with
        raise ValueError(f"{name} must be a number or an array of numbers, got {_in_words(value)}")
    if array.size == 0:
        raise ValueError(f"{name} must hold at least one number, got an empty array")
    return array


def positive(**named):
    """Give the named argument back as a float array with every value above zero, none so small that it can only be a slip."""
    return above(0.0, **named)


def above(limit, **named):
    """Give the named argument back as a float array with every value above `limit`; above zero: LEAST or more."""
    array = finite(**named)
    good = array > limit
    if limit == 0 and ((array < LEAST) & good).any():
        raise _refusal(named, array, array >= LEAST, f"above 0, and {LEAST:g} or more")
    if not good.all():
        raise _refusal(named, array, good, f"above {limit:g}")
    return array


def at_least(limit, **named):
    """Give the named argument back as a float array with every value at or above `limit`."""
    array = finite(**named)
    good = array >= limit
    if not good.all():
        raise _refusal(named, array, good, f"{limit:g} or more")
    return array


def between(low, high, **named):
    """Give the named argument back as a float array with every value from `low` to `high`, ends included."""
    array = finite(**named)
    good = (array >= low) & (array <= high)
    if not good.all():
        raise _refusal(named, array, good, f"from {low:g} to {high:g}")
    return array


def one_of(choices, **named):
    """Give the named text back; refuse one that is not among `choices`, naming them all."""
    ((name, value),) = named.items()
    if not isinstance(value, str) or value not in choices:
        raise ValueError(f"{name} must be one of {', '.join(choices)}; got {_in_words(value)}")
    return value


def same_length(**named):
    """Give the named arrays back as one-dimensional float arrays of one length."""
    arrays = [np.atleast_1d(finite(**{name: value})) for name, value in named.items()]
    if len({a.shape for a in arrays}) != 1 or arrays[0].ndim != 1:
        got = ", ".join(f"{name} {a.shape}" for name, a in zip(named, arrays, strict=True))
        raise ValueError(f"{' and '.join(named)} must be lists of the same length, got shapes {got}")
    return arrays


def single(**named):
    """Give the named argument back as one float; refuse several."""
    ((name, value),) = named.items()
    array = finite(**named)
    if array.ndim:
        raise ValueError(f"{name} must be one number, got {_in_words(value)}")
    return float(array)


def single_positive(**named):
    """Give the named argument back as one float above zero; refuse several."""
    ((name, value),) = named.items()
    return float(positive(**{name: single(**{name: value})}))


def single_at_least(limit, **named):
    """Give the named argument back as one float at or above `limit`; refuse several."""
    ((name, value),) = named.items()
    return float(at_least(limit, **{name: single(**{name: value})}))


def whole(low, high, **named):
    """Give the named single whole number from `low` to `high` back as an int."""
    ((name, value),) = named.items()
    array = number(**named)
    if array.ndim or not low <= array <= high or array % 1:
        raise ValueError(f"{name} must be one whole number from {low} to {high}, got {_in_words(value)}")
    return int(array)


def axis_of(array, axis):
    """Give an axis of an array back as an int; refuse one that the array does not have."""
    if array.ndim == 0:
        raise ValueError(f"axis must be one of an array, got one number and the axis {_in_words(axis)}")
    return whole(-array.ndim, array.ndim - 1, axis=axis)


def none_or_positive(**named):
    """Give the named argument back as a float array, every value 0 (which means none) or LEAST and more."""
    array = at_least(0, **named)
    good = (array == 0) | (array >= LEAST)
    if not good.all():
        raise _refusal(named, array, good, f"0, or {LEAST:g} and more")
    return array


def flags(**named):
    """Give the named argument back as an array of True and False; refuse anything else, numbers and texts too."""
    ((name, value),) = named.items()
    try:
        array = np.asarray(value) if isinstance(value, (bool, np.bool_, np.ndarray, list, tuple)) else None
    except ValueError:  # rows of unequal length
        array = None
    if array is None or array.dtype != bool:
        raise ValueError(f"{name} must be True or False, got {_in_words(value)}")
    return array


def of_kind(kind, **named):
    """Give the named argument back, which must be of a kind (a class, or "function")."""
    ((name, value),) = named.items()
    if not (callable(value) if kind == "function" else isinstance(value, kind)):
        must = "a function" if kind == "function" else kind.__name__
        raise ValueError(f"{name} must be {must}, got {_in_words(value)}")
    return value


def _in_words(value):
    """The value as it stands in a program, cut short."""
    try:
        return f"{value!r:.80}"
    except ValueError:  # a whole number of thousands of digits, which Python does not write out
        return "a number too long to be written"


def _refusal(named, array, good, rule):
    """The sentence on the first number that is not good."""
    (name,) = named
    return ValueError(f"{name} must be {rule}, got {array[~good].flat[0]:g}")
