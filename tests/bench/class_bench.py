"""A class at once: 30 learners on one server, each moving a slider about every two seconds for five minutes; loopback addresses only.

    class_p50_ms, class_p95_ms    from the move that leaves the page's connection to the picture that comes back over it
    class_memory_mb               most of server, parent and kernels together, memory that is shared counted once
    class_failures                pages that did not come, pictures that did not come within ten seconds, connections that broke
    class_open_s                  until the last of all learners, who open the page at the same moment, has its first picture
    class_cpu_s_a_page, class_cpu_s_a_move    processor seconds of the server and of the kernels, for each page and each move

    .venv/bin/python tests/bench/class_bench.py                                       the whole of it, some seven minutes
    .venv/bin/python tests/bench/class_bench.py --learners 10 --seconds 20            a short one

Each learner speaks what a browser speaks (signs in, gets the page, asks for the widgets' states, sends the slider's value over the page's
web socket and waits for the picture's bytes) but is no browser: what 30 screens take to decode and paint is theirs, and a class network's
delay is not here. The learners' own work shares the machine with the server; what it takes is told as `class_driver_cpu_share`.
"""

import argparse
import asyncio
import json
import os
import random
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from tornado.httpclient import AsyncHTTPClient, HTTPRequest
from tornado.websocket import websocket_connect

__all__ = ["class_speed"]

LEARNERS, SECONDS, EVERY_S = 30, 300, 2.0
PAGE = "02_leakage_and_fan_duty.ipynb"  # a network solved for every move: the heaviest
START_S, OPEN_S, PICTURE_S, MEMORY_EVERY_S, CLOSE_S = 90, 300, 10, 5, 20
PROTOCOL = "v1.kernel.websocket.jupyter.org"
CONTROL = "jupyter.widget.control"


def class_speed(learners=LEARNERS, seconds=SECONDS, page=PAGE, cold=False):
    """The figures, by name. Linux only: elsewhere nothing is measured, and a line says so."""
    if sys.platform != "linux":
        print("class not measured: what memory is shared is asked of Linux", file=sys.stderr)
        return {}
    with tempfile.TemporaryDirectory() as folder, Server(Path(folder), learners, cold) as server:
        return asyncio.run(_class(server, learners, seconds, page))


