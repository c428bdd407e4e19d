"""What wind does at the doors: every case of a rule beside the same case without any wind, at the same set point, and which cases wind
decides. The loop holds its set point in both: wind shows where it parts the doors from the reading, and as the fan's speed."""

from dataclasses import dataclass

import numpy as np

from helpers.studies.readings.rules import RuleResult, compare_rules
from helpers.studies.report import NETWORK, Finding, Table, listed, range_text, signed
from helpers.studies.status import word_of, worst_of
from helpers.units.said import with_unit

COLUMNS = (
    "Case", "Shut stair doors", "Shut stair doors without wind", "Most that wind moves one", "Fan speed", "Fan speed without wind",
    "Room of the worst door", "Room without wind", "What wind decides",
)  # fmt: skip
NOTHING, TENTH = "–", (1, 3)  # wind moves a door by little
LIMITS = (
    "Held at the same set point by the fan stated, with wind of the site file and without any; the stair's air is the same in both. Mean "
    "wind, no gusts. Wind does not press on a final exit whose bearing is not stated."
)


@dataclass(frozen=True)
class WithoutWind:
    """`RuleResult`s of one rule in the same cases, with the weathers' wind and without any; levels: of the storeys."""

    windy: RuleResult
    still: RuleResult
    levels: tuple[int, ...]

    def moved(self, place):
        """(storey, by how much [Pa]) of the shut stair door that wind moves most in a case; None where none is shut."""
        change = np.where(self._shut(place), self.windy.door_dp_pa[place] - self.still.door_dp_pa[place], np.nan)
        if np.isnan(change).all():
            return None
        storey = int(np.nanargmax(np.abs(change)))
        return self.levels[storey], float(change[storey])

    @property
    def decided(self):
        """Places of the cases that have another status without wind."""
        return tuple(place for place in range(len(self.windy.cases)) if self.windy.status(place) != self.still.status(place))

    def said(self):
        """Which case wind decides, and where it moves a door most, in a sentence or two."""
        moves = {place: moved for place in range(len(self.windy.cases)) if (moved := self.moved(place))}
        most = max(moves, key=lambda place: abs(moves[place][1]), default=None)
        where = ""
        if most is not None:
            storey, by = moves[most]
            where = f" It moves a shut stair door by {signed(by, 'pressure', TENTH)} at the most: storey {storey}, {self._name(most)}."
        if not self.decided:
            return f"Wind decides no case: each has the same verdict without it.{where}"
        return f"Wind decides {listed(f'{self._name(place)} ({self._verdicts(place)})' for place in self.decided)}.{where}"

    def findings(self):
        """That a case is good by its wind alone: none where none is. A calm day comes whatever the site file says: what the design has to
        hold is FAIL there as with wind, and a case beside the design is CHECK."""
        bad = [place for place in self.decided if self.windy.good[place] and not self.still.good[place]]
        if bad:
            yield Finding(
                worst_of(self.still.status(place) for place in bad), "In calm air doors are out that the weather's wind leaves inside",
                "; ".join(f"{self._name(place)}: {self.still.case_text(place)}" for place in bad),
                "the site file has no such weather without wind, and a calm day comes", NETWORK,
                "a set point, or doors, that hold without wind too; state it in the site file with its wind at 0, and all is tried in it",
            )  # fmt: skip

    def table(self):
        """`Table` of all cases."""
        places = range(len(self.windy.cases))
        return Table("wind", "Doors with wind and without", COLUMNS, tuple(map(self._row, places)), tuple(map(self._state, places)), LIMITS)

    def _state(self, place):
        """Of a case with its wind and without any, the graver of both: calm air is a case of every weather."""
        return worst_of((self.windy.status(place), self.still.status(place)))

    def _row(self, place):
        moved, (windy, still) = self.moved(place), (self.windy, self.still)
        by = NOTHING if moved is None else f"{signed(moved[1], 'pressure', TENTH)} at storey {moved[0]}"
        speeds = (with_unit(one.speed_hz[place], "frequency") for one in (windy, still))
        rooms = (_room(one.margin_pa[place]) for one in (windy, still))
        decides = self._verdicts(place) if place in self.decided else "nothing"
        return (self._name(place), *(self._span(one, place) for one in (windy, still)), by, *speeds, *rooms, decides)

    def _span(self, result, place):
        doors = result.door_dp_pa[place][self._shut(place)]
        lost = "" if result.state[place] == "held" else f", {result.state[place]}"
        return f"{range_text(doors.min(), doors.max(), 'pressure')}{lost}" if doors.size else NOTHING

    def _verdicts(self, place):
        return f"{word_of(self.windy.status(place))} with wind, {word_of(self.still.status(place))} without"

    def _name(self, place):
        return self.windy.cases[place].name

    def _shut(self, place):
        return ~np.isin(self.levels, self.windy.cases[place].open_doors)


def _room(margin_pa):
    return signed(margin_pa, "pressure", TENTH) if np.isfinite(margin_pa) else NOTHING


def without_wind(tower, window, windy):
    """`WithoutWind` of a `RuleResult` of the site's own transmitters, set point and weights; tower, window: those it was found with."""
    still = compare_rules(tower, window, windy.cases, rules=(windy.rule,), still=True).results[0]
    return WithoutWind(windy, still, tuple(tower.levels))
