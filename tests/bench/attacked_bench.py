"""A class while one of its learners attacks it: 30 at work as in class_bench.py, and a hostile desk that makes every known attack.

    class_attacked_p95_ms       of the others' moves, from the move to the picture
    class_attacked_failures     pages, pictures and connections of the others that did not come or broke
    class_attacked_lost         answers that were kept on a page and are not in the desk's record afterwards
    class_attacked_server_mb    most memory of the server's own process

    .venv/bin/python tests/bench/attacked_bench.py                                    the whole of it, some four minutes
    .venv/bin/python tests/bench/attacked_bench.py --learners 4 --seconds 20          a short one
    .venv/bin/python tests/bench/attacked_bench.py --only silence                     one attack alone

Everything is on this machine's own loopback address. The attacker shares the machine with the class, at a lower priority: what it takes is
told as `class_attacked_attacker_cpu_share`. On a class network it would have a computer of its own.
"""

import argparse
import asyncio
import json
import random
import statistics
import sys
import tempfile
import time
from pathlib import Path

from class_bench import LEARNERS, PAGE, Learner, Server

from helpers.teaching.record import LearnerRecord

__all__ = ["attacked_speed"]

SECONDS, KEEP_EVERY_S, ANSWER_S, LOOK_S = 120, 10, 10, 1
KEEP = "Keep my prediction"


class AtWork(Learner):
    """A learner who moves the slider and now and then keeps a prediction; what was kept is remembered."""

    def __init__(self, *fields):
        super().__init__(*fields)
        self.kept = 0

    async def keep(self):
        """Choose or type a prediction and keep it; it counts as kept once the kernel has done with the press."""
        field, button = self.boxes()
        state = {"value": f"{random.uniform(1, 9):.3f}"} if self.states[field]["model_name"] == "TextModel" else {"index": 0}
        await self.say("comm_msg", {"comm_id": field, "data": {"method": "update", "state": state, "buffer_paths": []}})
        press = await self.say("comm_msg", {"comm_id": button, "data": {"method": "custom", "content": {"event": "click"}}})
        while True:
            kind, content, parent = await self.hear(ANSWER_S)
            if parent == press and kind == "status" and content["execution_state"] == "idle":
                self.kept += 1
                return

    def boxes(self):
        """Numbers of the field of a prediction and of the button that keeps it."""
        for number, about in self.states.items():
            below = list(self._below(number)) if about["state"].get("children") else []
            buttons = [one for one in below if self.states[one]["state"].get("description") == KEEP]
            fields = [one for one in below if self.states[one]["model_name"] in ("TextModel", "RadioButtonsModel")]
            if len(buttons) == 1 and fields:
                return fields[0], buttons[0]
        raise RuntimeError("no prediction on this page")

    async def work(self, until, draw):
        """Moves as in the class's own bench, and a prediction now and then."""
        next_keep = time.monotonic() + draw.uniform(0, KEEP_EVERY_S)
        await asyncio.sleep(draw.uniform(0, 2))
        while time.monotonic() < until:
            begun = time.monotonic()
            try:
                self.times_ms.append(await self.move())
                if time.monotonic() > next_keep:
                    await self.keep()
                    next_keep += KEEP_EVERY_S
            except (TimeoutError, ConnectionError) as trouble:
                self.failures.append(f"{self.name}: {type(trouble).__name__} {trouble}")
                return
            await asyncio.sleep(max(0.0, draw.uniform(1, 3) - (time.monotonic() - begun)))

    def lost(self, server):
        """How many predictions were kept and are not in the record: the first press keeps it, the later ones find it kept."""
        for path in server.folder.glob("desks/*/desk.json"):
            if json.loads(path.read_text())["name"] == self.name:
                return int(self.kept > 0 and not any(event.kind == "predicted" for event in LearnerRecord(path.parent).events()))
        return int(self.kept > 0)


def attacked_speed(learners=LEARNERS, seconds=SECONDS, page=PAGE, only=None):
    """The figures, by name. Linux only: elsewhere nothing is measured, and a line says so."""
    if sys.platform != "linux":
        print("class under attack not measured: memory is asked of Linux", file=sys.stderr)
        return {}
    with tempfile.TemporaryDirectory() as folder, Server(Path(folder), learners + 5) as server:
        return asyncio.run(_attacked(server, learners, seconds, page, only))


async def _attacked(server, count, seconds, page, only):
    await server.up()
    at_work = [AtWork(server, f"Learner {number}") for number in range(1, count + 1)]
    for one in at_work:
        await one.sit()
    opened = await asyncio.gather(*(one.open(page) for one in at_work), return_exceptions=True)
    failures = [f"{one.name}: {type(fault).__name__} {fault}" for one, fault in zip(at_work, opened, strict=True) if fault]
    there = [one for one, fault in zip(at_work, opened, strict=True) if not fault]
    memory = [_server_mb(server)]
    watching = asyncio.create_task(_watch(server, memory))
    until = time.monotonic() + seconds
    line = [
        str(Path(__file__).with_name("attacker.py")),
        str(server.port),
        server.word,
        at_work[0].name,
        str(seconds),
        *([only] if only else []),
    ]
    attacker = await asyncio.create_subprocess_exec(sys.executable, *line, stdout=asyncio.subprocess.PIPE)
    await asyncio.gather(*(one.work(until, random.Random(number)) for number, one in enumerate(there)))
    told, _ = await asyncio.wait_for(attacker.communicate(), 120)
    watching.cancel()
    attacks = json.loads(told)
    times = sorted(ms for one in there for ms in one.times_ms)
    failures += [fault for one in there for fault in one.failures]
    for fault in failures[:10]:
        print(fault, file=sys.stderr)
    return {
        "class_attacked_learners": count, "class_attacked_seconds": seconds, "class_attacked_moves": len(times),
        "class_attacked_p50_ms": round(statistics.median(times), 1) if times else None,
        "class_attacked_p95_ms": round(times[int(0.95 * len(times))], 1) if times else None,
        "class_attacked_failures": len(failures), "class_attacked_kept": sum(one.kept for one in there),
        "class_attacked_lost": sum(one.lost(server) for one in there), "class_attacked_server_mb": round(max(memory)),
        "class_attacked_attacks": attacks["attacks"], "class_attacked_attacker_cpu_share": round(attacks["cpu_s"] / seconds, 3),
    }  # fmt: skip


def _server_mb(server):
    lines = Path(f"/proc/{server.process.pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


async def _watch(server, memory):
    while True:
        await asyncio.sleep(LOOK_S)
        memory.append(_server_mb(server))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--learners", type=int, default=LEARNERS)
    parser.add_argument("--seconds", type=int, default=SECONDS)
    parser.add_argument("--page", default=PAGE)
    parser.add_argument("--only", help="one attack alone, by its name in attacker.py")
    print(json.dumps(attacked_speed(**vars(parser.parse_args())), indent=1))