class Server:
    """A class server of one's own, ended by its process number."""

    def __init__(self, folder, desks, cold=False):
        self.folder, self.port = folder, free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.command = [sys.executable, "-m", "helpers.serving", "run", str(folder), f"--port={self.port}", f"--desks={desks}"]
        self.command += ["--cold"] if cold else []

    def __enter__(self):
        self.log = (self.folder / "server.log").open("w")
        self.process = subprocess.Popen(self.command, stdin=subprocess.DEVNULL, stdout=self.log, stderr=self.log)
        return self

    def __exit__(self, *trouble):
        self.process.terminate()
        try:
            self.process.wait(CLOSE_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.log.close()

    @property
    def word(self):
        return (self.folder / "class_word.txt").read_text().strip()

    def processes(self):
        """Numbers of the server, the warm parent and the kernels."""
        parents, found = _parents(), {self.process.pid}
        while more := {number for number, parent in parents.items() if parent in found} - found:
            found |= more
        return found

    def kernels(self):
        """Numbers of the kernels that a warm parent bore."""
        parents = _parents()
        return [number for number, parent in parents.items() if parents.get(parent) == self.process.pid]

    def memory_mb(self):
        """Memory of all of them; what several share counts once."""
        return sum(_proportional_kb(number) for number in self.processes()) / 1024

    def cpu_s(self):
        """Processor seconds: (server, kernels and their parent)."""
        used = {number: _cpu_s(number) for number in self.processes()}
        server = used.pop(self.process.pid, 0.0)
        return server, sum(used.values())

    async def up(self):
        """Wait until it answers. Raises RuntimeError."""
        end = time.monotonic() + START_S
        while time.monotonic() < end and self.process.poll() is None:
            try:
                return await AsyncHTTPClient().fetch(f"{self.url}/login")
            except OSError:
                await asyncio.sleep(0.1)
        raise RuntimeError(f"the class server did not start:\n{(self.folder / 'server.log').read_text()[-3000:]}")


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _parents():
    """Number of the parent of every process."""
    found = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            found[int(path.parent.name)] = int(path.read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue  # ended while we looked
    return found


def _proportional_kb(number):
    try:
        lines = Path(f"/proc/{number}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0
    return next(int(line.split()[1]) for line in lines if line.startswith("Pss:"))


def _cpu_s(number):
    try:
        values = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(values[11]) + int(values[12])) / os.sysconf("SC_CLK_TCK")


@dataclass
class Learner:
    """One learner: cookies of the desk, the page's connection, the widgets' states as they come."""

    server: Server
    name: str
    jar: dict = field(default_factory=dict)
    states: dict = field(default_factory=dict)
    times_ms: list = field(default_factory=list)
    failures: list = field(default_factory=list)

    async def fetch(self, path, form=None):
        """(status, text) of a page, with the cookies of this learner."""
        body = urlencode(form) if form else None
        request = HTTPRequest(
            f"{self.server.url}{path}", "POST" if form else "GET", {"Cookie": self.cookies}, body, follow_redirects=False,
            connect_timeout=OPEN_S, request_timeout=OPEN_S,
        )  # fmt: skip
        answer = await AsyncHTTPClient().fetch(request, raise_error=False)
        for line in answer.headers.get_list("Set-Cookie"):
            name, _, value = line.partition(";")[0].partition("=")
            self.jar[name] = value
        return answer.code, answer.body.decode()

    @property
    def cookies(self):
        return "; ".join(f"{name}={value}" for name, value in self.jar.items())

    async def sit(self):
        """Take a desk."""
        _, form = await self.fetch("/login")
        address = re.search(r'action="(/login\?[^"]+)"', form)[1]
        code, told = await self.fetch(address, {"name": self.name, "word": "some word", "class_word": self.server.word})
        if code != 302:
            raise RuntimeError(f"no desk for {self.name}: {told}")

    async def open(self, page):
        """Get the page, connect to its kernel, ask for the states of its widgets; find the first slider and its picture."""
        code, html = await self.fetch(f"/voila/render/{page}")
        if code != 200:
            raise RuntimeError(f"{page}: {code} {html[-300:]}")
        kernel = re.search(r'"kernelId": ?"([^"]+)"', html)[1]
        address = f"{self.server.url.replace('http', 'ws', 1)}/api/kernels/{kernel}/channels?session_id={uuid.uuid4()}"
        request = HTTPRequest(address, headers={"Cookie": self.cookies})
        self.socket = await websocket_connect(request, subprotocols=[PROTOCOL], max_message_size=1 << 28)
        await self._ask_states()
        self.slider, self.picture = self._first_slider(html)

    async def _ask_states(self):
        await self.say("comm_open", {"comm_id": (comm := uuid.uuid4().hex), "target_name": CONTROL, "data": {}}, {"version": "1.0.0"})
        await self.say("comm_msg", {"comm_id": comm, "data": {"method": "request_states"}})
        while True:
            kind, content, _ = await self.hear(OPEN_S)
            if kind == "comm_msg" and content["comm_id"] == comm and content["data"].get("method") == "update_states":
                self.states = content["data"]["states"]
                return

    def _first_slider(self, html):
        """Numbers of the first slider of a panel in the page's order, and of the picture beside it."""
        shown = re.findall(r'"model_id": ?"([0-9a-f]{32})"', html)
        for root in shown:
            if "pressure-loop-panel" in self.states.get(root, {}).get("state", {}).get("_dom_classes", ()):
                below = list(self._below(root))
                slider = next(one for one in below if self.states[one]["model_name"] == "FloatSliderModel")
                return slider, next(one for one in below if self.states[one]["model_name"] == "ImageModel")
        raise RuntimeError("no panel with a slider on this page")

    def _below(self, number):
        yield number
        for child in self.states[number]["state"].get("children", ()):
            yield from self._below(child.removeprefix("IPY_MODEL_"))

    async def move(self):
        """One step of the slider; milliseconds until the picture that answers it is here."""
        state = self.states[self.slider]["state"]
        low, high, step, value = (state[name] for name in ("min", "max", "step", "value"))
        self.up = value + step <= high + 1e-9 if getattr(self, "up", True) else not value - step >= low - 1e-9
        state["value"] = round(value + (step if self.up else -step), 9)
        begun = time.perf_counter()
        data = {"method": "update", "state": {"value": state["value"]}, "buffer_paths": []}
        own = await self.say("comm_msg", {"comm_id": self.slider, "data": data})
        while True:
            kind, content, parent = await self.hear(PICTURE_S)
            mine = kind == "comm_msg" and content["comm_id"] == self.picture and parent == own
            if mine and ["value"] in content["data"].get("buffer_paths", ()):
                return (time.perf_counter() - begun) * 1e3

    async def say(self, kind, content, metadata=None):
        """Send a message as a page does; returns its number."""
        number = uuid.uuid4().hex
        header = {"msg_id": number, "msg_type": kind, "username": "", "session": self.name, "date": "", "version": "5.3"}
        parts = [b"shell", *(json.dumps(part).encode() for part in (header, {}, metadata or {}, content))]
        offsets = [8 * (len(parts) + 2)]
        for part in parts:
            offsets.append(offsets[-1] + len(part))
        head = b"".join(value.to_bytes(8, "little") for value in (len(offsets), *offsets))
        await self.socket.write_message(head + b"".join(parts), binary=True)
        return number

    async def hear(self, seconds):
        """(kind, content, number of the message it answers) of the next message. Raises ConnectionError, TimeoutError."""
        raw = await asyncio.wait_for(self.socket.read_message(), seconds)
        if raw is None:
            raise ConnectionError("the connection was closed")
        count = int.from_bytes(raw[:8], "little")
        offsets = [int.from_bytes(raw[8 * place : 8 * place + 8], "little") for place in range(1, count + 1)]
        header, parent, content = (json.loads(raw[offsets[place] : offsets[place + 1]]) for place in (1, 2, 4))
        return header["msg_type"], content, parent.get("msg_id")

    async def work(self, until, draw):
        """Move about every two seconds until then; what fails is noted, and the page is given up after it."""
        await asyncio.sleep(draw.uniform(0, EVERY_S))
        while time.monotonic() < until:
            begun = time.monotonic()
            try:
                self.times_ms.append(await self.move())
            except (TimeoutError, ConnectionError) as trouble:
                self.failures.append(f"{self.name}: {type(trouble).__name__} {trouble}")
                return
            await asyncio.sleep(max(0.0, draw.uniform(0.5, 1.5) * EVERY_S - (time.monotonic() - begun)))


async def _class(server, count, seconds, page):
    await server.up()
    learners = [Learner(server, f"Learner {number}") for number in range(1, count + 1)]
    await asyncio.gather(*(one.sit() for one in learners))
    begun, at_first = time.monotonic(), server.cpu_s()
    opened = await asyncio.gather(*(one.open(page) for one in learners), return_exceptions=True)
    open_s = time.monotonic() - begun
    failures = [f"{one.name}: {type(fault).__name__} {fault}" for one, fault in zip(learners, opened, strict=True) if fault]
    there = [one for one, fault in zip(learners, opened, strict=True) if not fault]
    memory = [server.memory_mb()]
    before, own = server.cpu_s(), time.process_time()
    watching = asyncio.create_task(_watch(server, memory))
    until = time.monotonic() + seconds
    await asyncio.gather(*(one.work(until, random.Random(number)) for number, one in enumerate(there)))
    watching.cancel()
    after, own = server.cpu_s(), time.process_time() - own
    times = sorted(ms for one in there for ms in one.times_ms)
    failures += [fault for one in there for fault in one.failures]
    for fault in failures[:10]:
        print(fault, file=sys.stderr)
    a_page = [round((late - early) / max(len(there), 1), 2) for early, late in zip(at_first, before, strict=True)]
    a_move = [round((late - early) / max(len(times), 1), 4) for early, late in zip(before, after, strict=True)]
    return {
        "class_learners": count, "class_seconds": seconds, "class_page": page, "class_moves": len(times),
        "class_p50_ms": round(statistics.median(times), 1) if times else None,
        "class_p95_ms": round(times[int(0.95 * len(times))], 1) if times else None,
        "class_memory_mb": round(max(memory)), "class_failures": len(failures), "class_open_s": round(open_s, 1),
        "class_cpu_s_a_page": dict(zip(("server", "kernels"), a_page, strict=True)),
        "class_cpu_s_a_move": dict(zip(("server", "kernels"), a_move, strict=True)),
        "class_driver_cpu_share": round(own / seconds, 3),
    }  # fmt: skip


async def _watch(server, memory):
    while True:
        await asyncio.sleep(MEMORY_EVERY_S)
        memory.append(server.memory_mb())


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--learners", type=int, default=LEARNERS)
    parser.add_argument("--seconds", type=int, default=SECONDS)
    parser.add_argument("--page", default=PAGE)
    parser.add_argument("--cold", action="store_true", help="every kernel started by itself: what the warm parent saves")
    print(json.dumps(class_speed(**vars(parser.parse_args())), indent=1))
