"""Kernels that are born of a warm parent, where the system can do that; how many there may be, and whose they are."""

import asyncio
import json
import os
import select
import signal
import socket
import subprocess
import sys
import time
from contextvars import ContextVar
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from threading import Lock

from jupyter_client.provisioning import LocalProvisioner
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager, ServerKernelManager
from tornado.web import HTTPError
from traitlets import Integer

from helpers.serving import LONGEST_ORDER, READY
from helpers.teaching.store import FOLDER_VARIABLE

DESK = ContextVar("desk")  # of the visitor whose page is being made
START_S = 120
BEGINS_S, LEFT_S = 20, 120  # a page that loads is not connected yet; one whose network has failed comes back within this
LEAST_MB, MEMORY = 600, Path("/proc/meminfo")  # the design record's page, the largest, takes 250 MB
MOST_DESK_MB = 1500  # of one desk's pages while memory is short: four design records together take less
MOST_WAITING = 16_000_000  # bytes from a kernel whose page is away
OF_THE_QUESTION = ("QUERY_STRING", "VOILA_REQUEST_URL", "SCRIPT_NAME", "PATH_INFO")
PAGES_FULL = "This machine has no room for another page just now. Wait a minute and load it again: nothing of yours is lost."
DESK_FULL = "You have {most} pages open, as many as one desk may have. Close one and load this one again."


class WarmParent:
    """A running warm parent. keys: folder of the kernels' keys, which it clears away when the server is gone without having done so."""

    def __init__(self, keys=""):
        self._ask, self._line, self._process, self._keys = Lock(), None, None, str(keys)

    def start(self):
        """Start it and wait until all is imported. Raises RuntimeError where that fails."""
        self._line, other = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with other:
            command = [sys.executable, "-m", "helpers.serving.fork_server", str(other.fileno()), self._keys]
            env = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
            self._process = subprocess.Popen(command, pass_fds=[other.fileno()], stdin=subprocess.DEVNULL, env=env, start_new_session=True)
        self._line.settimeout(START_S)
        if self._line.recv(len(READY)) != READY:
            raise RuntimeError("the warm parent did not start; what it said stands above")

    def stop(self):
        """End it; its kernels end by themselves soon after."""
        if self._line is not None:
            self._line.close()
            self._process.wait()
            self._line = None

    def bear(self, **order):
        """Number of a new process, which becomes a kernel; a parent that has died is started anew. Raises RuntimeError, also for an order
        that is too long: it is measured here, for one that the line cannot carry would end the parent and every page with it."""
        said = json.dumps(order).encode()
        if len(said) > LONGEST_ORDER:
            raise RuntimeError(f"an order must have {LONGEST_ORDER} bytes at the most, got {len(said)}")
        with self._ask:
            for _ in range(2):
                try:
                    if self._line is None:
                        self.start()
                    self._line.sendall(said)
                    if number := self._line.recv(LONGEST_ORDER):
                        return int(number)
                    why = "its parent has ended"
                except OSError as trouble:
                    why = trouble.strerror
                self.stop()
        raise RuntimeError(f"no kernel could be born: {why}")


class _Born:
    """A process that is not our child, asked by its own handle: numbers of processes are used again, handles are not."""

    stdin = stdout = stderr = None

    def __init__(self, number):
        self.pid, self._handle = number, os.pidfd_open(number)

    def poll(self):
        return 1 if self._ended(0) else None

    def wait(self, timeout=None):
        if not self._ended(timeout):
            raise subprocess.TimeoutExpired(f"kernel {self.pid}", timeout)
        os.close(self._handle)
        self._handle = None
        return 1

    def send_signal(self, number):
        if not self._ended(0):
            signal.pidfd_send_signal(self._handle, number)

    def kill(self):
        self.send_signal(signal.SIGKILL)

    def terminate(self):
        self.send_signal(signal.SIGTERM)

    def _ended(self, seconds):
        return self._handle is None or bool(select.select([self._handle], [], [], seconds)[0])


class WarmProvisioner(LocalProvisioner):
    """Provides kernels that a warm parent bears; `bear` is called with the order and returns the number of the process."""

    bear = None

    async def launch_kernel(self, cmd, **order):
        """A kernel with the arguments of this command, in this folder with this environment."""
        env, cwd = order["env"], order["cwd"]
        number = await asyncio.to_thread(self.bear, arguments=cmd[4:], env=env, cwd=cwd, folder=env[FOLDER_VARIABLE])
        self.process, self.pid, self.pgid, self.cwd = _Born(number), number, number, cwd
        return self.connection_info


class ClassKernelManager(ServerKernelManager):
    """One kernel of a class."""

    async def _async_pre_start_kernel(self, **kw):
        self.kernel_id = self.kernel_id or kw.pop("kernel_id")
        if self.provisioner is None and self.parent.warm:
            self.provisioner = WarmProvisioner(kernel_id=self.kernel_id, kernel_spec=self.kernel_spec, parent=self)
            self.provisioner.bear = self.parent.warm.bear
        return await super()._async_pre_start_kernel(**kw)

    def format_kernel_cmd(self, extra_arguments=None):
        """The command of a kernel that is started by itself: it keeps to its desk's folder as one that is born does."""
        return [sys.executable, "-P", "-m", "helpers.serving.kernel_process", "-f", self.connection_file, *(extra_arguments or ())]

    pre_start_kernel = _async_pre_start_kernel


