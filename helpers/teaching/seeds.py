"""Seeds from words, and numbers drawn from them, the same on every machine: an exercise's, and those of a seat in a class.

A quantity is drawn as it will be written, rounded in the reader's own unit: what the question says is exactly what is meant.

The instructor keeps the class code; a learner gets the key of one seat, printed on its sheet. The keys come from the code by a derivation
that is slow on purpose (scrypt, RFC 7914), so that nobody who has one seat's key tries out codes by the million. There is no secret but the
code: the same code makes the same keys on every machine. Signatures are HMAC-SHA256 (RFC 2104, FIPS 198-1).
"""

import hashlib
import hmac
import json
import re
import secrets
import unicodedata
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from helpers import units


def seed_of(*parts):
    """A seed from words and numbers (a learner's name, an exercise, a try), the same on every machine.

    >>> seed_of("Ada", "door force", 1) == seed_of("Ada", "door force", 1), seed_of("Ada", "door force", 2) < 2**32
    (True, True)
    """
    text = "\x1f".join(str(part) for part in parts)
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:4], "big")


# How exercises drew and asked, the present way last. What was answered to an earlier one is marked by it where its record says so.
# 1: lesson 03 marked a range from zero; 2: figures in feet and inches of water were those of metres and pascals, turned over; 3: they are
# round ones, and ranges are those that are sold by the inch; 4: a wait in whole seconds, rounded up, is no other one, with the numbers
# of 3; and of some others numbers are drawn till no wrong way comes out as the answer (`Draw.told_apart`); 5: over how many storeys a
# window reaches is a whole number of steps, so that who only rounds up is not right by luck.
EDITIONS = (1, 2, 3, 4, 5)
# Tops of ranges sold in Pa beside the nearest ones sold in in. w.c.; common practice, no source.
SOLD_BY_THE_INCH = {25: 0.1, 50: 0.25, 75: 0.25, 100: 0.5, 125: 0.5, 150: 0.5, 250: 1.0, 300: 1.0, 500: 2.0, 1000: 5.0}
ROUND_FT = ((1.0, 0.05), (15.0, 0.25), (float("inf"), 1.0))  # below so many feet, steps of


class Draw:
    """Draws for one exercise, in the reader's system of units (one of units.SYSTEMS), in the way of one of EDITIONS."""

    def __init__(self, seed, system="Pa", edition=EDITIONS[-1]):
        if not isinstance(seed, int) or seed < 0:
            raise ValueError(f"seed must be a whole number of 0 or more, got {seed!r:.60}")
        if edition not in EDITIONS:
            raise ValueError(f"edition must be one of {', '.join(map(str, EDITIONS))}; got {edition!r:.60}")
        self.seed, self.system, self.edition = seed, system, edition
        self._generator = np.random.default_rng(seed)

    def quantity(self, dimension, low, high, step, digits=None):
        """A quantity [SI] from low to high [SI] by step, as it reads when `say` writes it with the same digits."""
        value = low + step * int(self._generator.integers(0, round((high - low) / step) + 1))
        return self.as_written(value, dimension, digits)

    def as_written(self, value_si, dimension, digits=None):
        """A quantity [SI] rounded to what `say` writes of it; a length in feet to what a tape and a pencil like."""
        if dimension == "length" and self._by_the_inch:
            feet = float(units.to_display(value_si, dimension, self.system))
            step = next(step for below, step in ROUND_FT if abs(feet) < below)
            value_si = float(units.from_display(round(feet / step) * step, dimension, self.system))
        return units.parse(self.say(value_si, dimension, digits), dimension)

    def tape(self, length_m, digits=None):
        """A length that was not drawn [m]: as it stands in metres and in earlier editions, else as it is written."""
        return self.as_written(length_m, "length", digits) if self._by_the_inch else length_m

    def end(self, end_pa):
        """An end of a transmitter's range [Pa], one of SOLD_BY_THE_INCH either way or 0: as it is sold where the reader is."""
        if not self._by_the_inch:
            return self.as_written(end_pa, "pressure")
        inches = SOLD_BY_THE_INCH[abs(end_pa)] if end_pa else 0.0
        return units.parse(f"{-inches if end_pa < 0 else inches} in. w.c.", "pressure")

    def ends(self, ranges_pa):
        """Both ends [Pa] of one of several ranges."""
        return tuple(map(self.end, self.one_of(ranges_pa)))

    @property
    def _by_the_inch(self):
        return self.system != "Pa" and self.edition > 2

    def say(self, value_si, dimension, digits=None):
        """A quantity in words, in the reader's units."""
        return units.show(value_si, dimension, self.system, digits)

    @property
    def on_a_foot(self):
        """A sentence for who works in inches, feet and pounds: what an inch of water presses on a square foot. Nothing in Pa and m."""
        if self.system == "Pa":
            return ""
        pounds = units.to_display(units.parse("1 in. w.c.", "pressure") * units.parse("1 ft2", "area"), "force", self.system)
        return f" 1 in. w.c. presses {pounds:.1f} lbf on each square foot."

    def told_apart(self, slips, more, *names):
        """An exercise's slips with those of the further ones that bear these names: since the fourth edition numbers are drawn till they,
        too, come out neither as the answer nor as one another."""
        return (*slips, *(slip for slip in more if slip.name in names and self.edition > 3))

    def whole(self, low, high):
        """A whole number from low to high, both included."""
        return int(self._generator.integers(low, high + 1))

    def one_of(self, options):
        """One of several."""
        return options[int(self._generator.integers(0, len(options)))]

    def shuffled(self, options):
        """All of several, in another order."""
        return [options[place] for place in self._generator.permutation(len(options))]


