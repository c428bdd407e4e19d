"""Injection table: one plan of what to put on the inputs, and what every display, alarm and the fan must make of it.

Its parts in the order of work: the fewest points that prove what was entered (`proof.check_plan` finds them), each input along its
range, wires off one by one and all at once, each alarm just beyond its limit. Signals stay off the very ends of a range: an input that
clips shows a right figure there whatever its offset.
"""

from dataclasses import dataclass
from itertools import combinations, permutations

import numpy as np

from helpers import require, units
from helpers.formulas import signals, uncertainty
from helpers.formulas.combining import RULES, combine
from helpers.studies.commissioning.hand_back import NOT_LEFT
from helpers.studies.readings.failures import OWN, SPEED
from helpers.studies.readings.words import against_said, frozen_counts_as_lost, left_said, moves_fan
from helpers.units.said import with_unit

# Per cent of span. Common practice, no source: the data sheets of the calibrator and of the drive's analogue input decide.
CALIBRATOR_PERCENT, INPUT_PERCENT = 0.05, 0.5
STEPS_PERCENT = (5.0, 25.0, 75.0, 95.0)  # of one input, the others at 50 %; at 0 and 100 % an input that clips hides an offset
PARTS = ("settings", "range", "failed signals", "alarms")
POINT_PARTS, STEP_PARTS = PARTS[:1], PARTS[2:]  # that are points and steps (+) of the sheet of the day
WIRE_OFF, UNLIKE = "wire off", 5.0  # per cent about the middle at which what is left stands; ours
# Before the person at the switch takes over: so many times the time in which the fan should be at the speed named, and so far past it.
TAKEN_OVER, PAST_HZ = 2.0, 1.0  # common practice, no source
BEYOND = 2.0  # tolerances of a display by which an alarm's limit is passed, so that it must ring


@dataclass(frozen=True)
class InjectionRow:
    """One step of the check.

    percents: of the signal on each input, None for a wire taken off; signals [V or mA]; readings_pa: each display, None where the signal
    counts as failed and is left out; combined_pa: the display that runs the loop, None where no reading is left, and where one is lost and
    what the loop then does is not laid down (open_after_loss); if_instead_pa: what it would show if the drive combined otherwise, by
    hypothesis, None likewise; purpose in words; part: one of PARTS; must: what else must be seen, of alarms
    and of the fan; automatic: whether the fan stands in automatic, because it is the fan that is looked at; wait_s: what is waited for [s].
    """

    percents: tuple
    signals: tuple
    readings_pa: tuple
    combined_pa: float | None
    if_instead_pa: dict
    purpose: str
    part: str = "range"
    must: str = ""
    automatic: bool = False
    wait_s: float = 0.0
    open_after_loss: bool = False

    @property
    def fan(self):
        """Whether the fan stands in MANUAL or in AUTO at this step."""
        return "AUTO" if self.automatic else "MANUAL"

    @property
    def said(self):
        """Purpose and what must be seen, as sentences."""
        return f"{self.purpose}. {self.must[:1].upper()}{self.must[1:]}".strip()


