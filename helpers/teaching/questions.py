"""What is asked of a learner: a prediction before the picture, exercises with the reader's own numbers; and what rooms answer.

Each exercise is made by a function `make(draw)` in the `questions` of a lesson; `exercise_of(make, seed, system)` calls it until the
numbers make a fair question, where no slip comes out as the right answer or as another slip. A grade names the slip and never the answer.
"""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from helpers import units
from helpers.teaching.reading import number_in, quantity
from helpers.teaching.seeds import EDITIONS, Draw, seed_of
from helpers.units.said import in_each, unit_of, with_unit, written_out

ROUNDED = 0.006  # three digits of a figure: what a slip gives may be written so
TOO_FAR = 0.05  # share by which a figure of too few digits is still told from another one
APART = 2.5  # tolerances between the answer and a slip, and between two slips: beyond both of their bands, with room
MOST_DRAWS = 200
EITHER_WAY = "An error goes both ways: leave the sign off."
TURNED = "The size is right and the sign is not: which way does it push, or change?"
PLUS_MINUS = re.compile(r"^\s*(?:±|\+ ?/? ?[-−])\s*")


@dataclass(frozen=True)
class Measured:
    """A quantity for an answer: value and tolerance [SI] of one of units.DIMENSIONS, or a bare number ("number").

    digits: after the point when it is written in the reader's units, None for the dimension's own; counted_in: what a bare number counts;
    either_way: that it is a size up or down, so that a ± before it says nothing new.
    """

    value: float
    dimension: str
    tolerance: float
    digits: int | None = None
    counted_in: str = ""
    either_way: bool = False

    def read(self, text, system):
        """What a reader typed [SI]: a bare number is taken in the unit asked for. Raises ValueError with a sentence."""
        text = PLUS_MINUS.sub("", text) if self.either_way and isinstance(text, str) else text
        return quantity(text, self.dimension, system, self.counted_in)

    def says(self, value):
        """A value in words."""
        if self.dimension == "number":
            figure = f"{value:.4g}" if self.digits is None else f"{value:.{self.digits}f}"
            return f"{figure} {self.counted_in}".rstrip()
        return with_unit(value, self.dimension, self.digits)

    @property
    def unit(self):
        """Label of the unit asked for."""
        return self.counted_in if self.dimension == "number" else unit_of(self.dimension)

    def same(self, one, other):
        """Whether two values count as the same answer."""
        return abs(one - other) <= self.tolerance * (1 + 1e-9)

    def apart(self, one, other):
        """Whether two values cannot be taken for one another."""
        return abs(one - other) >= APART * self.tolerance


@dataclass(frozen=True)
class Chosen:
    """One of several options for an answer. earlier: (words of an option in an earlier record, the option) pairs."""

    value: str
    options: tuple
    earlier: tuple = ()

    def read(self, text, system):
        """The option a reader chose. Raises ValueError for none of them."""
        text = dict(self.earlier).get(text, text)
        if text not in self.options:
            raise ValueError(f"Choose one of: {', '.join(self.options)}.")
        return text

    def says(self, value):
        """A value in words."""
        return value

    def same(self, one, other):
        """Whether two options are one."""
        return one == other

    def apart(self, one, other):
        """Whether two options differ."""
        return one != other


@dataclass(frozen=True)
class Slip:
    """A likely mistake: its name for the instructor, a hint that names it (never the answer), and what one gets with it; shift: how many
    times the answer that is, where its decimal point alone is moved."""

    name: str
    hint: str
    gives: float | str
    shift: float = 1.0


@dataclass(frozen=True)
class Grade:
    """right: whether the answer counts; words for the reader; slip: name of the slip that was recognised, or empty."""

    right: bool
    words: str
    slip: str = ""


