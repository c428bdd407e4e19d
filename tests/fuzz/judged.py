"""What came of a call: a sound result, one clear refusal, or a fault of ours."""

import cmath
import math
import re
import time
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

LONGEST_S = 5.0  # of the processor; one that hangs needs minutes, a slow machine two and a half times what a quick one needs
LONGEST_SENTENCE = 600  # of a formula; a file may have long lists of names
LONGEST_LISTING = 3000
# Shapes that do not fit together: numpy's own sentence names the shapes. Only arrays can bring it about.
SHAPES_DO_NOT_FIT = re.compile(r"broadcast|same shape|shape mismatch")


@dataclass
class Tally:
    """Counts of one function or kind of file, and its faults, each kind of fault once with the call that showed it."""

    counts: Counter = field(default_factory=Counter)
    faults: dict = field(default_factory=dict)
    longest_s: float = 0.0

    def add(self, kind, seconds, shown, fault=""):
        """Count one call; shown() tells it; fault: what kind of fault it is."""
        self.longest_s = max(self.longest_s, seconds)
        if kind != "fault" and seconds > LONGEST_S:
            kind, fault = "fault", "took longer than it may"
        self.counts[kind] += 1
        if kind == "fault":
            what = (fault, f"{shown()} [{seconds:.2f} s]")
            self.faults.setdefault(re.sub(r"\bgot .*|'\w+(\.\w+)?' (object|and)|\d+", "_", what[0]), what[1])


def sound(result):
    """Whether a result holds only finite numbers, however deep."""
    if isinstance(result, (bool, str, int)) or result is None:
        return True
    if isinstance(result, float):
        return math.isfinite(result)
    if isinstance(result, complex):
        return cmath.isfinite(result)
    if isinstance(result, (tuple, list)):
        return all(map(sound, result))
    array = np.asarray(result)
    return array.dtype.kind in "bUiu" or (array.dtype.kind in "fc" and bool(np.isfinite(array).all()))


def sound_model(model):
    """Whether a site holds only finite numbers."""
    return _sound_tree(model.model_dump())


def _sound_tree(tree):
    if isinstance(tree, dict):
        return all(map(_sound_tree, tree.values()))
    return all(map(_sound_tree, tree)) if isinstance(tree, (list, tuple)) else sound(tree)


def judge(tally, call, shown, names=(), nan_is_meant=False, clear=None, sound=sound):
    """Call, and count what came of it. Returns the result, or None.

    shown() tells the call, names are those that a refusal may name; clear, sound: other judges of a refusal and of a result.
    """
    began = time.process_time()  # not of the clock: other programs' work is not ours
    try:
        result = call()
    except ValueError as refusal:
        wrong = clear(refusal) if clear else unclear(refusal, names)
        tally.add("fault" if wrong else "refused", time.process_time() - began, shown, wrong)
        return None
    except Exception as other:  # whatever it is, it is a fault and must be told with its call
        tally.add("fault", time.process_time() - began, shown, f"{type(other).__name__}: {other!s:.90}")
        return None
    seconds = time.process_time() - began
    if not nan_is_meant and not sound(result):
        tally.add("fault", seconds, lambda: f"{shown()} -> {result!r:.120}", "gave NaN or an infinite")
        return None
    tally.add("result", seconds, shown)
    return result


def clear_list(refusal):
    """What the refusal of a file lacks: it must be a list of sentences, and nothing in it that turns or breaks a line."""
    if type(refusal).__name__ not in ("SiteFileError", "ValueError"):
        return f"{type(refusal).__name__}: {refusal!s:.90}"
    for line in str(refusal).split("\n"):
        if not line.isprintable():
            return f"a sentence holds a sign that breaks or turns it: {line[:90]!r}"
        if len(line) > LONGEST_LISTING:
            return f"a sentence is endless: {line[:60]!r}"
        if not re.search(r"\b(must|is|are|belongs|leave)\b", line):
            return f"no sentence: {line[:90]!r}"
    return ""


def unclear(refusal, names):
    """What a refusal lacks to be a clear sentence; nothing where it is one."""
    said = str(refusal)
    if type(refusal).__module__ == "builtins" and type(refusal) is not ValueError:
        return f"{type(refusal).__name__}: {said:.90}"
    if SHAPES_DO_NOT_FIT.search(said):
        return ""
    if "\n" in said or len(said) > LONGEST_SENTENCE:
        return f"refusal is no one sentence: {said[:60]!r}"
    if not any(re.search(rf"\b{re.escape(name)}\b", said) for name in names):
        return f"refusal names no argument: {said[:90]!r}"
    return "" if "must" in said else f"refusal does not say what must be: {said[:90]!r}"


def short(value):
    """A value as it stands in a program, cut short."""
    try:
        return f"{value!r:.40}"
    except ValueError:
        return f"a whole number of {value.bit_length()} bits"
