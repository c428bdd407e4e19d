"""A Chromium for tests: where none is found they are skipped with a reason; where CI is set they fail."""

import os
from contextlib import contextmanager

import pytest
from jupyter_lab import NO_CHROMIUM, chromium_path, running_chromium
from playwright.sync_api import expect

__all__ = ["chromium_for_a_test"]

TOLD_MS = 45_000  # for a page to show what it was asked for, on a slow machine among other tests


@contextmanager
def chromium_for_a_test():
    """A running Chromium, or the reason why there is none."""
    path = chromium_path()
    if path is None:
        pytest.fail(NO_CHROMIUM) if os.environ.get("CI") else pytest.skip(NO_CHROMIUM)
    expect.set_options(timeout=TOLD_MS)  # what does not come fails as late; what comes is waited for no longer than it takes
    with running_chromium(path) as browser:
        yield browser
