"""What is written on a test day as proof that everybody was told and the stair given back: each line by its words, not by its being filled.

A line that asks for a yes passes on a yes alone: no is not done, and what says neither is shown for somebody to ask.
"""

import re

from helpers.studies.commissioning.crew.lines import ReportLine
from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL
from helpers.studies.commissioning.fields import BEFORE, CLOSING

YES = ("yes", "y", "ok", "done")
NO = ("no", "not", "n", "none", "never", "nobody")
DOUBT = (*NO, "but", "except", "later", "manual", "off", "without")  # after a yes: somebody has to ask
TIME, NAME = CLOSING[-2:]
ASKS_YES = CLOSING[:-2]  # the rest asks for a time, a name or a certificate
ASKS_TIME = (*(line for line in BEFORE if line.endswith("time, name")), TIME)
HEAD = f"{YES[0]} or {NO[0]}; time, name"
HOW = (
    f"Told and given back: a line that says what was done begins with {YES[0]} or {NO[0]}, then time and name. Initials alone, or another "
    "word, prove nothing."
)
PART = "Told and given back"


def proof_said(line, text):
    """(status, words) of what stands in a line of BEFORE or CLOSING; text None where nothing does.

    Limits: the first word says yes or no; a word of DOUBT or a question mark anywhere behind a yes makes it one to ask about.
    """
    if text is None:
        return "open", "still to fill in"
    words = re.findall(r"[^\W\d_]+", text.casefold())
    if words and words[0] in NO:
        return "wrong", f"not done: {text!r}"
    if line in ASKS_YES and (not words or words[0] not in YES):
        return "attention", f"says neither {YES[0]} nor {NO[0]}: {text!r}"
    if line in ASKS_TIME and not re.search(r"\d", text):
        return "attention", f"no time in it: {text!r}"
    if "?" in text or set(words) & set(DOUBT):
        return "attention", f"ask what is meant: {text!r}"
    return "good", ""


def given_back_lines(found):
    """A `ReportLine` of every line that was to be filled in, as it was filled in."""
    for line in (*BEFORE, *CLOSING):
        text = found.filled.value("told", line, "given")
        state, words = proof_said(line, text)
        yield ReportLine(PART, line, measured=text or "", state=state, words=words)


def left_in_manual(step, note):
    """That the note of a step says MANUAL where the step must leave the fan in AUTOMATIC, in words; "" where it does not."""
    if step.leaves != AUTOMATIC or MANUAL.casefold() not in (note or "").casefold():
        return ""
    return f"the note says {MANUAL}, and the step must leave the fan in {AUTOMATIC}: go and look"
