"""The glossary: each word once, in one sentence, and its lesson really says it."""

import json
import re
from pathlib import Path

import pytest

from helpers.pages.start import glossary
from helpers.teaching.plan import LESSONS, lesson, terms

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"


def words_of(key):
    """What the page of a lesson says in its text cells."""
    page = json.loads((NOTEBOOKS / lesson(key).notebook).read_text(encoding="utf-8"))
    return re.sub(r"[*_`]", "", " ".join("".join(cell["source"]) for cell in page["cells"] if cell["cell_type"] == "markdown")).casefold()


PAGES = {one.key: words_of(one.key) for one in LESSONS}


def test_each_word_stands_once_and_every_lesson_has_some():
    words = [term.word for term in terms()]
    assert len(set(words)) == len(words) >= 50
    assert {term.lesson for term in terms()} == set(PAGES)


@pytest.mark.parametrize("term", terms(), ids=lambda term: term.word)
def test_the_lesson_a_word_links_to_uses_it(term):
    stem = term.word.casefold().split(" (")[0]
    assert all(part in PAGES[term.lesson] for part in stem.split()), f"lesson {term.lesson} does not say {term.word!r}"


def test_the_table_links_to_pages_that_are_there():
    links = re.findall(r'href="([^"]+)"', glossary().html)
    assert len(links) == len(terms())
    assert all((NOTEBOOKS / link).is_file() for link in links)


def test_the_words_stand_in_the_order_of_the_alphabet():
    words = [line.split(":")[0].casefold() for line in glossary().text.splitlines()]
    assert words == sorted(words)
