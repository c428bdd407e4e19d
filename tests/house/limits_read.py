"""Readers of what a record or a review says: a figure past the limit beside it, a row that fails in its words, a sentence put together
wrongly. For the tests of the demo sites and of drawn ones."""

import re

__all__ = ["ODD", "SEVERAL_WAYS", "past", "said_in", "says_fail"]

# "74.4 N at the latch stile, limit 66.7 N": a figure, and the limit it is held against, in one text.
AGAINST = re.compile(r"(-?[\d.]+) (Pa|N|lbf|Hz|kW|in\. w\.c\.)[^;|]*?\b(?:limit|the most|allowed is) (-?[\d.]+) \2")
SEVERAL_WAYS = ("failures", "beside")  # tables that lay ways side by side: the status is that of the way that is written down
# Sentences that were put together wrongly: two stops, "at 17 to 17 Pa", "back in not within", a comma without words, 739128000.4 s.
ODD = re.compile(
    r"\.\.|(?<![\w.-])(-?[\d.]+) to \1 |back in not|\(, |, ,|,  |\d{5,}\.\d|\de\+\d|\bnan\b|\binf\b|later than asked for \([^)]*no time"
)


def past(text):
    """Whether a text holds a figure beside the limit that it is over."""
    return [found for found in AGAINST.findall(text) if float(found[0]) > float(found[2])]


def says_fail(row):
    """Whether a row of a table says that something in it fails."""
    return any(word in cell for cell in row for word in (" too low", " too high", "not held"))


def said_in(record):
    """Every text of a record: summary, verdicts, notes, findings, cells."""
    said = [*record.summary]
    for section in record.sections:
        said += [section.verdict, *section.notes, *(table.note for table in section.tables)]
        said += [text for finding in section.findings for text in (finding.what, finding.figure, finding.why, finding.remedy)]
        said += [cell for table in section.tables for row in table.rows for cell in row]
    return said
