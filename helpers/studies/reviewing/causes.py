"""Which finding follows from which: one cause is told once, and what comes of it stands under it.

A cause is only named where putting it right puts the consequence right as well; in doubt a finding stands by itself.
"""

__all__ = ["CAUSES", "cause_of"]

OUT_OF_WINDOW = ("entered range", "set point fails", "infeasible", "two temperatures")
# Kind of a consequence: kinds of what may have brought it, the likeliest first.
CAUSES = {
    "average hides": OUT_OF_WINDOW,
    "highest leaves": OUT_OF_WINDOW,
    "lowest leaves": OUT_OF_WINDOW,
    "door too heavy": OUT_OF_WINDOW,
    "two scales": ("entered range",),
    "alarms inside": ("entered range",),
    "alarm never": ("entered range",),
    "saturates": ("wrong action", "entered range", "set point fails"),
    "saturates open": ("wrong action", "entered range"),
    "at lowest speed": ("wrong action", "entered range"),
    "set point fails": ("lowest speed", "two temperatures"),
    "infeasible": ("two temperatures",),
    "motor": ("full speed",),
    "integral and ramp": ("robust tuning",),
    "unstable": ("gain of other span", "robust tuning"),
    "robust tuning": ("gain of other span",),
    "recovery": ("integral unit", "sleeps", "filter and integral"),
    "sleeps": ("integral unit",),
    "heavy after a door": ("sleeps", "integral unit", "full speed"),
    "swings": ("unstable", "robust tuning", "filter and integral"),
    "last reading": ("fallback",),
    "ramp down unstated": ("ramp down",),
}


def cause_of(key, found):
    """The kind that a finding of a kind follows from, among those found; "" where it stands by itself.

    key: of the finding's kind; found: keys of all kinds found. A cause that itself follows from another is followed up to the first one, so
    that consequences stand under what is to be put right.
    """
    seen, cause = {key}, _next(key, found)
    while cause and cause not in seen:
        seen.add(cause)
        further = _next(cause, found)
        if not further:
            return cause
        cause = further
    return ""


def _next(key, found):
    return next((cause for cause in CAUSES.get(key, ()) if cause in found), "")
