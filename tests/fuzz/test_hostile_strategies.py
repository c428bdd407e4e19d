"""Strategies entered by somebody in a hurry: each is reviewed to its end or refused in a sentence, and every figure is a number."""

import random
import re
from pathlib import Path

import pytest
from metric_plates import without_plates

from helpers.model.plants.kinds import read_any_site, read_any_strategy
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites
from helpers.record.review.study import review, review_profile
from helpers.units.said import written_out

STRATEGIES = Path(__file__).parents[2] / "data" / "strategies"
FALLBACKS = ("nothing", "use the good ones", "remaining reading at its own set point", "keep the speed", "agreed fallback speed", "stop")
SIGNALS = ("4-20 mA", "0-10 V", "2-10 V")


def entered(draw, strategy):
    """Changes to a strategy, most of them odd."""
    gas = hasattr(strategy.loop, "set_point_ppm")
    unit, bottoms = ("ppm", (0.0,)) if gas else ("pa", (0.0, -25.0, -500.0, 30.0))

    def some():
        value = draw.choice([draw.uniform(-200, 600), draw.uniform(0, 80), 0.0])
        return abs(value) if gas else value

    def limit():
        return draw.choice([None, some()])

    inputs = []
    for _ in strategy.inputs[: draw.choice([1, len(strategy.inputs), len(strategy.inputs)])]:
        low = draw.choice(bottoms)
        inputs.append({
            f"range_low_{unit}": low, f"range_high_{unit}": low + draw.choice([1, 25, 125, 5000]), "signal": draw.choice(SIGNALS),
            "filter_s": draw.choice([0, 0.5, 30]), "damping_s": draw.choice([None, 0, 5]), f"alarm_low_{unit}": limit(),
            f"alarm_high_{unit}": limit(), f"entered_high_{unit}": draw.choice([None, None, low + 10, low + 300]),
            "accuracy_percent_span": draw.choice([0, 1, 50]), "converter_bits": draw.choice([6, 12, 24]),
        })  # fmt: skip
    loop = {
        "rule": draw.choice(["average", "lowest", "highest"]), f"set_point_{unit}": some(), "action": draw.choice(["reverse", "direct"]),
        "gain": draw.choice([0.001, 0.1, 1, 10, 900]), "integral_time_s": draw.choice([None, 0.001, 1, 100, 1e5]),
        "derivative_time_s": draw.choice([0, 0.5, 100]), f"dead_band_{unit}": draw.choice([0, 1, 100]),
        "lowest_speed_hz": draw.choice([None, 1, 30]), "highest_speed_hz": draw.choice([None, 35, 60, 100]),
        "ramp_s": draw.choice([None, 1.0, 600]), "ramp_down_s": draw.choice([None, 1.0, 600]), "sample_s": draw.choice([0.1, 0.5, 5]),
    }  # fmt: skip
    alarms = {f"low_{unit}": limit(), f"high_{unit}": limit(), f"difference_{unit}": draw.choice([None, 0, 10, 1e4]),
              "after_s": draw.choice([0, 30, 1e4]), "end_stop_after_s": draw.choice([None, 60])}  # fmt: skip
    failed = {"does": draw.choice(FALLBACKS), "preset_speed_hz": draw.choice([None, 5, 29, 200]),
              f"set_points_{unit}": draw.choice([None, {strategy.inputs[0].name: some()}])}  # fmt: skip
    return {
        "mode": draw.choice(["comfort", "smoke control"]), "loop": loop, "inputs": inputs, "alarms": alarms, "on_bad_reading": failed,
        "override": draw.choice([None, {"speed_hz": draw.choice([1, 29, 300])}]),
        "restart": draw.choice([None, {"after_mains": "by hand"}, {"after_mains": "automatic"}]),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("name", "seeds"), [("mill_street_sound", 20), ("quayside_sound", 15), ("orchard_sound", 20), ("larkfield_sound", 3)]
)
def test_an_odd_strategy_is_reviewed_to_its_end_or_refused_in_a_sentence(name, seeds):
    strategy = read_any_strategy(STRATEGIES / f"{name}.toml")
    site = read_any_site(demo_sites(None)[strategy.site.replace("_", " ").title()])
    reviewed, refusals = 0, []
    for seed in range(seeds):
        draw = random.Random(f"{name} {seed}")
        system = draw.choice(["Pa", "in. w.c."])
        try:
            made = review(strategy.with_changes(**entered(draw, strategy)), site, system)
        except SiteFileError as refusal:
            refusals.append(str(refusal))
            continue
        written_out(review_profile(made.bench), system)
        told = [one for finding in made.findings for one in (finding, *finding.effects)]
        words = " ".join(f"{one.what} {one.figure} {one.why} {one.remedy}" for one in told)
        assert not re.search(r"\b(nan|inf|None)\b", words), (seed, words)
        left = re.search(r".{0,60}\d Pa\b.{0,40}", without_plates(words))
        assert system == "Pa" or left is None, (seed, left[0])
        reviewed += 1
    assert reviewed > seeds / 3
    assert all(re.search(r"must|is missing", refusal) for refusal in refusals)