@dataclass(frozen=True)
class InjectionTable:
    """Rows in the order of work and the tolerance of each display, every part at its worst.

    tolerance_pa: of each reading when the signal is put on the drive's input; pressure_tolerance_pa: when a pressure is put on the
    transmitter, so that its own accuracy counts too; combined_...: the same for the combined reading. not_laid_down: why there is no
    fallback speed to be proved, in words, "" where there is one or nobody knows.
    """

    transmitters: tuple
    rule: str
    hypotheses: tuple
    rows: tuple
    tolerance_pa: tuple
    pressure_tolerance_pa: tuple
    combined_tolerance_pa: float
    combined_pressure_tolerance_pa: float
    not_laid_down: str = ""

    @property
    def not_proved(self):
        """What must not be proved, because it is not laid down, and what comes first; "" for nothing."""
        if not self.not_laid_down:
            return ""
        alarms = "" if any(row.part == PARTS[3] for row in self.rows) else " or alarm limits"
        first = self.not_laid_down.removeprefix("not laid down: ")
        return f"NOT LAID DOWN: do not prove a fallback speed{alarms}, whatever is entered; {first}. Until then NOT YET at the best."

    @property
    def not_told_apart(self):
        """Pairs of hypotheses that no row tells apart by more than the tolerance on both sides."""
        shown = np.array([[row.if_instead_pa[name] for name in self.hypotheses] for row in self.rows if None not in row.readings_pa])
        apart = np.abs(shown[:, :, None] - shown[:, None, :]) > 2 * self.combined_tolerance_pa
        names = self.hypotheses
        return tuple((names[a], names[b]) for a, b in combinations(range(len(names)), 2) if not apart[:, a, b].any())

    def apart(self, limit_pa):
        """Steps before the alarms' that hold two displays further apart than a limit [Pa]: (their numbers from 1, the most apart [Pa]).

        A drive that believes neither of two readings that differ by more shows none of them after its delay; None where there is no such
        step, or no limit.
        """
        rows = [(number, row.readings_pa) for number, row in enumerate(self.rows, 1) if row.part != PARTS[-1]]
        found = {number: max(shown) - min(shown) for number, shown in rows if None not in shown and limit_pa is not None}
        beyond = {number: apart for number, apart in found.items() if apart > limit_pa}
        return (tuple(beyond), float(max(beyond.values()))) if beyond else None

    def fits(self, shown_pa):
        """Hypotheses that agree with all displays seen, one a row (None: not read). The names that are left tell what the drive does."""
        seen = list(zip(self.rows, shown_pa, strict=True))
        return tuple(
            name
            for name in self.hypotheses
            if all(
                shown is None or row.if_instead_pa[name] is None or abs(row.if_instead_pa[name] - shown) <= self.combined_tolerance_pa
                for row, shown in seen
            )
        )


def injection_table(
    transmitters, rule, weights=None, calibrator_percent=CALIBRATOR_PERCENT, input_percent=INPUT_PERCENT, fewest=None, fallback=None,
    not_laid_down="",
):  # fmt: skip
    """Injection table of some transmitters under a signal selection.

    transmitters: of the site (name, range, signal, accuracy, converter); rule: one of RULES; weights: for "weighted"; calibrator_percent,
    input_percent: accuracy of calibrator and of the drive's analogue input [% of span]; fewest: per cents on the inputs of the points that
    prove the settings, by default each pair of inputs at 25 and 75 % and crossed; fallback: a `FallbackStudy` whose alarms and fallback
    speed are to be proved, or None; not_laid_down: why no fallback speed is, in words: then none is proved, nor what the readings left
    give, and none of the steps asks for the fan in automatic. Returns `InjectionTable`.
    Rows: those points; all inputs at 50 %; each input at 5, 25, 75 and 95 % with the others at 50 %; each wire taken off, then all at once;
    each alarm just beyond its limit. Raises ValueError for no transmitter, an unknown rule, weights that do not fit, a percentage below
    zero. Limits: checks scaling and combining, not the tubes; what a drive does on a lost signal is one of its settings, so look.
    """
    taps = tuple(transmitters)
    if not taps:
        raise ValueError("transmitters must hold at least one transmitter, got none")
    require.one_of(RULES, rule=rule)
    bench = _SideBySide(taps, rule, weights)
    plain = tuple(display_tolerance_pa(tap, calibrator_percent, input_percent) for tap in taps)
    own = tuple(float(signals.accuracy(t.range_low_pa, t.range_high_pa, t.accuracy_percent_span)) for t in taps)
    with_own = tuple(a + b for a, b in zip(plain, own, strict=True))
    together = [combined_tolerance_pa(tolerances, rule, weights) for tolerances in (plain, with_own)]
    steps = (
        *bench.steps(fewest, None if not_laid_down else fallback, not_laid_down),
        *bench.alarm_steps(plain, fallback, bool(not_laid_down)),
    )
    rows = tuple(bench.row(*step) for step in steps)
    return InjectionTable(taps, rule, bench.hypotheses, rows, plain, with_own, *together, not_laid_down)


def put_words(row, transmitters):
    """What to put on each input at a step, in words; a wire off is a loop opened outside the panel."""
    several = zip(row.percents, row.signals, transmitters, strict=True)
    return ", ".join(
        f"{tap.tag}: loop open" if percent is None else f"{value:.2f} {signals.SIGNALS[tap.signal][2]} on {tap.tag}"
        for percent, value, tap in several
    )