PROTECTION = (
    "What the signature protects from: a record that was edited after it left the workbook, by one digit or more, is told from a whole "
    "one; and nobody can sign for another seat without that seat's key. Marks of exercises are never taken from a file: every answer is "
    "marked anew, with the seat's own numbers. Cases of the fault bench cannot be; they count as the record has them.",
    "What it does not protect from: the learner's computer is the learner's. Who has a seat's key can sign whatever they like for that "
    "seat, also answers that a friend gave; and who knows the class code can sign for every seat. Keep the class code to yourself, give "
    "each learner one sheet, and ask whoever is all right to explain one answer aloud. A record of somebody who never took a seat is not "
    "signed and counts all the same: the table says so in its row.",
)
MOST_SEATS = 500
SHORTEST, LONGEST = 8, 200  # letters of a class code
SALT = b"pressure-loop workbook, class keys, 1"  # one for all: the code alone must make a class again
COST = {"n": 2**15, "r": 8, "p": 1, "maxmem": 2**26}  # 32 MB for each try; about 0.2 s here
LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # no I, L, O, U: they are misread
MISREAD = str.maketrans("OIL", "011")
MARK, SECRET, CHECK = 4, 16, 2  # letters of a seat's key, 5 bits each


@dataclass(frozen=True)
class Seat:
    """One seat of a class: its number, the class's mark, and the seat's secret, which is shown only where it is asked for."""

    number: int
    mark: str
    secret: str = field(repr=False)

    @property
    def key(self):
        """The seat's key as it is printed: number, mark, secret and two letters that catch a slip of the pen."""
        text = f"{self.mark}{self.secret}{_check(self.number, self.mark, self.secret)}"
        return "-".join([str(self.number), *re.findall("..?.?.?", text)])

    @classmethod
    def read(cls, text):
        """The seat of a key as somebody types it: small letters, other dashes and blanks do no harm. Raises ValueError with a sentence."""
        plain = unicodedata.normalize("NFKC", str(text)[: 4 * LONGEST])
        plain = "".join(sign for sign in plain.upper() if sign.isalnum()).translate(MISREAD)
        letters = MARK + SECRET + CHECK
        number, rest = plain[:-letters], plain[-letters:]
        if not re.fullmatch("[0-9]{1,4}", number) or any(sign not in LETTERS for sign in rest):
            raise ValueError("This is no seat key. It is printed on your sheet: your seat's number and 22 letters and digits.")
        mark, secret, check = rest[:MARK], rest[MARK:-CHECK], rest[-CHECK:]
        if not hmac.compare_digest(check, _check(int(number), mark, secret)):
            raise ValueError("There is a slip in this seat key: compare it with your sheet, letter by letter.")
        return cls(int(number), mark, secret)

    def seed(self, lesson, item, turn=0):
        """Seed of an exercise's numbers: turn 0 is what the sheet asks, the next ones are for practice."""
        return seed_of("class", self.mark, self.number, self.secret, lesson, item, turn)

    def signature(self, body):
        """Signature of a record's body, a mapping as JSON has it."""
        text = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
        return hmac.new(self.secret.encode(), text.encode(), hashlib.sha256).hexdigest()

    def signed(self, body, signature):
        """Whether a signature is this seat's for a body."""
        return hmac.compare_digest(self.signature(body).encode(), str(signature).encode("utf-8", "replace"))


def class_mark(code):
    """The mark of a class, by which its files are known; it may be seen by all."""
    return _letters(_derived(_plain(code), "mark", ""), MARK)


def seat_of(code, number):
    """The seat of a class.

    code: the class code, a text; number of the seat, 1 to MOST_SEATS. Raises ValueError for a code that is too short, or another number.
    """
    if isinstance(number, bool) or not isinstance(number, int) or not 1 <= number <= MOST_SEATS:
        raise ValueError(f"seat must be a whole number from 1 to {MOST_SEATS}, got {number!r:.40}")
    plain = _plain(code)
    return Seat(number, class_mark(code), _letters(_derived(plain, "seat", number), SECRET))


def new_class_code():
    """A class code that nobody guesses: 12 letters and digits, 60 bits by chance."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(3))


def _plain(code):
    """The code as it counts: the same however it is typed, in small or capital letters, with one blank or two."""
    if not isinstance(code, str):
        raise ValueError(f"class code must be a text, got {type(code).__name__}")
    plain = " ".join(unicodedata.normalize("NFKC", code[: 4 * LONGEST]).casefold().split())
    if any(unicodedata.category(sign) in ("Cc", "Cs") for sign in plain):
        raise ValueError("class code must be letters, digits and signs that can be typed")
    if not SHORTEST <= len(plain) <= LONGEST:
        raise ValueError(f"class code must be {SHORTEST} to {LONGEST} letters, got {len(plain)}")
    return plain


def why_no_code():
    """Why this Python makes nothing of a class code, in words; empty where it does. In a page without a server it does not."""
    return "" if hasattr(hashlib, "scrypt") else "this Python has no scrypt; a seat key works without it"


@lru_cache(maxsize=8)
def _stretched(plain):
    if why := why_no_code():
        raise ValueError(f"class code: {why}")
    return hashlib.scrypt(plain.encode(), salt=SALT, dklen=32, **COST)


def _derived(plain, what, number):
    return hmac.new(_stretched(plain), f"{what} {number}".encode(), hashlib.sha256).digest()


def _check(number, mark, secret):
    return _letters(hashlib.sha256(f"{number} {mark} {secret}".encode()).digest(), CHECK)


def _letters(digest, count):
    bits = int.from_bytes(digest, "big") >> (8 * len(digest) - 5 * count)
    return "".join(LETTERS[(bits >> (5 * place)) & 31] for place in reversed(range(count)))
