"""A paper never states a number that its record does not hold: all numbers of all papers of all demo stairs, in both systems of units."""

import pytest
from held_texts import numbers_in, played_in, record_numbers, strange

from helpers.record.papers.paper import Paper, Part
from helpers.units import SYSTEMS


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("name", ["Larkfield House", "Northgate Tower", "Tannery Row", "all laid down"])
def test_every_number_of_every_paper_stands_in_the_record(folder_of, design_named, name, units):
    design = design_named(name, units)
    known, pictures = record_numbers(design), {plot.title for plot in design.record().pictures().values()}
    papers = folder_of(name, units).papers
    played = played_in(next(paper for paper in papers if paper.key == "sequence"))  # the analysis quotes what the sequence played
    for paper in papers:
        assert strange(paper, known, played) == {}
        assert {plot.title for part in paper.parts for plot in part.pictures} <= pictures


def test_a_number_that_the_record_does_not_hold_is_found():
    paper = Paper("one", 1, "One", "For a test.", (Part("Part", ("Hold 41.7 Pa, PDT-1 at storey 12.",)),))
    assert strange(paper, {"1", "12"}) == {"41.7": "Hold 41.7 Pa, PDT-1 at storey 12."}


def test_what_quotes_a_play_word_for_word_is_known_and_any_other_figure_beside_it_is_not():
    played = ["a shut door is out for 86 s in winter"]
    paper = Paper("one", 1, "One", "For a test.", (Part("Part", (f"So played: {played[0]}.", "A shut door is out for 87 s in winter.")),))
    assert list(strange(paper, {"1"}, played)) == ["87"]
    assert set(strange(paper, {"1"})) == {"86", "87"}


def test_letters_that_hold_figures_are_no_numbers():
    assert numbers_in(["site file 02995ee869b238cb", "4-20 mA", "6.4.8.2"]) == {"4", "20", "6.4.8.2"}
