"""All pages but the lessons as their readers meet them. In a file of their own, so that they and the lessons can run at a time."""

import pytest
from reader import OTHER_PAGES, read_and_move


@pytest.mark.browser
@pytest.mark.parametrize("name", OTHER_PAGES)
def test_a_page_runs_and_its_picture_follows_the_slider(page, lab, name):
    read_and_move(page, lab, name)
