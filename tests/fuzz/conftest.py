"""The fuzz tests share the makers of arguments and files that lie beside them."""

import sys
import warnings
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(autouse=True)
def every_warning_is_a_fault():
    """What would only be warned of is told as an error."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        yield