def display_tolerance_pa(tap, calibrator_percent=CALIBRATOR_PERCENT, input_percent=INPUT_PERCENT):
    """By how much a display may be off when a signal is injected [Pa]: calibrator, analogue input and converter step, each at its worst.

    tap: `Transmitter` (range, signal, converter); percentages of its span. Raises ValueError for a percentage below zero.
    """
    percents = [require.at_least(0, calibrator_percent=calibrator_percent), require.at_least(0, input_percent=input_percent)]
    span = tap.range_high_pa - tap.range_low_pa
    step = signals.resolution(tap.range_low_pa, tap.range_high_pa, tap.converter_bits, tap.signal)
    return float(uncertainty.worst_case([span * float(percent) / 100 for percent in percents] + [float(step)]))


def combined_tolerance_pa(tolerances_pa, rule, weights=None):
    """By how much the combined display may be off [Pa]: the mean (by weight) of those averaged, the largest where one of them is picked.

    tolerances_pa: of each input, 0 or more. Raises ValueError for what is no such number.
    """
    tolerances_pa = require.at_least(0.0, tolerances_pa=tolerances_pa)
    return float(combine(tolerances_pa, rule, weights=weights)) if rule in ("average", "weighted") else float(tolerances_pa.max())


class _SideBySide:
    """Inputs side by side, and what the displays show for any signals on them."""

    def __init__(self, taps, rule, weights):
        self.taps, self.rule, self.weights = taps, rule, weights
        rules = ["average", "lowest", "highest"] if len(taps) > 1 else []
        rules += ["middle"] if len(taps) > 2 else []
        self.rules = tuple(dict.fromkeys([rule, *rules]))
        self.singles = tuple(f"only {tap.name}" for tap in taps) if len(taps) > 1 else ()

    @property
    def hypotheses(self):
        """The rule asked for, then all that a drive might do instead."""
        return (*self.rules, *self.singles)

    def steps(self, fewest, fallback, not_laid_down):
        """(percents, purpose, part, must, automatic) of all rows but the alarms'; None stands for a wire taken off."""
        settings, along, failed, _ = PARTS
        count = len(self.taps)
        middle = (50.0,) * count
        if fewest is not None:
            for number, percents in enumerate(fewest, 1):
                yield tuple(percents), f"point {number} of the {len(fewest)} that prove the settings", settings, ""
        yield middle, "half of the signal on every input: every display half way up its range", along, ""
        for place, tap in enumerate(self.taps):
            for percent in STEPS_PERCENT:
                why = f"{tap.tag} alone at {percent:g} %: its scaling, and that it is on its own input"
                yield _with(middle, {place: percent}), why, along, ""
        for low, high in permutations(range(count), 2) if fewest is None else ():
            names = self.taps[low].tag, self.taps[high].tag
            why = f"low signal on {names[0]}, high on {names[1]}: tells the rules and single inputs apart"
            yield _with(middle, {low: 25.0, high: 75.0}), why, settings, ""
        for place, tap in enumerate(self.taps):
            told, *after = _after_loss(tap, fallback if count > 1 else None, left_said(self.rule, count - 1), not_laid_down)
            left = np.linspace(50 - UNLIKE, 50 + UNLIKE, count - 1).tolist() if count > 2 else middle[1:]  # shows how they are combined
            open_ = bool(not_laid_down) and signals.live_zero(tap.signal)
            yield (*left[:place], None, *left[place:]), f"{tap.tag} {WIRE_OFF}: {told}", failed, *after, 0.0, open_
        if count > 1:
            yield (None,) * count, *self._all_off(fallback, not_laid_down)

    def _all_off(self, fallback, not_laid_down):
        """(purpose, part, must, automatic) of every wire off at once."""
        own, failed = "the controller tells it, and the fan runs on", PARTS[2]
        if not all(signals.live_zero(tap.signal) for tap in self.taps):
            why = "cannot all be seen as failed: first a signal with a live zero. Not in automatic: it would run the fan on by a false 0"
            return "every wire off at once: what the displays show", failed, why, False
        if not_laid_down:
            return (
                "every wire off at once: what the controller tells",
                failed,
                f"{own}; the fallback speed is {not_laid_down}: {NOT_LEFT}",
                False,
            )
        purpose = "every wire off at once: the fallback speed and what the controller tells"
        where = "fan in automatic, nobody in the stair"
        if fallback is None or fallback.speed_hz is None:
            return purpose, failed, f"{where}: it goes to the fallback speed; {own}. {_take_over('the fallback speed', None)}", True
        speed, reached = units.show(fallback.speed_hz, "frequency", digits=1), units.show(fallback.reached_after_s, "time")
        over = _take_over(speed, fallback.reached_after_s)
        return purpose, failed, f"{where}: {speed} within {reached}; {own}. {over}{_out_at_speed(fallback)}", True

    def alarm_steps(self, tolerance_pa, fallback, not_laid_down):
        """(percents, purpose, part, must, automatic, wait [s]) of the alarms: a signal standing still, each reading beyond its limits,
        two that differ too much."""
        limits = None if fallback is None else fallback.alarm_limits
        if limits is None:
            return
        taps, part, moves = self.taps, PARTS[-1], not not_laid_down and moves_fan(fallback)
        then = "then as one that is lost" if not not_laid_down and frozen_counts_as_lost(fallback) else "an alarm alone"
        still = f"held still for {limits.frozen_s:g} s: each reading told as frozen, where the device can, {then}"
        middle = [(one.low_pa + one.high_pa) / 2 for one in limits.readings]
        why = "a calibrator's signal never moves: a live reading is never quite still"
        yield _percents(taps, middle), why, part, still, False, limits.frozen_s
        for place, (tap, one) in enumerate(zip(taps, limits.readings, strict=True)):
            off = BEYOND * tolerance_pa[place]
            for end, value in (("low", one.low_pa - off), ("high", one.high_pa + off)):
                readings = [*middle[:place], value, *middle[place + 1 :]]
                if tap.range_low_pa < value < tap.range_high_pa:
                    must, wait_s, _ = _must_ring(limits, readings, tolerance_pa)
                    yield _percents(taps, readings), f"{tap.tag}: just beyond its {end} alarm", part, must, False, wait_s
        if limits.deviation_pa is not None:
            last = len(taps) - 1
            off = limits.deviation_pa + BEYOND * (tolerance_pa[0] + tolerance_pa[last])
            ends = [(limits.readings[place], tolerance_pa[place]) for place in (0, last)]
            for way in (-1.0, 1.0):  # where both can stand inside their own limits, they do
                half = -way * off / 2, way * off / 2
                least = max(one.low_pa + beside - out for (one, beside), out in zip(ends, half, strict=True))
                most = min(one.high_pa - beside - out for (one, beside), out in zip(ends, half, strict=True))
                at = (middle[0] + middle[last]) / 2
                centre = min(max(at, least), most) if least <= most else at
                readings, auto = [centre + half[0], *middle[1:last], centre + half[1]], moves and way < 0
                if auto:  # the loop sees its set point until the alarm comes
                    readings = [value + self.off_set_point(readings, fallback) for value in readings]
                if all(tap.range_low_pa < value < tap.range_high_pa for tap, value in zip(taps, readings, strict=True)):
                    why = f"{taps[0].name} and {taps[last].name} further apart than sound readings are"
                    must, wait_s, alone = _must_ring(limits, readings, tolerance_pa)
                    why += ": by the difference alone" if alone else ""
                    yield _percents(taps, readings), why, part, f"{must}{_moved(fallback, wait_s) if auto else ''}", auto, wait_s

    def off_set_point(self, readings_pa, fallback):
        """By how much the set point is above the combined reading [Pa]."""
        return fallback.site.control.set_point_pa - float(combine(np.array(readings_pa), self.rule, weights=self.weights))

    def row(self, percents, purpose, part="range", must="", automatic=False, wait_s=0.0, open_after_loss=False):
        sent = tuple(_signal(percent, tap) for percent, tap in zip(percents, self.taps, strict=True))
        good = np.array([bool(signals.good(value, tap.signal)) for value, tap in zip(sent, self.taps, strict=True)])
        of_taps = zip(sent, self.taps, strict=True)
        readings = np.array([float(signals.to_units(value, one.signal, one.range_low_pa, one.range_high_pa)) for value, one in of_taps])
        shown = {rule: _number(combine(readings, rule, good=good, weights=self.weights)) for rule in self.rules}
        shown |= {name: float(reading) if ok else None for name, reading, ok in zip(self.singles, readings, good, strict=False)}
        shown = dict.fromkeys(shown) if open_after_loss else shown
        displays = tuple(float(reading) if ok else None for reading, ok in zip(readings, good, strict=True))
        rest = purpose, part, must, automatic, wait_s, open_after_loss
        return InjectionRow(tuple(percents), sent, displays, shown[self.rule], shown, *rest)


