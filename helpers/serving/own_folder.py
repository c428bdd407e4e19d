"""A kernel that serves a desk keeps to that desk's folder: a path that is typed into a field reaches no other desk, and changes nothing of
the workbook.

A page runs no code of its reader's; this is a rail for typed paths, not a wall against code that wants out.
"""

import os
import sys
import tempfile
from pathlib import Path

__all__ = ["REFUSAL", "keep_to"]

REFUSAL = "only files in your own folder can be used here"
CHANGES = {"os.mkdir", "os.remove", "os.rename", "os.rmdir", "os.link", "os.symlink", "os.truncate", "os.chmod", "shutil.rmtree"}
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


def keep_to(folder):
    """From now on this process writes in `folder` and among the system's temporary files only, and reads nothing in a folder beside it.

    An attempt ends in a PermissionError with a sentence. It cannot be taken back.
    """
    own, temporary = os.path.realpath(folder), os.path.realpath(tempfile.gettempdir())
    beside = os.path.dirname(own)
    free = [own, "/dev", *([] if _inside(beside, temporary) else [temporary])]  # a class may lie among temporary files itself

    def look(event, values):
        if event == "open":
            check(values[0], bool(values[2] and values[2] & WRITING))
        elif event == "sqlite3.connect":
            check(values[0], True)
        elif event in CHANGES:
            for path in values[:2]:
                check(path, True)

    def check(path, changes):
        if isinstance(path, str | bytes | os.PathLike):
            real = os.path.realpath(os.fsdecode(path))
            if (changes or _inside(real, beside)) and not any(_inside(real, place) for place in free):
                raise PermissionError(1, REFUSAL, Path(real).name)

    sys.addaudithook(look)


def _inside(path, folder):
    return path == folder or path.startswith(folder.rstrip(os.sep) + os.sep)
