"""The process that has all of the workbook in memory and turns into kernels: `python -m helpers.serving.fork_server SOCKET`.

A kernel that is born here has nothing left to import, and shares that memory with the others until one of them writes to it. Every order
is one message on the socket. Its end is the end of this process, and a kernel ends when its parent is gone (`kernel_process`).
"""

import gc
import json
import os
import select
import shutil
import signal
import socket
import sys

from ipykernel import (
    ipkernel,  # noqa: F401 - all of a kernel, before the first is born
    zmqshell,  # noqa: F401 - all of a kernel, before the first is born
)
from ipywidgets import load_ipython_extension
from ipywidgets.widgets.widget import _instances

from helpers.fault_bench import lesson, tables  # noqa: F401
from helpers.lessons import (
    LESSONS,
    page,  # noqa: F401
)
from helpers.pages import acceptance, concept, design, injection, progress, review, sensitivity, start  # noqa: F401
from helpers.pages.measured import crew, filled, fitted, trend_files, years  # noqa: F401
from helpers.pages.new_site import panel  # noqa: F401
from helpers.pages.record import papers, views  # noqa: F401
from helpers.plots import markup  # noqa: F401
from helpers.plots.picture import WHOLE, Picture
from helpers.serving import LONGEST_ORDER, READY
from helpers.serving.kernel_process import become_kernel
from helpers.studies.duty.fan_duty import hand_ladder, leaky_stair
from helpers.studies.low_demand.night import courses_of, mill_street
from helpers.studies.measured.trends.file_shape import pandas
from helpers.studies.placement.table import placement_table
from helpers.studies.tuning.trial import bench
from helpers.teaching import plan  # noqa: F401
from helpers.teaching.derivation import Derivation
from helpers.teaching.questions import exercise_of


def connect(shell):
    """Let pages ask a kernel that has just begun for the states of its widgets, as the import does where the kernel is there before it.

    shell: the kernel's.
    """
    load_ipython_extension(shell)


def made():
    """How many widgets there are in this process."""
    return len(_instances)


for _of in LESSONS:  # before the first kernel is born
    _of.file("lesson")
    _of.file("derivations")


def warm():
    """Calculate once what every kernel would, a step at a time: predictions, exercises, a picture, studies, mathematics."""
    for prediction in LESSONS.predictions.values():
        yield prediction.find()
    for of in LESSONS:
        yield [exercise_of(make, 0) for make in of.makers]
    yield Picture(height_px=300).axes(WHOLE, (60, 20, 50, 40), "Pressure [Pa]", "Storey", "Fonts are found once").figure.canvas.draw()
    for study in (hand_ladder, leaky_stair, mill_street, courses_of, placement_table):
        yield study()
    for module in (of.file("derivations") for of in LESSONS):
        for shown in (getattr(module, name)() for name in module.__all__):
            yield shown._repr_mimebundle_() if isinstance(shown, Derivation) else shown
    yield pandas()  # of page 19: 60 MB that kernels then share
    yield bench().study  # of all weathers, for lesson 08: 2.5 s of every kernel that opens it
    if made():
        raise RuntimeError("no widget may be made before there is a kernel: its page would never hear of it")


def serve(line):
    """Give birth to one kernel for each order on this socket, until it ends; calculate beforehand while there is none."""
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for the dead
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server's to answer
    line.sendall(READY)
    for _ in warm():
        while select.select([line], [], [], 0)[0]:
            if not _answer(line):
                return
    while _answer(line):
        pass


def _answer(line):
    """Answer the next order; whether there was one."""
    order = line.recv(LONGEST_ORDER)
    if order:
        gc.freeze()  # the collector leaves alone what all share: memory that is written to is shared no more
        number = os.fork()
        if not number:
            line.close()
            _become_kernel(**json.loads(order))
        line.sendall(str(number).encode())
    return bool(order)


def _become_kernel(arguments, env, cwd, folder):
    """Does not return."""
    parent, status = os.getppid(), 1
    try:
        os.setsid()
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        os.environ.clear()
        os.environ.update(env, JPY_PARENT_PID=str(parent))
        os.chdir(cwd)
        # widgets were imported before there was a kernel that could hear of them
        become_kernel(arguments, parent, folder, lambda kernel: connect(kernel.shell))
        status = 0
    finally:
        os._exit(status)


if __name__ == "__main__":
    with socket.socket(fileno=int(sys.argv[1])) as given:
        serve(given)
    if sys.argv[2]:
        shutil.rmtree(sys.argv[2], ignore_errors=True)
