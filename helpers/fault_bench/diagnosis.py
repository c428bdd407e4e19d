"""What can be concluded from looks laid side by side: a gauge against a display, an entry against a plate or the handover sheet.

A figure alone says little: right ranges, gains, ramps and thresholds differ from site to site, so an entry counts only beside what it
should be. An old hand who knows usual figures may need one look less. Tolerances are ours: gauge, display and transmitter together.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from helpers.fault_bench.checks import INPUTS, METERED, PUMPED_PA, look, raw_percent
from helpers.fault_bench.faulty_loop import TAPS, site
from helpers.fault_bench.found import SHUTS_S
from helpers.formulas import signals
from helpers.formulas.action import ACTIONS
from helpers.formulas.combining import combine

TOLERANCE_PA = 4.0
HELD_PA = 5.0
NO_ANSWER_PA = 20.0
SCATTER_PERCENT = 1.2  # of span, in the trend; the reading that jumps about most is named
RAW_SCATTER_PERCENT = 1.0
FLAT_PA, NOTHING_PA = 2.5, 4.0
CREEPS_S = 4.0
LATE_BY_HAND_S = 8.0
LATE_S = 30.0
OPEN_PERCENT, RELIEF_PERCENT = 30.0, 40.0
SLIP_SHARE = 0.9
AT_END_HZ, STANDS_HZ = 0.5, 1.0


@dataclass(frozen=True)
class Conclusion:
    """key: what it is about; needs: the looks (check, place) it is drawn from; draw(*figures): the outcome, a few words."""

    key: str
    needs: tuple
    draw: Callable[..., str]


def _against(first, second, tolerance=TOLERANCE_PA):
    return "agrees" if abs(first - second) <= tolerance else "reads higher" if first > second else "reads lower"


def _shows(gauge):
    shown = gauge["gauge_pa"]
    return "nothing" if abs(shown) < NOTHING_PA else "above nothing" if shown > 0 else "below nothing"


def _raw(seen):
    low, high, _ = signals.SIGNALS[METERED[seen["unit"]]]
    percent = raw_percent(seen)
    if 100 * seen["scatter"] / (high - low) > RAW_SCATTER_PERCENT:  # by itself no proof of a bad screen: gusts move it as well
        return "moves"
    return "at the bottom" if percent < 2.5 else "at the top" if percent > 100 else "in between"


def _sent(raw, plate, gauge):
    percent = float(signals.percent_of_span(raw["signal"], plate["signal"]))
    return _against(percent * plate["top_pa"] / 100, gauge["gauge_pa"])


def _pumped(seen):
    if abs(seen["display_pa"]) < NO_ANSWER_PA:
        return "no answer"
    return _against(seen["display_pa"], PUMPED_PA)


def _page(page, record):
    different = [name for name, value in page.items() if value != record[name]]
    return f"differs: {', '.join(different)}" if different else "as recorded"


def _by_figures(display, record):
    combined = float(combine(np.array([display["display_1_pa"], display["display_2_pa"]]), record["rule"]))
    return "as recorded" if abs(combined - display["combined_pa"]) <= TOLERANCE_PA else "another rule"


def _acting(loop, drive):
    same = (loop["error"] == "set point - reading") == (drive["speed"] == "rises with the error")
    return f"{ACTIONS[0 if same else 1]} acting"


def _reach(loop, drive, inputs):
    used = loop[f"set_point_{drive['uses'].lower()}_pa"]
    return "inside the range" if 0 < used < max(inputs["top_1_pa"], inputs["top_2_pa"]) else "out of the range"


def _per_pascal(loop, record, inputs):
    share = loop["gain"] / inputs["top_1_pa"] * record["top_1_pa"] / record["gain"]
    return "as recorded" if 0.9 < share < 1.1 else "stronger" if share > 1 else "weaker"


def _follows(number):
    def draw(seen):
        low, high = (seen[name] for name in seen if name.startswith(f"display_{number}_"))
        if abs(high - low) <= TOLERANCE_PA:
            return "does not follow"
        return "follows late" if seen[f"rests_{number}_s"] > LATE_BY_HAND_S else "follows"

    return draw


def _dips(number):
    def draw(seen):
        time = seen[f"falls_{number}_s"]
        if not seen["readable"]:
            return "jumps about too much to time"
        return "does not dip" if time is None else "creeps" if time > CREEPS_S else "falls at once"

    return draw


def _changed_places(seen):
    crossed = (seen["after_1_pa"] - seen["before_2_pa"], seen["after_2_pa"] - seen["before_1_pa"])
    return "change places" if max(map(abs, crossed)) <= TOLERANCE_PA else "do not change places"


def _held(low, high, record):
    true = float(combine(np.array([low["door_pa"], high["door_pa"]]), record["rule"]))
    return _against(true, record[f"set_point_{record['uses'].lower()}_pa"], HELD_PA)


def _relieves(damper, record):
    opens, full = record["relief_opens_pa"], record["relief_full_pa"]
    due = 100 * np.clip((damper["pressure_pa"] - opens) / (full - opens), 0, 1)
    off = damper["open_percent"] - due
    return "as its pressure asks" if abs(off) <= RELIEF_PERCENT else "further open" if off > 0 else "further shut"


def _slip(wheel, arrow):
    due = arrow["rpm"] * wheel["at_hz"] / arrow["at_hz"]
    return "as fast as the drive says" if wheel["rpm"] >= SLIP_SHARE * due else "slower than the drive says"


def _of_transmitter(number):
    tap, entry, name = TAPS[number - 1], INPUTS[number - 1], f"display_{number}_pa"
    yield f"display of {tap} against a gauge on its tubes", (("display", None), ("gauge", tap)), (
        lambda display, gauge: _against(display[name], gauge["gauge_pa"]))  # fmt: skip
    yield f"display of {tap} against a gauge at the door", (("display", None), ("door gauge", tap)), (
        lambda display, gauge: _against(display[name], gauge["door_pa"]))  # fmt: skip
    yield f"gauge on the tubes of {tap} against one at the door", (("gauge", tap), ("door gauge", tap)), (
        lambda gauge, door: _against(gauge["gauge_pa"], door["door_pa"]))  # fmt: skip
    yield f"gauge on the tubes of {tap}", (("gauge", tap),), _shows
    yield f"signal on {entry}", (("raw", entry),), _raw
    yield f"signal on {entry} against plate and gauge of {tap}", (("raw", entry), ("nameplate", tap), ("gauge", tap)), _sent

    def draw(page, plate):
        pairs = (("range", f"top_{number}_pa", "top_pa"), ("signal", f"signal_{number}", "signal"))
        different = [name for name, entered, own in pairs if page[entered] != plate[own]]
        return f"another {' and '.join(different)}" if different else "as the plate"

    yield f"entry of {entry} against the plate of {tap}", (("inputs page", None), ("nameplate", tap)), draw
    yield f"plate of {tap} against the sheet", (("nameplate", tap), ("record", None)), (
        lambda plate, record: "as recorded" if plate["top_pa"] == record[f"top_{number}_pa"] else "another range")  # fmt: skip
    yield f"half of the signal on {entry} against the plate", (("inject", entry), ("nameplate", tap)), (
        lambda seen, plate: _against(seen["display_pa"], plate["top_pa"] / 2))  # fmt: skip
    yield f"half of the signal on {entry} against the sheet", (("inject", entry), ("record", None)), (
        lambda seen, record: _against(seen["display_pa"], record[f"top_{number}_pa"] / 2))  # fmt: skip
    yield f"pump on the tube of {tap}", (("pump", tap),), _pumped
    yield f"display of {tap} with the speed in manual", (("hand", None),), _follows(number)
    yield f"display of {tap} when the door opens", (("door", None),), _dips(number)


def _of_the_loop():
    yield "combined display against the sheet", (("display", None), ("record", None)), _by_figures
    for page in ("inputs page", "loop page", "drive page"):
        yield f"{page} against the sheet", ((page, None), ("record", None)), _page
    yield "which way it acts", (("loop page", None), ("drive page", None)), _acting
    yield "set point in use", (("loop page", None), ("drive page", None), ("inputs page", None)), _reach
    yield "gain for each pascal", (("loop page", None), ("record", None), ("inputs page", None)), _per_pascal
    yield "displays with the wires changed over", (("swap", None),), _changed_places
    yield "relief damper", (("damper", None),), lambda seen: "open" if seen["open_percent"] >= OPEN_PERCENT else "shut or nearly"
    yield "relief damper against the sheet", (("damper", None), ("record", None)), _relieves
    yield "pressure at the doors against the sheet", (*(("door gauge", tap) for tap in TAPS), ("record", None)), _held
    yield "wheel against the arrow", (("wheel", None), ("arrow", None)), (
        lambda wheel, arrow: "as the arrow" if wheel["turns"] == arrow["turns"] else "against the arrow")  # fmt: skip
    yield "wheel against the drive", (("wheel", None), ("arrow", None)), _slip


CONCLUSIONS = tuple(Conclusion(*one) for one in (*_of_transmitter(1), *_of_transmitter(2), *_of_the_loop()))


def signature(found):
    """Outcome of every conclusion for a loop as it is found: {key: outcome}."""
    seen = {need: look(found, *need) for one in CONCLUSIONS for need in one.needs}
    return {one.key: one.draw(*(seen[need] for need in one.needs)) for one in CONCLUSIONS}


def trend_facts(found):
    """What the trend plainly shows: how each reading behaves, and where the speed is. {key: outcome}."""
    late = found.recorded_s >= SHUTS_S + LATE_S
    tops, fan = np.array([one.top_pa for one in found.rig.entered.inputs]), site().fan
    return facts_of(found.recorded("displays"), found.recorded("speed_hz"), late, tops, (fan.lowest_speed_hz, fan.highest_speed_hz))


def facts_of(readings, speed_hz, late, tops_pa, ends_hz):
    """The same of any trend with a row every `found.RECORDED_S`: readings [rows, 2] Pa, speed_hz [rows], late [rows]: where nothing but
    noise moves a reading; tops_pa of both ranges; ends_hz: lowest and highest speed. {key: outcome}."""
    scatter = 100 * np.diff(readings[late], axis=0).std(axis=0) / np.sqrt(2) / tops_pa
    loop = _loop(speed_hz, *ends_hz)
    jumps = [loop == "works" and n == scatter.argmax() and scatter[n] > SCATTER_PERCENT for n in (0, 1)]
    names = [_course(readings[:, n], jumps[n]) for n in (0, 1)]
    return {f"reading of {TAPS[0]}": names[0], f"reading of {TAPS[1]}": names[1], "speed": loop}


def _course(reading, jumps):
    if jumps:
        return "scatters"
    if np.ptp(reading) > FLAT_PA:
        return "moves"
    return "flat at nothing" if abs(reading.mean()) < NOTHING_PA else "flat"


def _loop(speed_hz, lowest_hz, highest_hz):
    end = speed_hz[-20:]
    if end.max() < STANDS_HZ:
        return "stands"
    if end.min() < STANDS_HZ:
        return "stops and starts"
    if end.min() > highest_hz - AT_END_HZ:
        return "at full speed"
    return "at lowest speed" if end.max() < lowest_hz + AT_END_HZ else "works"
