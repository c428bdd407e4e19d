"""An empty folder for the records of whoever runs the tests: nothing of a person's own is read, shown or changed by them."""

import atexit
import os
import shutil
import tempfile
from functools import cache
from pathlib import Path

from helpers.teaching.store import FOLDER_VARIABLE

__all__ = ["empty_record", "pytest_configure"]


@cache
def empty_record():
    """The folder, made and named in the environment when first asked for, gone when Python ends. Kernels inherit the environment."""
    folder = tempfile.mkdtemp(prefix="pressure-loop-records-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    os.environ[FOLDER_VARIABLE] = folder
    return Path(folder)


def pytest_configure(config):
    """As pytest's plugin: the kernels of notebooks that are tested get it too."""
    empty_record()
