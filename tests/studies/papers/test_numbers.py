"""A paper never states a number that its record does not hold: all numbers of all papers of all demo stairs, in both systems of units."""

import dataclasses
import re
from dataclasses import replace

import pytest
from held_texts import texts_in

from helpers.record.papers.paper import Paper, Part
from helpers.record.papers.states import priority
from helpers.units import SYSTEMS
from helpers.units.said import written_out

NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)*(?![\w])")
FIXED = frozenset({"0.1.0", "135", "72", *map(str, range(1, len(priority()) + 1))})  # the release in the stamp, ASHRAE 135, NFPA 72, orders


def numbers_in(thing):
    """The numbers of all texts in a thing, as they are written."""
    return {number for text in texts_in(thing) for number in NUMBER.findall(text)}


def record_numbers(design):
    """All numbers that the record of a design holds in the design's units: sections without pictures, board, summary, fails."""
    record = design.record()
    sections = [dataclasses.replace(section, pictures=()) for section in record.sections]
    rest = written_out([record.board, list(record.summary), record.fails, record.cautions], design.units)
    return numbers_in([sections, rest, record.site_name])


def strange(paper, known):
    """{number: a text it stands in} of a paper's numbers that are not known. Its own numbering does not count, nor do tables of what was
    played, whose figures are of no record; pictures are the record's own, which the test asks for."""
    found = {}
    quoting = [
        replace(part, pictures=(), tables=[one for one in part.tables if not one.key.startswith("played")],
                drawings=[words for _, words in part.drawings])
        for part in paper.parts
    ]  # fmt: skip
    for text in texts_in([paper.title, paper.for_whom, quoting]):
        found |= {number: text for number in NUMBER.findall(text) if number not in known | FIXED}
    return found


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("name", ["Larkfield House", "Northgate Tower", "Tannery Row", "all laid down"])
def test_every_number_of_every_paper_stands_in_the_record(folder_of, design_named, name, units):
    design = design_named(name, units)
    known, pictures = record_numbers(design), {plot.title for plot in design.record().pictures().values()}
    for paper in folder_of(name, units).papers:
        assert strange(paper, known) == {}
        assert {plot.title for part in paper.parts for plot in part.pictures} <= pictures


def test_a_number_that_the_record_does_not_hold_is_found():
    paper = Paper("one", 1, "One", "For a test.", (Part("Part", ("Hold 41.7 Pa, PDT-1 at storey 12.",)),))
    assert strange(paper, {"1", "12"}) == {"41.7": "Hold 41.7 Pa, PDT-1 at storey 12."}


def test_letters_that_hold_figures_are_no_numbers():
    assert numbers_in(["site file 02995ee869b238cb", "4-20 mA", "6.4.8.2"]) == {"4", "20", "6.4.8.2"}