def _out_at_speed(fallback):
    """That reaching the fallback speed is not yet a stair that is held: its worst door, where one is out of its limits."""
    way = fallback.at_speed(fallback.speed_hz)
    if way is None or way.state != "wrong":
        return ""
    return f" The speed itself is FAIL: {'; '.join(against_said(fallback, way))}."


def _take_over(speed, reached_s, wait_s=0.0):
    """When the person at the switch takes over from a fan in automatic; reached_s: until it should be at the speed, None: not known;
    wait_s: until it is sent there."""
    late = "in twice the time it should take" if reached_s is None else f"after {np.ceil(wait_s + TAKEN_OVER * reached_s):.0f} s"
    seen = f"it runs more than {PAST_HZ:g} Hz past {speed}, or has not settled at it {late}"
    return f"If {seen}: MANUAL at once, stop the test, write otherwise."


def _moved(fallback, wait_s):
    """That an alarm sends the fan to its fallback speed, to be seen in automatic; wait_s: until the alarm comes."""
    speed, reached = with_unit(fallback.speed_hz, "frequency", 1), with_unit(fallback.reached_after_s, "time")
    return (
        f". In automatic, nobody in the stair: {speed} within {reached} of the first of these alarms, the one for a reading that stands "
        f"still included; until then the loop sees its set point. {_take_over(speed, fallback.reached_after_s, wait_s)}"
    )


