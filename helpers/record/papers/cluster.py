"""Work on a Dask cluster given by the address of its scheduler: one task a site; the site of a worker that is lost is begun again, and that
is said."""

import os
import re
import threading
import time
from collections import Counter
from queue import SimpleQueue
from uuid import uuid4

from helpers import __version__
from helpers.model.files import shown_name
from helpers.model.site.errors import SiteFileError

MOST_BEGUN = 3  # times that a site is begun: one that takes three workers with it would take the others too
ANSWER_S = 15.0  # for the scheduler to answer
NO_WORKER_S = 300.0  # without any worker the rest is given up
ASK_S, LOOK_S = 5.0, 0.2  # between two questions for workers, and two looks at what is done
STOPPED = "a process that wrote was stopped from outside; --resume writes what is not finished"
MISSING = "a cluster needs the package distributed, which is not installed here: pip install distributed"
_ADDRESS, MOST_PORT = re.compile(r"(?:tcp|tls)://(?:[\w.-]+|\[[\da-fA-F:.]+\]):(\d{1,5})/?"), 65_535
_ONE_AT_A_TIME = threading.Lock()  # in a worker of several threads too: the studies are tried in processes of one


def on_cluster(work, tasks, address, remark=print, without_worker_s=NO_WORKER_S):
    """Do the work of several sites on a cluster. work(task): what its workers do, and what it returns comes back by pickle; tasks: {name:
    task}; address: of the scheduler, "tcp://host:8786"; remark: called with what must be said between, a sentence; without_worker_s: how
    long to wait while the cluster has no worker [s].

    A site whose worker is lost is begun again on another, `MOST_BEGUN` times in all. Yields (name, result, "") as each is done, (name,
    None, why not) for one that is not. Raises ValueError, before any work, where no scheduler answers or the package is missing.
    Limits: workers must have this release of the workbook; that their numpy is the same as here is not looked at. Whoever reaches a
    scheduler runs what they like on its workers and here: only clusters that one trusts.
    """
    client = _client(address)
    try:
        yield from _Run(client, work, tasks, remark).results(without_worker_s)
    finally:
        client.close()


def side_by_side(work, tasks, first=None, workers=None):
    """The same in processes here, one task alone in this one. first: names in the order in which they are begun; workers: how many at most,
    as many as there are processors where it is not said. Yields as `on_cluster`, in the order of the tasks."""
    if len(tasks) == 1:
        for name, task in tasks.items():
            yield name, *tried(work, task)
        return
    # no processes in the page without a server: there nobody works on several sites
    from concurrent.futures import BrokenExecutor, ProcessPoolExecutor

    with ProcessPoolExecutor(min(max(len(tasks), 1), workers or os.cpu_count() or 1)) as pool:
        started = {name: pool.submit(tried, work, tasks[name]) for name in first or tasks}
        for name in tasks:
            try:
                yield name, *started[name].result()
            except BrokenExecutor:
                yield name, None, STOPPED


def tried(work, task):
    """(result, "") or (None, why not) of one task: not every error survives the way out of a process."""
    try:
        return work(task), ""
    except (OSError, ValueError) as trouble:
        return None, refusal_of(trouble)


def _client(address):
    if not (found := _ADDRESS.fullmatch(address)) or int(found[1]) > MOST_PORT:
        told = shown_name(address, whole=True)
        raise ValueError(f'cluster must be the address of a Dask scheduler, such as "tcp://host:8786" or tls://; got {told!r:.80}')
    try:
        from distributed import Client
    except ImportError:
        raise ValueError(MISSING) from None
    try:
        return Client(address, timeout=ANSWER_S, set_as_default=False, name="papers")
    except (OSError, ValueError, TypeError) as trouble:
        told = str(trouble).splitlines()[0] if str(trouble) else type(trouble).__name__
        raise ValueError(f"no Dask scheduler answers at {shown_name(address, whole=True)}: {told}") from None


