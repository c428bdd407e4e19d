"""The process that has all of the workbook in memory and turns into kernels: `python -m helpers.serving.warm_parent SOCKET`.

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

from ipykernel import ipkernel, zmqshell  # noqa: F401 - all of a kernel, before the first is born

from helpers.lessons import glossary  # noqa: F401
from helpers.lessons.bank import EXERCISES, PREDICTIONS
from helpers.lessons.derivations import (
    average_lowest_highest,
    leakage_and_fan_duty,
    low_demand_stop,
    pressure_window,
    reverse_or_direct,
    scaling_the_signal,
    transmitter_range,
    tuning_and_door_events,
    where_the_transmitters_go,
)
from helpers.lessons.exercise import exercise_of
from helpers.panels import (  # noqa: F401
    acceptance_panel,
    design,
    doubts_card,
    fault_bench,
    fault_bench_lesson,
    injection_panel,
    live_widgets,
    new_site_panel,
    progress_view,
    record_view,
    review_panel,
    self_check,
    stair_cooling,
    start,
)
from helpers.panels.lessons import average_lowest_highest as _06  # noqa: F401
from helpers.panels.lessons import leakage_and_fan_duty as _02  # noqa: F401
from helpers.panels.lessons import low_demand_stop as _09  # noqa: F401
from helpers.panels.lessons import pressure_window as _01  # noqa: F401
from helpers.panels.lessons import reverse_or_direct as _05  # noqa: F401
from helpers.panels.lessons import scaling_the_signal as _04  # noqa: F401
from helpers.panels.lessons import transmitter_range as _03  # noqa: F401
from helpers.panels.lessons import tuning_and_door_events as _08
from helpers.panels.lessons import where_the_transmitters_go as _07  # noqa: F401
from helpers.panels.picture import WHOLE, Picture
from helpers.serving.kernel_process import become_kernel
from helpers.serving.orders import LONGEST_ORDER, READY
from helpers.studies.leaky_stair import hand_ladder, leaky_stair
from helpers.studies.low_demand_night import courses_of, mill_street
from helpers.studies.placement_table import placement_table

__all__ = ["serve", "warm"]

DERIVATIONS = (
    average_lowest_highest,
    leakage_and_fan_duty,
    low_demand_stop,
    pressure_window,
    reverse_or_direct,
    scaling_the_signal,
    transmitter_range,
    tuning_and_door_events,
    where_the_transmitters_go,
)


def warm():
    """Calculate once what every kernel would, a step at a time: predictions, exercises, a picture, studies, mathematics."""
    for predictions in PREDICTIONS.values():
        for prediction in predictions:
            yield prediction.find("Pa")
    for makers in EXERCISES.values():
        yield [exercise_of(make, 0) for make in makers]
    yield Picture(height_px=300).axes(WHOLE, (60, 20, 50, 40), "Pressure [Pa]", "Storey", "Fonts are found once").figure.canvas.draw()
    for study in (hand_ladder, leaky_stair, mill_street, courses_of, placement_table):
        yield study()
    for module in DERIVATIONS:
        for name in module.__all__:
            yield getattr(module, name)()._repr_mimebundle_()
    yield _08._studied()  # of all weathers, for lesson 08: 2.5 s of every kernel that opens it
    if live_widgets.made():
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
        become_kernel(arguments, parent, folder, lambda kernel: live_widgets.connect(kernel.shell))
        status = 0
    finally:
        os._exit(status)


if __name__ == "__main__":
    with socket.socket(fileno=int(sys.argv[1])) as given:
        serve(given)
    if sys.argv[2]:
        shutil.rmtree(sys.argv[2], ignore_errors=True)  # the kernels' keys: the server clears them away itself, unless it was killed
