"""A kernel that serves a desk keeps to that desk's folder: a path that is typed into a field reaches no other desk, nor anything else on
this machine but the workbook's own texts, and changes nothing outside the desk. How much a desk may hold is asked before every write.

A page runs no code of its reader's; this is a rail for typed paths, not a wall against code that wants out.
"""

import errno
import os
import re
import sys
import sysconfig
import tempfile
import time
from pathlib import Path

__all__ = ["FULL", "MOST_BYTES", "MOST_FILES", "OWN_TEMPORARY", "REFUSAL", "held", "keep_to"]

REFUSAL = "only files in your own folder can be used here"
MOST_BYTES, MOST_FILES = 200_000_000, 500  # of one desk
FULL = f"your desk holds {MOST_BYTES // 1_000_000} MB in {MOST_FILES} files at the most, and is full"
OWN_TEMPORARY = ".tmp"  # in the desk's folder, so that it counts, and is no way around
CHANGES = {
    "os.mkdir",
    "os.remove",
    "os.rename",
    "os.rmdir",
    "os.link",
    "os.symlink",
    "os.truncate",
    "os.chmod",
    "os.chown",
    "shutil.rmtree",
}
LISTS = {"os.listdir", "os.scandir", "glob.glob"}
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
WORKBOOK = Path(__file__).parents[2]
TEXTS = [
    str(WORKBOOK / name) for name in ("data", "helpers", "notebooks", "tests/published")
]  # its desks, classes and keys are not among them
SYSTEM = ["/usr/share", "/usr/lib", "/lib", "/etc/fonts", "/etc/localtime", "/dev/null", "/dev/urandom", "/proc/self", "/proc/meminfo"]
PROCESSES = re.compile(r"/proc(/(\d+/)?stat)?")  # a kernel that ends looks for what it has started: numbers and names of programs
LOOK_S = 1.0  # how old a count of what a desk holds may be


def keep_to(folder):
    """From now on this process writes in `folder` only, and reads there, in the workbook, and what Python itself is made of.

    An attempt ends in a PermissionError with a sentence, a write into a desk that is full in an OSError with one. It cannot be taken back.
    """
    own = os.path.realpath(folder)
    temporary = os.path.join(own, OWN_TEMPORARY)
    os.makedirs(temporary, mode=0o700, exist_ok=True)
    os.environ["TMPDIR"] = tempfile.tempdir = temporary
    beside = os.path.dirname(own)
    python = {sys.prefix, sys.base_prefix, *sysconfig.get_paths().values(), *(path for path in sys.path if path and path != str(WORKBOOK))}
    read = [os.path.realpath(path) for path in (*TEXTS, *SYSTEM, *python) if len(path) > 1]
    counted = [float("-inf"), ""]

    def look(event, values):
        if event == "open":
            check(values[0], bool(values[2] and values[2] & WRITING))
        elif event == "sqlite3.connect":
            check(values[0], True)
        elif event in CHANGES:
            for path in values[:2]:
                check(path, True, grows=event in ("os.mkdir", "os.link", "os.symlink"))
        elif event in LISTS:
            check(values[0], False)

    def check(path, changes, grows=True):
        if not isinstance(path, str | bytes | os.PathLike):
            return
        real = os.path.realpath(os.fsdecode(path))
        if _inside(real, own):
            if changes and grows:
                room()
        elif not changes and PROCESSES.fullmatch(real):
            return
        elif (changes and real != os.devnull) or _inside(real, beside) or not any(_inside(real, place) for place in read):
            raise PermissionError(errno.EPERM, REFUSAL, Path(real).name)

    def room():
        if time.monotonic() - counted[0] > LOOK_S:
            counted[:] = float("inf"), ""  # what looks does not look at itself
            size, files = held(own)
            counted[:] = time.monotonic(), size > MOST_BYTES or files > MOST_FILES
        if counted[1]:
            raise OSError(errno.EDQUOT, FULL)

    sys.addaudithook(look)


def held(folder):
    """(bytes, files) of all that a desk holds."""
    size = files = 0
    for place, _, names in os.walk(folder):
        for name in names:
            try:
                size += os.lstat(os.path.join(place, name)).st_size
            except OSError:
                continue  # gone while we looked
            files += 1
    return size, files


def _inside(path, folder):
    return path == folder or path.startswith(folder.rstrip(os.sep) + os.sep)
