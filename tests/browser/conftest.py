"""Fixtures of the browser tests. Where no Chromium is found the tests are skipped with a reason; where CI is set they fail."""

import os

import pytest
from jupyter_lab import NO_CHROMIUM, chromium_path, running_chromium, running_lab


# Scope module, not session: while Playwright is alive its event loop runs in this thread, and nbval's kernels need one of their own.
@pytest.fixture(scope="module")
def chromium():
    """A running Chromium."""
    path = chromium_path()
    if path is None:
        pytest.fail(NO_CHROMIUM) if os.environ.get("CI") else pytest.skip(NO_CHROMIUM)
    with running_chromium(path) as browser:
        yield browser


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """A running JupyterLab."""
    with running_lab(tmp_path_factory.mktemp("lab")) as lab:
        yield lab


@pytest.fixture
def page(chromium):
    """An empty page as wide as a laptop."""
    page = chromium.new_page(viewport={"width": 1400, "height": 1000})
    yield page
    page.close()
