"""The concepts of a stair on their page: a headline of few words, the ranking with its words, two concepts at both temperatures."""

from html import escape

import pytest

from helpers.pages.concept import ConceptPanel, concepts_told
from helpers.plots.markup import MOST_TILES, MOST_WORDS
from helpers.studies.status import word_of
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS


@pytest.fixture(scope="module")
def panel():
    made = ConceptPanel("Larkfield House")
    yield made
    UNITS.system = "Pa"


def test_a_headline_of_few_words_and_three_tiles(panel):
    verdict = written_out(panel.verdict())
    assert len(verdict.head.split()) <= MOST_WORDS
    assert len(verdict.tiles) == MOST_TILES
    decides = next(one for one in panel.study.judged[0].criteria if one.state == verdict.kind)
    figure, _, where = written_out(decides.figure).partition(": ")
    by = figure.removesuffix(" out")
    assert verdict.head.endswith(f": {by} short")  # by how much, of which limit, at which door, in which case
    assert verdict.case.startswith(f"limit 25 Pa, {where.partition(',')[0]}, winter, doors open; ")
    assert written_out(decides.limit) == "25 Pa"
    assert verdict.kind == panel.study.judged[0].status
    assert panel.line.verdict == verdict


def test_every_concept_stands_in_the_ranking_with_its_word(panel):
    for one in panel.study.judged:
        assert escape(written_out(one.concept.title)) in panel.ranked.value
        assert word_of(one.status) in panel.ranked.value
    assert "recommends nothing" in panel.notes.value


def test_two_concepts_are_drawn_at_both_temperatures_and_the_choice_moves_them(panel):
    panel.shown.value, panel.against.value = panel._titles()[0], panel._titles()[1]
    before = panel.picture.words
    assert [f"{name}: {air}" in before for name in ("Concept", "Compared") for air in ("first minute", "after an hour")] == [True] * 4
    panel.against.value = panel._titles()[-1]
    assert panel.picture.words != before


def test_a_case_with_doors_open_marks_them_and_is_drawn_too(panel):
    before, case = panel.picture.words, panel._cases()[-1]
    panel.case.value = case
    one, _ = panel.chosen()
    assert panel.picture.words != before
    assert any(one.open[place].any() for place in panel._rows(one))
    panel.case.value = panel._cases()[0]


def test_figures_follow_the_switch_of_units(panel):
    UNITS.system = "in. w.c."
    assert "in. w.c." in panel.more.value
    UNITS.system = "Pa"
    assert "in. w.c." not in panel.more.value


def test_own_prices_are_added_up_and_another_name_is_refused(panel):
    card = panel.priced({"fan kW": 1000.0})
    assert all(written_out(one.concept.title) in card.text for one in panel.study.judged)
    with pytest.raises(ValueError, match="unit_price"):
        panel.priced({"gold": 1})


def test_what_has_no_price_is_not_free(panel):
    assert all(line.endswith(": not priced") for line in panel.priced({"fan kW": 0}).text.splitlines())
    assert "kWh not priced" in panel.priced({"fan kW": 1000.0}).text


def test_the_order_of_the_concepts_is_by_limits_broken(panel):
    assert panel.verdict().tiles[1][0] == "Limits broken"  # a limit passed is read as one that is met


def test_a_terminal_is_told_every_concept_every_criterion_and_what_people_decide(panel):
    lines = "\n".join(map(str, written_out(list(concepts_told(panel.opened)))))
    for one in panel.study.judged:
        assert written_out(one.concept.title) in lines
        assert all(sentence in lines for sentence in panel.study.decide(one.concept.key))
    assert "Fails first" not in lines
    assert "colder" in lines


def test_a_site_that_cannot_be_asked_leaves_the_concepts_that_are_there(panel, monkeypatch):
    def refused(site):
        raise ValueError("site must have a fan that supplies the stair")

    monkeypatch.setattr("helpers.pages.concept.concept_study", refused)
    before = panel.ranked.value
    panel._other()
    assert "Below are still the concepts of Larkfield House" in panel.line.verdict.words
    assert panel.ranked.value == before
