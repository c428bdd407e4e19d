"""What was found once is given again when the same is asked, to the last digit: airs of networks, the last ones, so many bytes of them."""

import hashlib
from collections import OrderedDict
from threading import Lock

import numpy as np

MOST_KEPT_BYTES = 64_000_000  # of pressures found before: of two records of a tall tower


class _Kept:
    """What was found, by what was asked; the last ones are kept, so many bytes of pressures. Panels ask from several threads."""

    def __init__(self):
        self._lock = Lock()
        self.clear()

    def clear(self):
        """Forget everything."""
        with self._lock:
            self._found, self.size = OrderedDict(), 0

    def get(self, key):
        """What was found, None for nothing."""
        with self._lock:
            if key not in self._found:
                return None
            self._found.move_to_end(key)
            return self._found[key][1]

    def put(self, key, size, found):
        """Keep it, and let go of the oldest where that is too much."""
        with self._lock:
            self.size += size - self._found.pop(key, (0, None))[0]
            self._found[key] = size, found
            while self.size > MOST_KEPT_BYTES and len(self._found) > 1:
                self.size -= self._found.popitem(last=False)[1][0]


_KEPT = _Kept()


def found_once(find, network, *asked):
    """What find(network, *asked) gives; asked again, to the last digit, the same is given again: studies, reviews and sites that differ in
    a closer, a motor or a wire ask for the same air. To look at: whoever gets it copies before writing."""
    digest = hashlib.blake2b(find.__name__.encode())
    for part in (network, *asked):
        _feed(digest, part)
    key = digest.digest()
    found = _KEPT.get(key)
    if found is None:
        found = find(network, *asked)
        _KEPT.put(key, 8 * network.spaces * network.storeys * network.conditions, found)
    return found


def _feed(digest, part):
    """All that a part is made of, arrays to the last digit, into a digest; each with its kind and length, so that no two read alike."""
    if isinstance(part, np.ndarray) and part.dtype.kind != "O":
        digest.update(f"{part.dtype.str}{part.shape}".encode())
        digest.update(np.ascontiguousarray(part))
    elif part is None or isinstance(part, (bool, int, float, str, np.generic)):
        digest.update(f"{type(part).__name__}{part!r};".encode())
    else:
        listed = isinstance(part, (tuple, list))
        inside = dict(enumerate(part)) if listed else part if isinstance(part, dict) else vars(part)
        digest.update(f"{type(part).__name__}{len(part) if listed else list(inside)};".encode())
        for one in inside.values():
            _feed(digest, one)


def forget_airs():
    """Forget what was found before: for whoever measures how long it takes to find."""
    _KEPT.clear()
