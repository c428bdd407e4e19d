"""Every page as its reader meets it, one after the other: a worker that waits for a kernel leaves the machine to the other tests."""

import pytest
from reader import PAGES, read_and_move


@pytest.mark.browser
@pytest.mark.parametrize("name", PAGES)
def test_a_page_runs_and_does_what_its_reader_asks_of_it(page, lab, name):
    read_and_move(page, lab, name)
