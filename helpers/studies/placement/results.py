"""What the placement study found: the ranking, the heat map, the answer in words."""

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from helpers import require
from helpers.formulas.combining import RULES
from helpers.formulas.uncertainty import paired_chance, wilson_interval
from helpers.studies.placement.lookup import Tally
from helpers.studies.report import Shown, Table, listed, range_text
from helpers.studies.status import inside
from helpers.units.said import with_unit

HOURS_OF_A_YEAR = 8760
CONFIDENCE = 0.95
CLEAR_STOREYS = 3  # from a tube end to where supply air enters the stair: nearer it may read the jet (common practice, no source)
LEAST_SHARE = 0.5  # of conditions with all doors inside: a choice that fails in more than half is none, whatever it is compared with; ours
CAREFUL = "The best of many choices looks a little better than it is: try it again with another seed, and with chances of your own."


class _PlacingLike(Protocol):
    """What is asked of a choice here; `study.Placing` is one."""

    @property
    def levels(self) -> tuple[int, ...]: ...

    @property
    def rule(self) -> str: ...

    @property
    def set_point_pa(self) -> float | None: ...

    def text(self) -> str: ...


@dataclass(frozen=True)
class ChoiceResult:
    """One choice under all conditions judged. Shares are of those conditions.

    inside: all doors inside their windows, with `interval` (Wilson, 95 %); margin_median_pa, margin_worst_pa: room of the worst door, below
    zero when out; fails_most: the door most often out, in words, None where none ever is, out_share: how often, too: "low" or "high";
    power_w: mean from the mains; dead, left_out: inside although one transmitter, the one that matters most, reads zero or is left out
    (left_out None: it was the only one); at_full, at_lowest: the speed meets a limit.
    """

    choice: _PlacingLike
    inside: float
    interval: tuple
    margin_median_pa: float
    margin_worst_pa: float
    fails_most: str | None
    out_share: float
    too: str
    power_w: float
    dead: float
    left_out: float | None
    at_full: float
    at_lowest: float

    @property
    def energy_kwh(self):
        """Energy from the mains if the loop ran all year in such conditions."""
        return self.power_w * HOURS_OF_A_YEAR / 1000

    @property
    def fails_text(self):
        """The door that fails most, in words."""
        return "none" if self.fails_most is None else f"{self.fails_most}, too {self.too} in {percent(self.out_share)}"


@dataclass(frozen=True)
class Paired:
    """Two choices under the same conditions: in how many the first is inside and the second out (gained), and the other way round (lost);
    chance: that two equally good ones differ by so much or more (`paired_chance`)."""

    gained: int
    lost: int
    chance: float

    @property
    def told_apart(self):
        """Whether the conditions tell the two apart."""
        return self.chance < 1 - CONFIDENCE

    def text(self):
        """The counts and the chance in words."""
        if not self.gained + self.lost:
            return "inside and out in the very same conditions as the best"
        draws, limit = 1000 * self.chance, 1000 * (1 - CONFIDENCE)
        shown = "less than 1" if draws < 1 else f"{draws:.0f}" if abs(draws - limit) > 1 else f"{draws:.2f}"
        return (
            f"out in {self.gained} of the conditions in which the best is inside, and inside in {self.lost} in which the best is out; two "
            f"equally good choices differ by so much in {shown} of 1000 draws (exact test on pairs), "
            + (f"under {limit:.0f}: told apart" if self.told_apart else f"{limit:.0f} or more: not told apart")
        )


@dataclass(frozen=True)
class HeatMap:
    """Share of conditions with all doors inside, by the levels of two transmitters under one rule.

    share [low level, high level]; one transmitter alone stands on the diagonal; NaN where nothing was tried. With the rule "weighted" the
    first weight is the row's. Where several set points were tried the best of them counts.
    """

    rule: str
    levels: tuple
    share: np.ndarray