class _Run:
    """The tasks that are with the cluster, how often each was begun, and what workers have said of that."""

    def __init__(self, client, work, tasks, remark):
        self.client, self.work, self.tasks, self.remark = client, work, tasks, remark
        self.topic, self.heard, self.waiting = f"papers-{uuid4().hex}", SimpleQueue(), {}
        self.begun, self.handed = Counter(), Counter()
        client.subscribe_topic(self.topic, lambda event: self.heard.put(event[1]))  # in the client's own thread
        for name in tasks:
            self._submit(name)

    def _submit(self, name):
        self.handed[name] += 1
        key = f"{self.topic}-{uuid4().hex}"
        future = self.client.submit(_at_the_worker, self.work, self.tasks[name], name, self.topic, __version__, key=key, pure=False)
        self.waiting[name] = future

    def results(self, without_worker_s):
        """As `on_cluster`."""
        asked, idle_since = 0.0, None
        try:
            while self.waiting:
                yield from self._begun_too_often()
                for name, future in [(name, future) for name, future in self.waiting.items() if _ended(future)]:
                    del self.waiting[name]
                    yield from self._outcome(name, future)
                if time.monotonic() - asked > ASK_S:
                    asked = time.monotonic()
                    idle_since = self._without_worker(idle_since)
                if self.client.status not in ("running", "connecting"):
                    yield from self._given_up("the connection to the cluster was lost")
                elif idle_since is not None and time.monotonic() - idle_since > without_worker_s:
                    yield from self._given_up(f"the cluster had no worker for {without_worker_s:.0f} s")
                time.sleep(LOOK_S if self.waiting else 0.0)
        finally:
            self.client.cancel(list(self.waiting.values()))

    def _without_worker(self, since):
        """Since when there is no worker; None while there is one."""
        try:
            some = bool(self.client.nthreads())
        except OSError:  # a scheduler that does not answer now: its client tries again, and its status says when that is over
            some = False
        if some or since is not None:
            return None if some else since
        self.remark("the cluster has no worker now: waiting for one")
        return time.monotonic()

    def _begun_too_often(self):
        """Says what was begun again, and gives up what was so once too often."""
        while not self.heard.empty():
            name, worker = self.heard.get()
            self.begun[name] += 1
            if name not in self.waiting or self.begun[name] == 1:
                continue
            if self.begun[name] > MOST_BEGUN:
                self.client.cancel([self.waiting.pop(name)])
                yield name, None, f"its worker was lost, begun {MOST_BEGUN} times"
            else:
                self.remark(f"{shown_name(name)}: its worker was lost; begun again on {worker}, {self.begun[name]} of {MOST_BEGUN} at most")

    def _outcome(self, name, future):
        from distributed import KilledWorker

        if future.status == "finished":
            yield name, *future.result()
            return
        if future.status != "error":
            yield name, None, "the cluster dropped it: its scheduler was lost, or somebody cancelled it"
            return
        trouble = future.exception()
        if not isinstance(trouble, KilledWorker):
            yield name, None, f"at its worker: {type(trouble).__name__}: {trouble}".splitlines()[0]
        elif max(self.begun[name], self.handed[name]) < MOST_BEGUN:  # it stood in the queue of workers that another site took with it,
            self.remark(f"{shown_name(name)}: its worker was lost; handed to the cluster again")  # or the scheduler allows fewer losses
            self._submit(name)
        else:
            yield name, None, f"its worker was lost, begun {self.begun[name]} times"

    def _given_up(self, why):
        for name in list(self.waiting):
            self.waiting.pop(name)
            yield name, None, why


def _ended(future):
    return future.done() or future.status in ("lost", "cancelled")


def _at_the_worker(work, task, name, topic, release):
    """(result, "") or (None, why not) of one task. A refusal comes back as its sentence: not every error survives the way."""
    from distributed import get_worker

    if release != __version__:
        return None, f"its worker has release {__version__} of the workbook, here is {release}"
    with _ONE_AT_A_TIME:
        here = get_worker()
        here.log_event(topic, (name, here.address))
        return tried(work, task)


def refusal_of(trouble):
    """A refusal in one sentence, of a site file its first mistake."""
    return str(trouble).splitlines()[0] if isinstance(trouble, SiteFileError) else str(trouble)
