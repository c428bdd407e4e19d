"""What any thing says: every text that a record, a paper or a table holds, for tests that look at all of them."""

import dataclasses
import re
from dataclasses import replace

from helpers.record.papers.states import priority
from helpers.units.said import written_out

__all__ = ["numbers_in", "played_in", "record_numbers", "strange", "texts_in"]

OWN_STEP = re.compile(r"step \d+")  # by which a paper's list of what is to be signed names a step of its own
NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)*(?![\w])")
FIXED = frozenset({"0.1.0", "135", "72", *map(str, range(1, len(priority()) + 1))})  # the release in the stamp, ASHRAE 135, NFPA 72, orders


def texts_in(thing):
    """Every text in what holds texts (tuples, lists, mappings, dataclasses)."""
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, dict):
        yield from texts_in(list(thing.values()))
    elif dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        yield from texts_in([getattr(thing, field.name) for field in dataclasses.fields(thing)])
    elif isinstance(thing, list | tuple):
        for one in thing:
            yield from texts_in(one)


def numbers_in(thing):
    """The numbers of all texts in a thing, as they are written."""
    return {number for text in texts_in(thing) for number in NUMBER.findall(text)}


def record_numbers(design):
    """All numbers that the record of a design holds in the design's units: sections without pictures, board, summary, fails."""
    record = design.record()
    sections = [dataclasses.replace(section, pictures=()) for section in record.sections]
    rest = written_out([record.board, list(record.summary), record.fails, record.cautions], design.units)
    return numbers_in([sections, rest, record.site_name])


def played_in(paper):
    """Clauses of what a paper's tables tell of plays, longest first: what another paper may quote, word for word."""
    tables = [table.rows for part in paper.parts for table in part.tables if table.key.startswith("played")]
    clauses = {clause for text in texts_in(tables) for clause in text.split("; ") if len(clause.split()) > 4}
    return sorted(clauses, key=len, reverse=True)


UNDER = re.compile(r"\bunder (\d+\.\d+)")  # where a paper sends to a heading of its own
COUNTED = re.compile(  # counted again by test_reviewed and test_settled
    r"The other tables of this paper have (\d+) CHECK and (\d+) NOT YET rows|Findings, each once: [^.]*|(?<=, )\d+ rows?(?=[,;.])"
)


def strange(paper, known, played=()):
    """{number: a text it stands in} of a paper's numbers that are not known. Its own numbering does not count, nor how many of its own rows
    are CHECK, nor do tables of what was played, whose figures are of no record, nor what quotes one of their clauses (of `played_in`) word
    for word; pictures are the record's own, which the test asks for."""
    found, headings = {}, {heading.partition(" ")[0] for heading, _ in paper.numbered}
    quoting = [
        replace(part, pictures=(), tables=[one for one in part.tables if not one.key.startswith("played")],
                drawings=[words for _, words in part.drawings])
        for part in paper.parts
    ]  # fmt: skip
    for text in (one for one in texts_in([paper.title, paper.for_whom, quoting]) if not OWN_STEP.fullmatch(one)):
        own = COUNTED.sub("", UNDER.sub(lambda found: "" if found[1] in headings else found[0], text))
        for clause in played:
            own = own.replace(clause, "")
        found |= {number: text for number in NUMBER.findall(own) if number not in known | FIXED}
    return found