@dataclass(frozen=True)
class PlacementQuestion:
    """What was asked.

    choices: of `Placing`; levels: those they use, bottom up; own: the site file's choice (None: this study cannot tell of it);
    set_point_pa: of choices that state none; doors: of `DoorColumn`; conditions: how many were drawn; said: how, in sentences; supplies:
    levels at which the fan's air enters the stair.
    """

    site_name: str
    choices: tuple[_PlacingLike, ...]
    levels: tuple[int, ...]
    own: _PlacingLike | None
    set_point_pa: float
    doors: tuple
    conditions: int
    said: tuple
    supplies: tuple[int, ...] = ()

    def beside_supply(self, choice):
        """Levels of a choice that lie nearer than CLEAR_STOREYS to one at which the fan's air enters the stair."""
        return tuple(level for level in choice.levels if any(abs(level - at) < CLEAR_STOREYS for at in self.supplies))


@dataclass(frozen=True)
class Placement(Shown):
    """All choices under the same sampled conditions.

    done, unsolved: conditions looked at before a stop, and of these left out because the network found no answer; tally: of all choices in
    their order, power as the mean, and dead, left_out [choices, conditions] for the transmitter whose loss does the most.
    """

    question: PlacementQuestion
    done: int
    unsolved: int
    tally: Tally

    @classmethod
    def of(cls, question, groups, tallies, done, unsolved):
        """Bring the groups' tallies into the order of the choices."""
        order = np.argsort(np.concatenate([group.order for group in groups]))
        by_name = {name: np.concatenate([_worst_lost(name, getattr(tally, name)) for tally in tallies])[order] for name in vars(tallies[0])}
        by_name["power_w"] = by_name["power_w"] / (done - unsolved)
        return cls(question, done, unsolved, Tally(**by_name))

    @property
    def choices(self):
        """All choices, in the order of the arrays."""
        return self.question.choices

    @property
    def judged(self):
        """Number of conditions the shares are of."""
        return self.tally.room_pa.shape[1]

    @property
    def stopped(self):
        """Whether the study was stopped before all conditions were done."""
        return self.done < self.question.conditions

    @cached_property
    def inside(self):
        """Whether all doors are inside their windows [choices, conditions]."""
        return inside(self.tally.room_pa)

    @cached_property
    def share(self):
        """Share of conditions with all doors inside [choices]."""
        return self.inside.mean(axis=1)

    @cached_property
    def hopeless(self):
        """Share of conditions in which no choice at all keeps every door inside: those are not the transmitters' to mend."""
        return float((~self.inside.any(axis=0)).mean())

    @cached_property
    def margin_median_pa(self):
        """Median room of the worst door [choices]."""
        return np.median(self.tally.room_pa, axis=1).astype(float)

    @cached_property
    def ranked(self):
        """Numbers of the choices, the best first: by share, then by median margin, then by power."""
        return np.lexsort((self.tally.power_w, -self.margin_median_pa, -self.share))

    @property
    def best(self):
        """The best choice's result."""
        return self.result(self.ranked[0])

    def result(self, number):
        """`ChoiceResult` of a choice by its number in `choices`."""
        low, high = wilson_interval(int(self.inside[number].sum()), self.judged, CONFIDENCE)
        out = np.stack([self.tally.low[number], self.tally.high[number]])
        way, door = np.unravel_index(out.argmax(), out.shape)
        alone = len(self.choices[number].levels) == 1
        return ChoiceResult(
            self.choices[number], float(self.share[number]), (float(low), float(high)), float(self.margin_median_pa[number]),
            float(self.tally.room_pa[number].min()), self.question.doors[door].text if out.any() else None, float(out.max() / self.judged),
            ("low", "high")[way], float(self.tally.power_w[number]), float(self.tally.dead[number].mean()),
            None if alone else float(self.tally.left_out[number].mean()), float(self.tally.at_full[number] / self.judged),
            float(self.tally.at_lowest[number] / self.judged),
        )  # fmt: skip

    def number_of(self, choice):
        """Number of a choice. Raises ValueError for one that was not tried."""
        if choice not in self.choices:
            raise ValueError(f"choice must be one of the {len(self.choices)} tried, got {choice!r:.60}")
        return self.choices.index(choice)

    def best_of(self, rule=None, count=None):
        """Result of the best choice of a rule, of a number of transmitters, or both; None where none was tried."""
        for number in self.ranked:
            choice = self.choices[number]
            if (count is None or len(choice.levels) == count) and (rule is None or (choice.rule == rule and len(choice.levels) > 1)):
                return self.result(number)
        return None

    def against(self, choice, other):
        """In how many of the same conditions a choice is inside and another is not, and the other way round."""
        pair = self.paired(choice, other)
        return pair.gained, pair.lost

    def paired(self, choice, other):
        """`Paired` of a choice against another: shares of the same conditions are compared condition by condition, not by intervals."""
        one, two = self.inside[self.number_of(choice)], self.inside[self.number_of(other)]
        gained, lost = int((one & ~two).sum()), int((two & ~one).sum())
        return Paired(gained, lost, float(paired_chance(gained, lost)))

    @cached_property
    def as_good(self):
        """How many other choices the conditions do not tell apart from the best, each by itself on the same conditions."""
        best = self.inside[self.ranked[0]]
        chance = paired_chance((best & ~self.inside).sum(axis=1), (self.inside & ~best).sum(axis=1))
        return int((chance >= 1 - CONFIDENCE).sum()) - 1

    @property
    def flattered(self):
        """That the best was picked on the conditions it is compared on, in words."""
        return (
            f"the best of {len(self.choices)} is picked on these same conditions and looks better than it is: draw again with another seed "
            "before anything is moved"
        )

    def heat_map(self, rule):
        """`HeatMap` of all pairs under a rule. Raises ValueError for an unknown rule or one without any pair."""
        require.one_of(RULES, rule=rule)
        place = {level: number for number, level in enumerate(self.question.levels)}
        share, pairs = np.full((len(place), len(place)), np.nan), 0
        for choice, kept in zip(self.choices, self.share, strict=True):
            pair = len(choice.levels) == 2 and choice.rule == rule
            if pair or len(choice.levels) == 1:
                row, column = place[choice.levels[0]], place[choice.levels[-1]]
                share[row, column] = np.fmax(share[row, column], kept)
                pairs += pair
        if not pairs:
            raise ValueError(f"rule must be one that was tried on pairs, got {rule!r}")
        return HeatMap(rule, self.question.levels, share)

    def table(self, count=10):
        """The best choices as a `Table`, the site's own last where it is not among them."""
        numbers = list(self.ranked[:count])
        own = self.question.own
        if own in self.choices and self.number_of(own) not in numbers:
            numbers.append(self.number_of(own))
        place = {number: str(rank + 1) for rank, number in enumerate(self.ranked)}
        columns = (
            "place", "choice", "all doors inside", "95 % interval", "median margin", "worst margin", "fails most", "one dead",
            "one left out", "mean power", "at full speed",
        )  # fmt: skip
        rows = tuple((place[number], *self.cells(self.result(number))) for number in numbers)
        return Table("placement", f"Transmitters of {self.question.site_name}: the best choices", columns, rows, note=self.note)

    @property
    def note(self):
        """How the conditions were drawn, and what to be careful with."""
        return f"{' '.join(self.question.said)} {CAREFUL}"

    def verdict(self):
        """The answer in one paragraph."""
        return " ".join([*self._done_said(), *self._best_said(), *self._own_said(), *self._others_said()])

    def cells(self, result):
        """A `ChoiceResult` as the cells of `table` after its place."""
        low, high = result.interval
        margins = [with_unit(value, "pressure") for value in (result.margin_median_pa, result.margin_worst_pa)]
        left_out = "no reading left" if result.left_out is None else percent(result.left_out)
        return (
            result.choice.text(), percent(result.inside), f"{percent(low)} to {percent(high)}", *margins, result.fails_text,
            percent(result.dead), left_out, with_unit(result.power_w, "power"), percent(result.at_full),
        )  # fmt: skip

    def _done_said(self):
        asked = self.question.conditions
        if self.stopped:
            yield f"Stopped after {self.done} of {asked} conditions ({percent(self.done / asked)}): this is what they say so far."
        lost = f" ({self.unsolved} more had no answer and are left out)" if self.unsolved else ""
        stated = {choice.set_point_pa for choice in self.choices} - {None} or {self.question.set_point_pa}
        held_at = range_text(min(stated), max(stated), "pressure") if len(stated) > 1 else with_unit(*stated, "pressure")
        yield f"{len(self.choices)} choices, held at {held_at}, under the same {self.judged} sampled conditions{lost}."

    def _best_said(self):
        best, (low, high) = self.best, self.best.interval
        margin, power = with_unit(best.margin_median_pa, "pressure"), with_unit(best.power_w, "power")
        yield (
            f"Best: {best.choice.text()}, with all doors inside their windows in {percent(best.inside)} of conditions "
            f"(95 % interval {percent(low)} to {percent(high)}), a median margin of {margin} and {power} on average; the door that fails "
            f"most: {best.fails_text}."
        )
        yield from self._jet_said(best)
        lost = "" if best.left_out is None else f", with one left out {percent(best.left_out)}"
        yield f"With one transmitter dead at zero {percent(best.dead)} remain{lost}."
        if self.as_good:
            yield f"{self.as_good} other choice{'s are' if self.as_good > 1 else ' is'} not told apart from it by these conditions."
        yield f"{self.flattered[0].upper()}{self.flattered[1:]}."
        if self.hopeless:
            yield f"In {percent(self.hopeless)} of conditions no choice at all keeps every door inside: no transmitter helps there."

    def _jet_said(self, best):
        """That the best lies beside a supply outlet, whose jet the model leaves out, and the best that does not."""
        near = self.question.beside_supply(best.choice)
        if not near:
            return
        count = len(best.choice.levels)
        clear = next((self.choices[number] for number in self.ranked if len(self.choices[number].levels) == count
                      and not self.question.beside_supply(self.choices[number])), None)  # fmt: skip
        other = "no place that was tried is clear of one" if clear is None else (
            f"the best clear of it is {clear.text()}, {percent(self.result(self.number_of(clear)).inside)}")  # fmt: skip
        yield (
            f"Do not drill at storey {listed(map(str, near))} by this alone: less than {CLEAR_STOREYS} storeys from where the fan's air "
            f"enters the stair (storey {listed(map(str, self.question.supplies))}) a tube end may read the jet, which the model leaves out "
            f"(common practice, no source); {other}."
        )

    def _own_said(self):
        if self.question.own not in self.choices:
            return
        own = self.result(self.number_of(self.question.own))
        if own.choice == self.best.choice:
            yield "It is what the site file has chosen."
        else:
            yield (
                f"The site's own choice, {own.choice.text()}, reaches {percent(own.inside)} (place {self._place(own)}): it is "
                f"{self.paired(self.best.choice, own.choice).text()}."
            )
        others = [
            f"{choice.rule} {percent(share)}"
            for choice, share in zip(self.choices, self.share, strict=True)
            if (choice.levels, choice.set_point_pa) == (own.choice.levels, None) and choice.rule != own.choice.rule
        ]
        if others:
            yield f"On the site's own storeys the other rules reach: {', '.join(others)}."

    def _others_said(self):
        found = [self.best_of(rule) for rule in RULES if rule != self.best.choice.rule or len(self.best.choice.levels) == 1]
        if any(found):
            told = [f"{result.choice.text()} {percent(result.inside)}" for result in found if result]
            yield f"The best of the other rules: {'; '.join(told)}."
        single = self.best_of(count=1)
        if single and single.choice != self.best.choice:
            yield f"The best single one, {single.choice.text()}, reaches {percent(single.inside)}."

    def _place(self, result):
        return int(np.flatnonzero(self.ranked == self.number_of(result.choice))[0]) + 1


def _worst_lost(name, values):
    """The loss that does the most, over a choice's transmitters."""
    if name not in ("dead", "left_out"):
        return values
    return values[np.arange(len(values)), values.sum(axis=2).argmin(axis=1)]


def percent(share):
    """A share in words.

    >>> percent(0.816)
    '81.6 %'
    """
    return f"{100 * share:.1f} %"


def counted(successes, trials):
    """A share that was counted, with its interval (Wilson, 95 %) beside it."""
    low, high = wilson_interval(successes, trials, CONFIDENCE)
    return f"{percent(successes / trials)} ({100 * low:.1f} to {percent(high)})"
