"""The lessons as their readers meet them. In a file of their own, so that they and the other pages can run at a time."""

import pytest
from reader import LESSON_PAGES, read_and_move


@pytest.mark.browser
@pytest.mark.parametrize("name", LESSON_PAGES)
def test_a_lesson_asks_shows_and_marks(page, lab, name):
    read_and_move(page, lab, name)