def _after_loss(tap, fallback, how, not_laid_down):
    """(what the drive makes of one reading lost, what must be seen, whether in automatic); how: as `left_said`."""
    if not signals.live_zero(tap.signal):
        return f"a {tap.signal} signal cannot tell it from 0 %", "", False
    if not_laid_down:
        return "its alarm, told as failed", f"what the loop then does is not laid down: {NOT_LEFT}", False
    best = None if fallback is None else fallback.best
    if best is not None and best.name == OWN and tap.name in fallback.set_points_pa:
        own = with_unit(fallback.set_points_pa[tap.name], "pressure")
        remains = f"what remains, {how}," if how else "what remains"
        look = f"{remains} goes to its own set point, {own}: look at the one that the drive shows, in manual"
        return "taken as failed and left out", f"{look}; in automatic the loop would run to an end on a signal that stands still", False
    if best is not None and best.name == SPEED:
        speed = units.show(fallback.speed_hz, "frequency", digits=1)
        over = _take_over(speed, fallback.reached_after_s)
        return f"taken as failed; the loop goes to {speed}", f"look, in automatic, nobody in the stair. {over}", True
    return "taken as failed and left out", "", False


def _must_ring(limits, readings_pa, tolerance_pa):
    """(every alarm that such readings must raise, and after how long, and which may come for what the input may be off; how long that is
    [s]; whether none on a single reading is among them)."""
    rings, near = [], []
    for one, value, off in zip(limits.readings, readings_pa, tolerance_pa, strict=True):
        for end, past in (("low", one.low_pa - value), ("high", value - one.high_pa)):
            rings += [f"{one.name}: {end} alarm"] if past > off else []
            near += [f"{one.name}: {end} alarm"] if -off < past <= off else []
    told = [f"{' and '.join(rings)} after {limits.wait_text(limits.after_s)}"] if rings else []
    waits = [limits.after_s] if rings else [0.0]
    if limits.deviation_pa is not None and max(readings_pa) - min(readings_pa) > limits.deviation_pa:
        told.append(f"difference alarm after {limits.wait_text(limits.deviation_after_s)}")
        waits.append(limits.deviation_after_s)
    told += [f"{' and '.join(near)} may ring too, within what the input may be off"] if near else []
    return f"{'; '.join(told)}; silent again when put back", max(waits), not rings and not near


def _percents(taps, readings_pa):
    pairs = zip(taps, readings_pa, strict=True)
    return tuple(100 * (value - tap.range_low_pa) / (tap.range_high_pa - tap.range_low_pa) for tap, value in pairs)


def _with(percents, changes):
    return tuple(changes.get(place, percent) for place, percent in enumerate(percents))


def _signal(percent, tap):
    """Signal [V or mA] at a per cent of its span; a wire taken off is no signal."""
    low, high, _ = signals.SIGNALS[tap.signal]
    return 0.0 if percent is None else low + (high - low) * percent / 100


def _number(value):
    return None if np.isnan(value) else float(value)