@dataclass(frozen=True)
class Exercise:
    """One exercise with its numbers. way: the steps to the answer, shown after a right answer and in the instructor's key.

    slips: never come out as the answer nor as each other, numbers are drawn till they do not; more: further ones, which the numbers do
    not hang on, and which go unnamed where they happen to come out as the answer.
    """

    question: str
    answer: Measured | Chosen
    slips: tuple
    way: tuple
    key: str = ""
    seed: int = 0
    system: str = "Pa"
    more: tuple = ()

    def grade(self, text):
        """Grade what was typed or chosen. Raises ValueError, with a sentence, for what is no answer at all."""
        value = self.answer.read(text, self.system)
        if self.answer.same(value, self.answer.value):
            return Grade(True, _sentence(f"Right: {self._in_words(self.answer.says(self.answer.value))}"))
        if slip := self._unit_behind(text) or self._slip_of(value) or self._rounded(value):
            return Grade(False, slip.hint, slip.name)
        return Grade(False, "Not yet, and none of the usual slips. Write down what is given, with units, and go step by step.")

    def _in_words(self, text):
        return written_out(text, self.system)

    @property
    def fair(self):
        """Whether no slip can be taken for the answer or for another slip."""
        values = [self.answer.value, *(slip.gives for slip in self.slips)]
        if any(isinstance(value, float) and not math.isfinite(value) for value in values):
            return False
        return all(self.answer.apart(one, other) for place, one in enumerate(values) for other in values[:place])

    def _slip_of(self, value):
        """The slip that a wrong answer comes from, or None: its own first, then the nearest of the further ones, then the usual ones."""
        alike = [slip for slip in self.slips if self._from(value, slip)] or [slip for slip in self.more if self._from(value, slip)]
        if isinstance(self.answer, Chosen):
            return next(iter(alike), None)
        if alike:
            return min(alike, key=lambda slip: abs(slip.gives - value))
        return next((slip for slip in self._usual_slips() if self._from(value, slip)), None)

    def _unit_behind(self, text):
        """The slip of the right figure with a unit behind it that was not asked for; None for another figure."""
        figure = None if isinstance(self.answer, Chosen) else number_in(PLUS_MINUS.sub("", text))
        if figure is None or not self.answer.same(self.answer.read(figure, self.system), self.answer.value):
            return None
        hint = f"The figure is right, and the unit behind it is not: the unit asked for is {self._in_words(self.answer.unit)}"
        return Slip("unit written behind it", _sentence(hint), self.answer.value)

    def _rounded(self, value):
        """The slip of the right figure cut or rounded to too few digits; None for another figure."""
        if isinstance(self.answer, Chosen):
            return None
        mine, true = value, self.answer.value
        if self.answer.dimension != "number":
            mine, true = (float(units.to_display(one, self.answer.dimension, self.system)) for one in (mine, true))
        decimals = len(f"{mine:.10g}".partition(".")[2])
        near = abs(mine - true) < 10.0**-decimals and abs(mine - true) <= TOO_FAR * abs(true)
        hint = "The right figure, rounded or cut off too far: write one digit more. Three figures are enough."
        return Slip("rounded", hint, value) if near else None

    def _from(self, value, slip):
        """Whether a value comes from a slip, or is what it gives in the digits asked for. Zero comes only from what gives zero, and a small
        figure only from one as small.
        """
        if isinstance(self.answer, Chosen):
            return value == slip.gives
        if not value or not slip.gives:
            return value == slip.gives
        near = max(self.answer.tolerance * slip.shift, ROUNDED * abs(slip.gives))
        if abs(value - slip.gives) <= min(near, 0.2 * abs(slip.gives)) * (1 + 1e-9):
            return True
        written = self.answer.read(self._in_words(self.answer.says(slip.gives)), self.system)
        return math.isclose(value, written, rel_tol=1e-9)

    def _usual_slips(self):
        """Mistakes one can make in any exercise: zero, the sign, the other system's unit, the decimal point; made where asked for."""
        value, dimension = self.answer.value, self.answer.dimension
        slips = [
            Slip("zero", "Zero is not it. Work with what is given: what does each figure do to the result?", 0.0),
            Slip("sign", EITHER_WAY if getattr(self.answer, "either_way", False) else TURNED, -value),
        ]
        if dimension != "number":
            labels = [units.unit_label(dimension, system) for system in units.SYSTEMS]
            other = next(system for system in units.SYSTEMS if system != self.system)
            if labels[0] != labels[1]:
                number = float(units.to_display(value, dimension, other))
                hint = _sentence(f"That is a figure in another unit: the unit asked for is {self._in_words(self.answer.unit)}")
                slips.append(Slip("unit", hint, float(units.from_display(number, dimension, self.system))))
        shifted = "A decimal point is in another place: per cent taken for a share, a thousand too many or too few, or a nought left out?"
        slips += [Slip("decimal point", shifted, value * times, times) for times in (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)]
        yield from (slip for slip in slips if self.answer.apart(slip.gives, value))


def exercise_of(make, seed, system="Pa", edition=EDITIONS[-1]):
    """The exercise that `make` sets for a seed, in a system of units: the first draw of numbers that is fair. edition: one of
    `seeds.EDITIONS`, the present one but for marks of an old record."""
    for turn in range(MOST_DRAWS):
        made = make(Draw(seed_of(make.__name__, seed, turn), system, edition))
        question, way = units.one_stop(made.question), tuple(map(units.one_stop, made.way))
        exercise = Exercise(question, made.answer, made.slips, way, make.__name__, seed, system, made.more)
        if exercise.fair:
            return exercise
    raise ValueError(f"seed {seed!r} gave no fair numbers for {make.__name__} in {MOST_DRAWS} draws; its draws must be mended")


def before_rounding(value, tolerance, limit):
    """That an answer taken for right may lie on the other side of its limit, as a clause behind the verdict; "" where none can."""
    return "" if abs(value - limit) > tolerance else ", by the figure before it is rounded"


def title_of(make):
    """The exercise's title: the first line of its maker's docstring."""
    return make.__doc__.strip().splitlines()[0].rstrip(".")


def _sentence(words):
    """With its full stop; "in. w.c." brings its own."""
    return words if words.endswith(".") else f"{words}."


@dataclass(frozen=True)
class Outcome:
    """What the model says: the answer (an option, or a value and tolerance), and in words what comes out and why."""

    answer: Chosen | Measured
    words: str


