"""What no site file is: so long or so deep that reading it would take for ever.

A TOML reader takes a time that grows with the square of a dotted key's parts, and every mistake is told in a sentence of its own. A site
with each of the most storeys described by itself stays well within all of these limits.
"""

import re

__all__ = ["MOST_BYTES", "MOST_GROUPS", "MOST_LAID", "MOST_TOLD", "endless"]

MOST_BYTES, MOST_LINES, MOST_LETTERS, MOST_VALUES = 300_000, 8_000, 3_000, 15_000
MOST_PARTS = 4  # of a dotted key; the deepest that is known has three
MOST_GROUPS, MOST_LAID = 400, 20_000  # of storeys, and levels in all of them together
MOST_TOLD = 60  # mistakes in one refusal
_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
_UNSEEN = re.compile(  # control signs and those that turn a line round, as they are or as TOML writes them
    r"[\x7f-\x9f\u202a-\u202e\u2066-\u2069]"
    r"|\\u00(?:0[0-8b-f]|1[0-9a-f]|7f|[89][0-9a-f])|\\U0000(?:00(?:0[0-8b-f]|1[0-9a-f]|7f|[89][0-9a-f])|20(?:2[a-e])|206[6-9])"
    r"|\\u(?:202[a-e]|206[6-9])",
    re.IGNORECASE,
)
_NO_KEY = re.compile(r"[^\w.\s-]+")
_JOINT = re.compile(r"(?<=\w)\s*\.\s*(?=\w)")


def endless(text):
    """(sentence, line or None) about what in a text is endlessly long or deep; None where nothing is."""
    if len(text) > MOST_BYTES:
        return f"must be {MOST_BYTES} letters at the most, got {len(text)}", None
    lines = text.split("\n")
    if len(lines) > MOST_LINES:
        return f"must be {MOST_LINES} lines at the most, got {len(lines)}", None
    values = text.count("=") + text.count(",")
    if values > MOST_VALUES:
        return f"must hold {MOST_VALUES} values at the most, got some {values}", None
    for number, line in enumerate(lines, start=1):
        if len(line) > MOST_LETTERS:
            return f"must have lines of {MOST_LETTERS} letters at the most, got one of {len(line)}", number
        if unseen := _UNSEEN.search(line):
            return f"must hold no sign that is not seen and breaks or turns a line; got {ascii(unseen[0])[1:-1]}", number
        if line.count(".") >= MOST_PARTS and _parts(line) > MOST_PARTS:
            return f"must have keys of {MOST_PARTS} parts at the most, got a deeper one", number
    return None


def _parts(line):
    """Parts of the longest dotted key a line can hold; what stands in quotation marks is one part, a remark none."""
    bare = _QUOTED.sub("q", line).partition("#")[0]
    return max(len(_JOINT.findall(piece)) + 1 for piece in _NO_KEY.split(bare))
