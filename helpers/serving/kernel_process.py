"""The process that is the kernel of one page: what it may take of the machine, where it may write, and that it does not outlive its server.

It keeps to its desk's folder: a path that is typed into a field reaches no other desk, nor anything else on this machine but the
workbook's own texts, and changes nothing outside the desk. How much a desk may hold is asked before every write. A page runs no code of
its reader's; this is a rail for typed paths, not a wall against code that wants out.
`python -P -m helpers.serving.kernel_process -f FILE` is one that is started by itself; a warm parent calls `become_kernel` in its child.
"""

import ctypes
import errno
import os
import re
import signal
import sys
import sysconfig
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from ipykernel import kernelapp

from helpers.teaching.store import FOLDER_VARIABLE

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


MEMORY_BYTES = 1 << 30  # of one kernel at the most: a page that runs wild ends itself, not the class
FILE_BYTES = 50_000_000  # of one file that a page writes
NICENESS = 5  # whoever hands pages and messages on comes before whoever calculates
PR_SET_PDEATHSIG = 1  # of Linux


def become_kernel(arguments, parent, folder, begin=lambda kernel: None):
    """Be a kernel until that is over.

    arguments: of its command line; parent: number of the process with which this one ends; folder: of the desk, outside which nothing is
    read or written; begin: called with the kernel before it hears its first message. Raises SystemExit where the parent has ended already.
    """
    _end_with(parent)
    _limit_itself()
    # ipykernel 7.4 reads the parent's number from the environment when it is imported, which may have been in another process: it is told
    kernel = kernelapp.IPKernelApp.instance(quiet=True, parent_handle=parent)
    kernel.initialize([*arguments, "--HistoryManager.enabled=False"])
    begin(kernel)
    keep_to(folder)  # after the kernel has made what it needs for itself
    kernel.start()


def _end_with(parent):
    """The system ends this process when its parent has ended, however that was; where it cannot, the kernel looks once a second."""
    with suppress(OSError, AttributeError):  # Linux only
        ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    if os.getppid() != parent:
        raise SystemExit


def _limit_itself():
    import resource  # not on Windows, where this file is read and never run

    os.nice(NICENESS)
    for what, most in ((resource.RLIMIT_DATA, MEMORY_BYTES), (resource.RLIMIT_FSIZE, FILE_BYTES), (resource.RLIMIT_CORE, 0)):
        resource.setrlimit(what, (most, most))


if __name__ == "__main__":
    become_kernel(sys.argv[1:], os.getppid(), os.environ[FOLDER_VARIABLE])
