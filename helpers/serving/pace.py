"""How fast somebody may ask, and how long whoever guesses waits."""

import asyncio
import time
from collections import OrderedDict

__all__ = ["Attempts", "Pace", "Paces"]


class Pace:
    """So many a second, and so many at once before that counts. Nothing is refused: whoever is faster is heard later."""

    def __init__(self, a_second, at_once, clock=time.monotonic):
        self.a_second, self.at_once, self._clock = a_second, at_once, clock
        self._left, self._seen = float(at_once), clock()

    def wait_s(self, cost=1.0):
        """Take so much, and say how long to wait for it [s]."""
        now = self._clock()
        self._left = min(self.at_once, self._left + (now - self._seen) * self.a_second) - cost
        self._seen = now
        return max(0.0, -self._left / self.a_second)

    async def turn(self, cost=1.0):
        """Wait for one's turn."""
        if wait_s := self.wait_s(cost):
            await asyncio.sleep(wait_s)

    async def turn_within(self, most_s, cost=1.0):
        """Wait for one's turn, where that takes most_s [s] at the most. Otherwise nothing is taken, and the wait [s] is returned: whoever
        asks again and again, and gives up each time, has not put the own next turn off by hours."""
        wait_s = self.wait_s(cost)
        if wait_s > most_s:
            self._left += cost
            return wait_s
        await asyncio.sleep(wait_s)
        return 0.0


class Paces:
    """A `Pace` for each key: a desk, or an address. Of the keys seen longest ago nothing is remembered."""

    def __init__(self, a_second, at_once, most=5_000):
        self._make, self._most, self._paces = lambda: Pace(a_second, at_once), most, OrderedDict()

    def of(self, key):
        """The pace of this key."""
        pace = self._paces.setdefault(key, self._make())
        self._paces.move_to_end(key)
        if len(self._paces) > self._most:
            self._paces.popitem(last=False)
        return pace


class Attempts:
    """Wrong words by key: the first few are free, then each next try has to wait twice as long as the one before.

    A try is counted before it is looked at, so that many at the same moment are many tries; `right` takes them back.
    """

    FREE, FIRST_S, LONGEST_S, MOST_KEYS = 5, 2.0, 300.0, 10_000

    def __init__(self, clock=time.monotonic):
        self._clock, self._tries = clock, OrderedDict()  # by key: how many, and when the last was

    def wait_s(self, *keys):
        """How long these keys have to wait before the next try [s]."""
        return max((self._wait_s(*self._tries[key]) for key in keys if key in self._tries), default=0.0)

    def tried(self, *keys):
        """Count a try for each key."""
        for key in keys:
            count, _ = self._tries.pop(key, (0, 0.0))
            self._tries[key] = count + 1, self._clock()
        while len(self._tries) > self.MOST_KEYS:
            self._tries.popitem(last=False)

    def right(self, *keys):
        """The word was right: nothing is held against these keys."""
        for key in keys:
            self._tries.pop(key, None)

    def count(self, key):
        """How many tries this key has had since the last right one."""
        return self._tries.get(key, (0, 0.0))[0]

    def _wait_s(self, count, last):
        if count < self.FREE:
            return 0.0
        pause_s = min(self.FIRST_S * 2.0 ** min(count - self.FREE, 20), self.LONGEST_S)
        return max(0.0, last + pause_s - self._clock())
