"""A Chromium for tests: where none is found they are skipped with a reason; where CI is set they fail."""

import os
from contextlib import contextmanager

import pytest
from jupyter_lab import NO_CHROMIUM, chromium_path, running_chromium

__all__ = ["chromium_for_a_test"]


@contextmanager
def chromium_for_a_test():
    """A running Chromium, or the reason why there is none."""
    path = chromium_path()
    if path is None:
        pytest.fail(NO_CHROMIUM) if os.environ.get("CI") else pytest.skip(NO_CHROMIUM)
    with running_chromium(path) as browser:
        yield browser