@dataclass(frozen=True)
class Comparison:
    """A prediction beside the result: whether they agree, both in a line, and the same with what comes out and why."""

    agree: bool
    line: str
    words: str


# What can be predicted at all, by dimension: a share of a whole; pressures and forces that a building's air can bring about (ours).
POSSIBLE = {"percent": (0.0, 100.0), "pressure": (-10_000.0, 10_000.0), "force": (0.0, 10_000.0)}


@dataclass(frozen=True)
class Prediction:
    """A question for the reader to commit to.

    key: a short name, by which the learner's record keeps the answer; ask(): the question in words; options: what to choose from,
    or empty where a quantity of `dimension` is asked for; find(): the Outcome, computed by the model when it is first wanted;
    earlier: (words of an option in an earlier record, the option) pairs; option_of(value): the option that a figure of `dimension` is,
    where records still hold what was typed when a figure was asked for.
    """

    key: str
    ask: Callable
    find: Callable
    options: tuple = ()
    dimension: str = ""
    earlier: tuple = ()
    option_of: Callable | None = None

    def read(self, text, system="Pa"):
        """What was predicted. Raises ValueError, with a sentence, for what is no prediction."""
        text = dict(self.earlier).get(text, text)
        if self.option_of and text not in self.options:
            return self.option_of(Measured(0.0, self.dimension, 0.0).read(text, system))
        value = self._blank.read(text, system)
        low, high = POSSIBLE.get(self.dimension, (-math.inf, math.inf))
        if not self.options and not low <= value <= high:
            got, *ends = (units.show(one, self.dimension, system) for one in (value, low, high))
            raise ValueError(units.one_stop(f"The answer must lie between {' and '.join(ends)}, got {got}."))
        return value

    @property
    def unit(self):
        """Label of the unit that is asked for; nothing for options."""
        return "" if self.options else self._blank.unit

    def told(self):
        """The model's result alone, in words."""
        outcome = self.find()
        return f"The model says {self._quoted(outcome.answer, outcome.answer.value)}: {outcome.words}"

    def compare(self, text, typed_in="Pa"):
        """The prediction, as it was typed or chosen in a system of units, beside the model's result."""
        outcome = self.find()
        mine, answer = self.read(text, typed_in), outcome.answer
        agree = answer.same(mine, answer.value)
        said, found = (self._quoted(answer, value) for value in (mine, answer.value))
        line = f"You said {said}{', and so does the model' if agree else f'; the model says {found}'}"
        return Comparison(agree, _sentence(line), f"{line}: {outcome.words}")

    def _quoted(self, answer, value):
        quote = '"' if self.options else ""  # options are sentences of their own
        return f"{quote}{answer.says(value)}{quote}"

    @property
    def _blank(self):
        return Chosen("", self.options) if self.options else Measured(0.0, self.dimension, 0.0)


SOURCE = "common practice, no source"  # what a room answers, and why


class QuantityWords:
    """Quantities in words."""

    def pa(self, value, digits=None):
        """A pressure."""
        return with_unit(value, "pressure", digits)

    def fine(self, value, digits=1):
        """A small pressure, with so many digits more than usual."""
        return self.pa(value, (digits, min(digits, 1) + 2))

    def n(self, value):
        """A force."""
        return with_unit(value, "force")

    def hz(self, value):
        """A speed."""
        return with_unit(value, "frequency")

    def flow(self, value):
        """An air flow."""
        return with_unit(value, "flow")

    def c(self, value):
        """A temperature."""
        return with_unit(value, "temperature")


@dataclass(frozen=True)
class Move:
    """One move in front of the class. changes: of the panel's controls, by name; hand: the same in words, as the controls are labelled;
    ask: the question before it; see: what the class sees after it; all with the names of figures in braces."""

    changes: Mapping
    hand: str
    ask: str
    see: str


@dataclass(frozen=True)
class Story:
    """The story of a lesson.

    key: of the lesson; prediction: the one it turns on; wrong: the answer a room tends to give, an option or a quantity in SI; tempting:
    why it is; start: what every control of the panel holds before the first move; opening: what the picture shows then; moves: the first
    makes the class see what the prediction asked, the second asks on from there; figures(shown): the model's figures in words, by name.
    """

    key: str
    prediction: Prediction
    wrong: str | float
    tempting: str
    start: Mapping
    opening: str
    moves: tuple
    figures: Callable

    def state(self, moves):
        """What every control holds after so many moves, in the order in which the controls are to be set."""
        state = dict(self.start)
        for move in self.moves[:moves]:
            state |= move.changes
        return state

    def says(self, words):
        """Words of this story with its figures."""
        return words.format(**self.figures(QuantityWords()))

    def typed_wrong(self, system="Pa"):
        """The wrong answer as a learner would choose or type it."""
        if self.prediction.options:
            return self.wrong
        return f"{float(units.to_display(self.wrong, self.prediction.dimension, system)):.3g}"

    @in_each
    def wrong_words(self, *, system):
        """The wrong answer as one would say it."""
        return f"{self.typed_wrong(system)} {self.prediction.unit}".strip()
