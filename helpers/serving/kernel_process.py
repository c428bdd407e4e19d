"""A process that is the kernel of one page: what it may take of the machine, where it may write, and that it does not outlive its server.

`python -P -m helpers.serving.kernel_process -f FILE` is one that is started by itself; a warm parent calls `become_kernel` in its child.
"""

import ctypes
import os
import signal
import sys
from contextlib import suppress

from ipykernel import kernelapp

from helpers.serving.own_folder import keep_to
from helpers.teaching.store import FOLDER_VARIABLE

__all__ = ["become_kernel"]

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
