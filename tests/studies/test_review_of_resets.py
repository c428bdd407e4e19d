"""A strategy that resets a duct's set point by requests wrongly gets its finding by cause, a sound one none."""

import re

import pytest

from helpers.model.plants.kinds import read_any_site, read_any_strategy_text
from helpers.model.site.file import SITES_FOLDER
from helpers.record.review import reset
from helpers.record.review.study import bench_of, kinds_for
from helpers.units.said import written_out

ENTERED = {
    "lowest": '"60 Pa"', "highest": '"230 Pa"', "start": '"90 Pa"', "hold": '"10 min"', "interval": '"2 min"', "trim": '"4 Pa"',
    "respond": '"4 Pa"', "respond_most": '"20 Pa"', "ignored": "2", "asks_above": '"95 %"', "asks_until": '"90 %"',
}  # fmt: skip
STRATEGY = (SITES_FOLDER.parent / "strategies" / "mill_street_sound.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def site():
    return read_any_site(SITES_FOLDER / "mill_street_by_requests.toml")


def strategy_with(mode="comfort", **changes):
    entries = {key: value for key, value in (ENTERED | changes).items() if value is not None}
    lines = "\n".join(f"{key} = {value}" for key, value in entries.items())
    return read_any_strategy_text(STRATEGY.replace('mode = "comfort"', f'mode = "{mode}"') + f"\n[reset]\n{lines}\n")


def found(strategy, site):
    bench = bench_of(strategy, site)
    return {kind.key: written_out(one) for kind in reset.KINDS if not kind.missing(bench) for one in kind.look(bench)}


def figures(text, unit):
    return [float(one) for one in re.findall(rf"(\d+(?:\.\d+)?) {unit}", text)]


def test_a_sound_reset_has_no_finding_and_one_that_stays_is_not_looked_at(site):
    assert found(strategy_with(), site) == {}
    stays = read_any_strategy_text(STRATEGY)
    assert not set(reset.KINDS) & set(kinds_for(stays))
    assert set(reset.KINDS) <= set(kinds_for(strategy_with()))


@pytest.mark.parametrize(
    ("entry", "value", "key", "severity"),
    [("lowest", None, "reset floor", "wrong"), ("respond_most", None, "reset limit", "attention"),
     ("trim", '"40 Pa"', "reset trim", "wrong"), ("ignored", "0", "reset held up", "attention")],
)  # fmt: skip
def test_what_is_entered_wrongly_is_found_by_its_cause_alone_with_what_it_comes_to(site, entry, value, key, severity):
    told = found(strategy_with(**{entry: value}), site)
    assert list(told) == [key]
    assert told[key].severity == severity
    assert figures(told[key].figure, "Pa")


def test_a_zone_that_asks_for_ever_costs_and_one_that_is_ignored_does_not(site):
    told = found(strategy_with(ignored="0"), site)["reset held up"].figure
    stuck, without, ignored = figures(told, "Pa")
    assert stuck > 1.25 * without
    assert ignored < 1.25 * without


def test_a_reset_in_smoke_control_is_never_played_and_always_wrong(site):
    told = found(strategy_with(mode="smoke control"), site)
    assert list(told) == ["reset in fire"]
    assert told["reset in fire"].severity == "wrong"
