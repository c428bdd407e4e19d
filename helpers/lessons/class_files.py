"""Files of a class: names that are safe on every system whatever somebody is called, and writing that leaves a file whole or as it was."""

import os
import re
from pathlib import Path

from helpers.studies.whole_files import safe_name, write_whole

__all__ = ["free_path", "made_folder", "printable", "safe_name", "write_whole"]

UNPRINTABLE = re.compile("[\\x00-\\x1f\\x7f-\\x9f\\ud800-\\udfff\\ufffe\\uffff]")


def free_path(path):
    """The path, or the next with a number where a file is there already: what somebody has written into it stays."""
    path, number = Path(path), 2
    free = path
    while os.path.lexists(free):
        free, number = path.with_name(f"{path.stem}_{number}{path.suffix}"), number + 1
    return free


def made_folder(path):
    """The folder; one that is made is its owner's alone, for keys and marks are nobody else's. Raises ValueError with a sentence."""
    folder = Path(path).expanduser()
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as trouble:
        raise ValueError(f"folder {folder.name!r:.80} cannot be made: {trouble.strerror}") from None
    return folder


def printable(text):
    """A text as pages and sheets can hold it: what stands for no sign (control characters, half a sign of two) becomes a mark for that.

    >>> printable("Ada"), printable("A\\x07da\\ud83d\\uffff")
    ('Ada', 'A�da��')
    """
    return UNPRINTABLE.sub("\ufffd", text)
