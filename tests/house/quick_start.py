"""What Python leaves out when the tests start, in each worker: named after `-p` in pyproject.toml, so that it comes before all else.

The check of a notebook's form (jsonschema, which nbformat and nbval import) builds the grammars of 38 kinds of web address at every start,
two to three seconds of work, for a format that no notebook's form asks for. Without that package it leaves the format unchecked, as it
does wherever the package is not installed. numpy's threads are for large matrices: ours are small, and threads that wait take the other
worker's core. And what collecting makes stays to the end: looking through it for rubbish, again and again, finds none. In what the tests
make there is some; it is looked for more seldom than Python would, since beside designs, widgets and pictures each look is long.

A run starts some sixty processes (workers, kernels of notebooks, servers), and each of them would compile all helpers anew where the
environment forbids to keep what was compiled: it is kept, beside the sources, where git ignores it.
"""

import gc
import os
import sys

import pytest

__all__ = ["pytest_collection"]

NEW_THINGS = 20_000  # from one look for rubbish to the next

sys.modules.setdefault("rfc3987_syntax", None)  # as if it were not installed
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # kernels inherit it
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # and this
sys.dont_write_bytecode = False


@pytest.hookimpl(wrapper=True)
def pytest_collection(session):
    """No search for rubbish while the tests are collected, and none in them afterwards."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.set_threshold(NEW_THINGS, *gc.get_threshold()[1:])
        gc.enable()
