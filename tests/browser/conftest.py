"""Fixtures of the browser tests. Where no Chromium is found the tests are skipped with a reason; where CI is set they fail."""

import pytest
from chromium_or_reason import chromium_for_a_test
from jupyter_lab import running_lab


# Scope module, not session: while Playwright is alive its event loop runs in this thread, and nbval's kernels need one of their own.
@pytest.fixture(scope="module")
def chromium():
    """A running Chromium."""
    with chromium_for_a_test() as browser:
        yield browser


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """A running JupyterLab."""
    with running_lab(tmp_path_factory.mktemp("lab")) as lab:
        yield lab


@pytest.fixture(scope="module")
def page(chromium):
    """A page as wide as a laptop, JupyterLab in it from the first notebook on."""
    page = chromium.new_page(viewport={"width": 1400, "height": 1000})
    yield page
    page.close()
