"""Reverse or direct: found from the model's own answer to a change of speed, not from a table."""

from dataclasses import dataclass

import numpy as np

from helpers import units
from helpers.formulas import action as actions
from helpers.formulas.combining import combine
from helpers.studies.cases import conditions_of
from helpers.studies.figures import NETWORK, PRACTICE, Finding

__all__ = ["Acting", "acting"]

LEAST_ANSWER_PA = 0.5  # ours: a reading that moves less between the two speeds cannot run a loop
STEP_SHARE = 0.1  # of the speed range, up and down from the duty speed


@dataclass(frozen=True)
class Acting:
    """What the readings do when the fan turns faster, and what follows.

    slow_hz, fast_hz, slow_pa, fast_pa (combined reading) by case; answers: +1 up, -1 down, 0 no answer, by case; fan_effect: the common
    one (None where the cases disagree or none answers); action: "reverse", "direct" or None; stated: the site's own.
    """

    cases: tuple
    slow_hz: np.ndarray
    fast_hz: np.ndarray
    slow_pa: np.ndarray
    fast_pa: np.ndarray
    answers: np.ndarray
    fan_effect: int | None
    action: str | None
    stated: str

    @property
    def agrees(self):
        """Whether the site states the action that holds."""
        return self.action == self.stated

    def verdict(self, system="Pa"):
        """The action and its reason, in plain words."""
        if self.action is None:
            return "No action can be named: the reading does not answer to the fan's speed in one and the same way in all cases."
        place = int(np.argmax(np.abs(self.answers)))
        slow, fast = (units.show(array[place], "pressure", system) for array in (self.slow_pa, self.fast_pa))
        slow_hz, fast_hz = (units.show(array[place], "frequency", system) for array in (self.slow_hz, self.fast_hz))
        way = "rises" if self.fan_effect > 0 else "falls"
        turn = "slow down" if self.action == "reverse" else "speed up"
        said = (
            f"{self.action.capitalize()} acting. From {slow_hz} to {fast_hz} the reading {way} from {slow} to {fast} "
            f"({self.cases[place].name}), so the fan must {turn} when the reading is above the set point."
        )
        return said if self.agrees else f"{said} The site file states {self.stated}: that loop would run away."

    def findings(self, system="Pa"):
        """A wrong action, and cases in which the reading does not answer."""
        return tuple(self._findings(system))

    def _findings(self, system):
        if self.action is not None and not self.agrees:
            stop = actions.end_stop(self.stated, self.fan_effect, actions.error(1.0, 0.0, self.stated))
            yield Finding("wrong", f"The action is stated as {self.stated} and must be {self.action}", f"fan effect {self.fan_effect:+d}",
                          f"with the wrong action an error drives itself on: below the set point the fan runs to {stop}",
                          f"sign once round the loop; {PRACTICE}", f"set the loop to {self.action} acting")  # fmt: skip
        elif self.action is not None:
            yield Finding("good", f"The action stated, {self.stated}, is the one that holds", f"fan effect {self.fan_effect:+d}")
        for place in np.flatnonzero(self.answers == 0):
            change = units.show(self.fast_pa[place] - self.slow_pa[place], "pressure", system, 2)
            yield Finding("attention", f"The reading hardly answers to the fan: {self.cases[place].name}", change,
                          "a door stands open beside what the transmitter reads, or the fan has nothing to push against",
                          NETWORK, "another place for the transmitter, or another rule")  # fmt: skip


def acting(tower, comparison, rule):
    """Find the action from the combined reading at two speeds in every case.

    comparison: `RuleComparison`; rule: one of its rules, whose speeds are the middle of the step. Returns `Acting`.
    Raises ValueError for a rule that was not compared. Limits: the steady answer; a reading may first go the other way for a moment.
    """
    result, site = comparison.result(rule), tower.site
    lowest, highest = site.fan.lowest_speed_hz, site.fan.highest_speed_hz
    step = STEP_SHARE * (highest - lowest)
    slow, fast = np.clip(result.speed_hz - step, lowest, highest), np.clip(result.speed_hz + step, lowest, highest)
    count, weights = len(result.cases), site.control.weights if rule == "weighted" else None
    both = conditions_of(site, result.cases).rows(np.tile(np.arange(count), 2))
    readings = tower.readings(tower.solve(both, np.concatenate([slow, fast])), comparison.transmitters)
    reading = combine(readings, rule, weights=weights)
    slow_pa, fast_pa = reading[:count], reading[count:]
    change = fast_pa - slow_pa
    answers = np.where(np.abs(change) >= LEAST_ANSWER_PA, np.sign(change), 0).astype(int)
    effects = set(answers[answers != 0].tolist())
    effect = effects.pop() if len(effects) == 1 else None
    action = None if effect is None else actions.action_for(effect)
    return Acting(result.cases, slow, fast, slow_pa, fast_pa, answers, effect, action, site.control.action)