class ClassKernels(AsyncMappingKernelManager):
    """All kernels of a class: each in its desk's folder, with its desk's record; no more at once than the machine bears."""

    most_pages = Integer(80, config=True, help="Pages open at once, all desks together.")
    most_pages_a_desk = Integer(4, config=True, help="Pages open at once of one desk.")

    def __init__(self, **traits):
        super().__init__(**traits)
        self.warm = None  # a WarmParent, or every kernel is started by itself
        self._of, self._begun, self._coming = {}, {}, []

    async def _async_start_kernel(self, *, env=None, path=None, **order):
        folder = DESK.get().folder
        await self._make_room(folder)
        self._coming.append(folder)
        try:
            env = {**(env or os.environ), FOLDER_VARIABLE: str(folder)}
            for asked in OF_THE_QUESTION:  # as long as a visitor likes, and no page looks at them
                env.pop(asked, None)
            number = await super()._async_start_kernel(env=env, path="", **order)
        finally:
            self._coming.remove(folder)
        self._of[number], self._begun[number] = folder, time.monotonic()
        return number

    start_kernel = _async_start_kernel

    def cwd_for_path(self, path, env=None, **more):
        """The desk's own folder: what a page writes lies there, and a path typed into it begins there."""
        return env[FOLDER_VARIABLE]

    def connected(self, number):
        """How many connections pages have to this kernel."""
        return self._kernel_connections.get(number) or 0

    def start_buffering(self, kernel_id, session_key, channels):
        """As the server's: what a kernel says while its page has lost the network waits for it; but no more than so many bytes."""
        super().start_buffering(kernel_id, session_key, channels)
        held, kept = 0, self._kernel_buffers[kernel_id]["buffer"]

        def wait(channel, parts):
            nonlocal held
            held += sum(len(part) for part in parts)
            if held <= MOST_WAITING:
                kept.append((channel, parts))
            else:  # the page loads again, and finds all of it in its record
                self.stop_buffering(kernel_id)

        for channel, stream in channels.items():
            stream.on_recv(partial(wait, channel))

    def owner(self, number):
        """Folder of the desk whose kernel this is, or None where there is none of this number."""
        return self._of.get(number) if number in self else None

    async def lives(self, number):
        """Whether this kernel runs; the place of one that has died is given free."""
        if await self.get_kernel(number).is_alive():
            return True
        await self.shutdown_kernel(number, now=True)
        return False

    async def cull_kernel_if_idle(self, kernel_id):
        """As the server's; a page that was left has no kernel for long, and one desk does not take the machine's memory."""
        if memory_left_mb() < LEAST_MB:
            await self._close_largest()
        if self._left(kernel_id, LEFT_S):
            await self.shutdown_kernel(kernel_id, now=True)
        else:
            await super().cull_kernel_if_idle(kernel_id)

    def desk_is_full(self, folder):
        """The sentence for a desk that has all its pages open or coming, with somebody at each; else nothing."""
        there = [number for number, owner in self._of.items() if owner == folder and not self._left(number, BEGINS_S)]
        coming = sum(one == folder for one in self._coming)
        return DESK_FULL.format(most=self.most_pages_a_desk) if len(there) + coming >= self.most_pages_a_desk else ""

    async def _make_room(self, folder):
        """Raises HTTPError, with a sentence, where another page would be too many even when those that were left are closed."""
        if self._open(folder) >= self.most_pages_a_desk:
            await self._close_left([number for number, owner in self._of.items() if owner == folder])
        if self._open(folder) >= self.most_pages_a_desk:
            raise HTTPError(503, DESK_FULL.format(most=self.most_pages_a_desk))
        if self._full():
            await self._close_left(list(self._of))
        if memory_left_mb() < LEAST_MB:
            await self._close_largest()
        if self._full():
            raise HTTPError(503, PAGES_FULL)

    def _full(self):
        return len(self) + len(self._coming) >= self.most_pages or memory_left_mb() < LEAST_MB

    def _open(self, folder):
        self._of = {number: owner for number, owner in self._of.items() if number in self}
        return sum(owner == folder for owner in (*self._of.values(), *self._coming))

    async def _close_largest(self):
        """End the largest page of the desk that holds most, where that is more than any lesson takes; what was done there is kept."""
        begun = {number: getattr(self._kernels[number], "provisioner", None) for number in self._of if number in self}
        used = {number: _own_mb(one.pid) for number, one in begun.items() if one is not None and one.pid}
        desks = {}
        for number, mb in used.items():
            desks[self._of[number]] = desks.get(self._of[number], 0.0) + mb
        if desks and desks[most := max(desks, key=desks.get)] > MOST_DESK_MB:
            largest = max((number for number in used if self._of[number] == most), key=used.get)
            self.log.warning("Memory is short: the largest page of desk %s was ended.", most.name)
            await self.shutdown_kernel(largest, now=True)

    async def _close_left(self, numbers):
        left = [number for number in numbers if self._left(number, BEGINS_S)]
        await asyncio.gather(*(self.shutdown_kernel(number, now=True) for number in left))

    def _left(self, number, seconds):
        """Whether nobody is connected to a kernel that has been there, and silent, for so long."""
        if number not in self or self._kernel_connections.get(number):
            return False
        silent = (datetime.now(UTC) - self._kernels[number].last_activity).total_seconds()
        return min(silent, time.monotonic() - self._begun.get(number, time.monotonic())) > seconds


def _own_mb(number):
    """Memory of a process [MB], what it shares with others counted in its part; 0 where the system does not say."""
    try:
        lines = Path(f"/proc/{number}/smaps_rollup").read_text(encoding="ascii").splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("Pss:")), 0.0)


def memory_left_mb():
    """Memory that this machine has left, where it says so; else without end."""
    try:
        lines = MEMORY.read_text(encoding="ascii").splitlines()
    except OSError:
        return float("inf")  # not Linux: only the number of pages is limited
    return next(int(line.split()[1]) for line in lines if line.startswith("MemAvailable:")) / 1024
