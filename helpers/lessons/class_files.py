"""Files of a class: names that are safe on every system whatever somebody is called, and writing that leaves a file whole or as it was."""

import os
import re
from pathlib import Path

from helpers.model.file_text import named_path
from helpers.studies.whole_files import safe_name, write_whole

__all__ = ["free_path", "made_folder", "printable", "safe_name", "write_whole"]

TURNING = "\\u202a-\\u202e\\u2066-\\u2069"  # signs that are not seen and turn the letters after them round
UNPRINTABLE = re.compile(f"[\\x00-\\x1f\\x7f-\\x9f\\ud800-\\udfff\\ufffe\\uffff{TURNING}]")


def free_path(path):
    """The path, or the next with a number where a file is there already: what somebody has written into it stays."""
    path, number = Path(path), 2
    free = path
    while os.path.lexists(free):
        free, number = path.with_name(f"{path.stem}_{number}{path.suffix}"), number + 1
    return free


def made_folder(path):
    """The folder; one that is made is its owner's alone, for keys and marks are nobody else's. Raises ValueError with a sentence."""
    folder = named_path(path)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as trouble:
        raise ValueError(f"folder {folder.name!r:.80} cannot be made: {trouble.strerror}") from None
    return folder


def printable(text):
    """A text as pages and sheets can hold it: what stands for no sign (control characters, half a sign of two) becomes a mark for that,
    and so does what would turn a line round.

    >>> printable("Ada"), printable("A\\x07da\\ud83d\\uffff")
    ('Ada', 'A�da��')
    """
    return UNPRINTABLE.sub("\ufffd", text)
