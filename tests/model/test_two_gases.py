"""A garage of two gases: each is conserved by itself, the greater share of a set point runs the one fan, and one gas alone is as before."""

import numpy as np
import pytest

from helpers.model.loop.events import TapFault
from helpers.model.plants.garage import Garage
from helpers.model.plants.gases import in_shares
from helpers.model.plants.kinds import SITE_KINDS, read_any_site
from helpers.model.plants.pressure_plant import GarageConditions, Turn, run_plant, setup_of
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import SITES_FOLDER, demo_sites, read_site_text, write_site

PATH = SITES_FOLDER.parent / "variants" / "orchard_garage_two_gases.toml"
TEXT = PATH.read_text(encoding="utf-8")
SITE = read_any_site(PATH)
ONE_GAS = read_any_site(demo_sites("garage")["Orchard Garage"])
CO, NO2 = 0, 1


def test_the_file_reads_and_writes_and_reads_equal():
    assert read_site_text(write_site(SITE), kinds=SITE_KINDS) == SITE
    assert (SITE.second_gas.name, SITE.second_gas.set_point_ppm, SITE.transmitters[3].gas) == ("nitrogen dioxide", 1.0, "nitrogen dioxide")


def one_zone():
    """The garage with all its exhaust in one zone, and the two others shut off from it."""
    zones = [{"exhaust_share": 1.0, "exchange_m3_s": 0.0, "draught_m3_s": 0.0}] + [{"exhaust_share": 0.0, "exchange_m3_s": 0.0}] * 2
    return SITE.with_changes(zones=zones)


def test_each_gas_of_one_zone_is_what_it_is_given_over_the_fresh_air_and_what_that_brings():
    site = one_zone()
    garage = Garage(site)
    running = np.array([[1.2, 0.0, 0.0]])
    conditions = GarageConditions.of(site, "deliveries", running=running)
    fresh_m3_s = garage.flow_at_reference_m3_s * 30.0 / 50.0
    gas = garage.gas_ppm(conditions, np.array([30.0]))
    assert gas[CO, 0, 0] == pytest.approx(2.0 + 1e6 * 1.2 * 0.07e-3 / fresh_m3_s, rel=1e-12)  # E / Q by hand, 0.07 l/s a car
    assert gas[NO2, 0, 0] == pytest.approx(0.03 + 1e6 * 1.2 * 0.85 * 0.005e-3 / fresh_m3_s, rel=1e-12)  # 0.85 of them give 0.005 l/s
    assert garage.steady_ppm(conditions, np.array([30.0]))[0, 3] == pytest.approx(25.0 * gas[NO2, 0, 0], rel=1e-12)  # 25 ppm by 1 ppm


def test_each_gas_of_one_zone_fills_up_as_an_exponential_by_hand():
    site = one_zone()
    garage = Garage(site)
    conditions = GarageConditions.of(site, "deliveries", running=np.array([[1.2, 0.0, 0.0]]))
    run = run_plant(garage, conditions, setup_of(garage, 1800.0, hand=((0.0, 1800.0, 60.0),), start_hz=30.0))
    end = garage.gas_ppm(conditions, np.array([30.0]))[:, 0, 0] * garage.counts
    begin = np.array([2.0, 0.03]) * garage.counts
    rate = garage.flow_at_reference_m3_s * 0.6 / site.zones[0].volume_m3
    by_hand = end + (begin - end) * np.exp(-rate * run.time_s[:, None])
    assert run.tubes_pa[:, [0, 3], 0] == pytest.approx(by_hand, rel=2e-4)  # the midpoint rule at 5 s


@pytest.mark.parametrize(("traffic", "leads", "other"), [("rush", "carbon monoxide", NO2), ("deliveries", "nitrogen dioxide", CO)])
def test_the_greater_share_of_a_set_point_runs_the_fan(traffic, leads, other):
    garage, conditions = Garage(SITE), GarageConditions.of(SITE, traffic)
    held = garage.hold(conditions)
    assert garage.places[int(held.gas_ppm[0].argmax())] == f"level -1, {leads}"
    assert held.gas_ppm[0].max() == pytest.approx(25.0, abs=0.01)
    shares = garage.gas_ppm(conditions, held.speed_hz)[:, 0].max(axis=1) / np.array([25.0, 1.0])
    assert shares.max() == pytest.approx(1.0, abs=1e-3)
    assert shares[other] < 0.9
    # by either gas alone the fan would run slower, and the gas that leads would be past its set point
    alone = (
        [tap.gas == leads for tap in SITE.transmitters] if leads == "nitrogen dioxide" else [tap.gas is None for tap in SITE.transmitters]
    )
    combined = held.gas_ppm[0][garage.at]
    assert combined[alone].max() > combined[~np.array(alone)].max()


def test_the_loop_in_time_comes_to_rest_where_the_steady_air_has_it_and_changes_over_without_a_jump():
    garage = Garage(SITE)
    after = GarageConditions.of(SITE, "deliveries")
    turn = Turn(5400.0, {"running": after.running[0], "engines_share": after.engines_share}, 600.0)
    run = run_plant(garage, GarageConditions.of(SITE, "rush"), setup_of(garage, 14400.0, events=(turn,)))
    at_rest = [int(np.searchsorted(run.time_s, 5395.0)), -1]
    held = garage.hold(GarageConditions.joined([GarageConditions.of(SITE, "rush"), after]))
    assert run.speed_hz[at_rest, 0] == pytest.approx(held.speed_hz, abs=0.2)
    lead = run.tubes_pa[:, :, 0].argmax(axis=1)
    assert (lead[at_rest[0]], lead[-1]) == (0, 3)
    change = int(np.flatnonzero((lead[1:] == 3) & (lead[:-1] == 0) & (run.time_s[1:] > 5400.0))[0])
    steps = np.abs(np.diff(run.output_percent[change - 20 : change + 20, 0]))
    assert steps.max() < 0.6  # per cent of full speed in five seconds, at the change as beside it


def test_a_lost_nitrogen_dioxide_reading_is_seen_and_the_fan_goes_where_it_is_told():
    garage = Garage(SITE)
    settings = garage.settings()
    fallback = type(settings)(**vars(settings) | {"fallback": "preset speed", "preset_percent": 100.0})
    fault = TapFault(3, "open wire", 3600.0)
    run = run_plant(garage, GarageConditions.of(SITE, "day"), setup_of(garage, 5400.0, settings=fallback, faults=(fault,)))
    assert not run.usable[-1, 3, 0]
    assert run.usable[-1, [0, 1, 2, 4, 5], 0].all()
    before = run.speed_hz[run.time_s < 3600.0, 0]
    assert before[-1] < 20.0
    assert run.speed_hz[-1, 0] == pytest.approx(50.0)


def test_a_second_gas_that_nobody_gives_off_leaves_the_first_as_it_is_to_the_last_digit():
    taps = [tap.model_dump() for tap in ONE_GAS.transmitters]
    second = {"name": "nitrogen dioxide", "outdoor_ppm": 0.0, "emission_m3_s": 1e-9, "engines_share": 0.0, "set_point_ppm": 1.0}
    reads = [tap | {"name": tap["name"].replace("CO", "NO2"), "gas": "nitrogen dioxide", "range_high_ppm": 5.0} for tap in taps]
    two = type(ONE_GAS).model_validate(ONE_GAS.model_dump() | {"second_gas": second, "transmitters": taps + reads})
    turns = (Turn(600.0, {"running": ONE_GAS.traffic["rush"].running}, 300.0), Turn(4000.0, {"running": ONE_GAS.traffic["night"].running}))
    runs = []
    for site in (ONE_GAS, two):
        garage = Garage(site)
        runs.append(run_plant(garage, GarageConditions.of(site, "day"), setup_of(garage, 7200.0, events=turns)))
        held = garage.hold(GarageConditions.of(site, "rush"))
        runs[-1].held = held.speed_hz[0], held.gas_ppm[0, :3].tolist()
    assert (runs[0].speed_hz == runs[1].speed_hz).all()
    assert (runs[0].tubes_pa == runs[1].tubes_pa[:, :3]).all()
    assert runs[0].held == runs[1].held


def test_shares_are_the_same_garage_in_per_cent_of_each_set_point():
    garage, shares = Garage(SITE), Garage(in_shares(SITE, (25.0, 1.0)))
    for name in SITE.traffic:
        ppm, percent = (one.hold(GarageConditions.of(one.site, name)) for one in (garage, shares))
        assert percent.speed_hz == pytest.approx(ppm.speed_hz, abs=1e-6)
        assert percent.gas_ppm == pytest.approx(4.0 * ppm.gas_ppm, rel=1e-6)


@pytest.mark.parametrize(
    ("right", "wrong", "place", "sentence"),
    [
        ('gas = "nitrogen dioxide"', 'gas = "methane"', "[[transmitters]] number 4, gas", "must be one of the gases ('carbon"),
        ('name = "nitrogen dioxide"', 'name = "Carbon Monoxide"', "[second_gas] name", "must be another than gas, 'carbon monoxide'"),
        ('set_point = "1 ppm"', 'set_point = "8 ppm"', "[second_gas] set_point", "the range, 0 to 5 ppm of 'NO2-1'; got 8 ppm"),
        ('set_point = "1 ppm"', 'set_point = "0.02 ppm"', "[second_gas] set_point", "must be above outdoor, 0.03 ppm"),
        ('rule = "highest"', 'rule = "average"', "[control] rule", "must be 'highest' where two gases are stated"),
        ("engines_share = 0.35", "engines_share = 1.35", "[second_gas] engines_share", "must be a number from 0 to 1"),
        ("engines_share = 0.35", 'engines_share = "many"', "[second_gas] engines_share", "must be a number"),
    ],
)  # fmt: skip
def test_a_wrong_entry_is_refused_with_its_place_and_what_it_must_be(right, wrong, place, sentence):
    assert right in TEXT
    with pytest.raises(SiteFileError) as refusal:
        read_site_text(TEXT.replace(right, wrong, 1), kinds=SITE_KINDS)
    told = str(refusal.value)
    assert place in told
    assert sentence in told


def test_a_gas_that_nobody_reads_a_transmitter_of_no_stated_gas_and_a_share_of_none_are_refused():
    unread = TEXT.replace('gas = "nitrogen dioxide"              # left out: the first gas\n', "").replace('"5 ppm"', '"100 ppm"')
    with pytest.raises(SiteFileError, match="none reads 'nitrogen dioxide', which nobody would then hold or tell"):
        read_site_text(unread, kinds=SITE_KINDS)
    one = demo_sites("garage")["Orchard Garage"].read_text(encoding="utf-8")
    with pytest.raises(SiteFileError, match=r"'carbon monoxide'; no second_gas is stated\); got 'nitrogen dioxide'"):
        read_site_text(one.replace('zone = "level -1"', 'zone = "level -1"\ngas = "nitrogen dioxide"', 1), kinds=SITE_KINDS)
    with pytest.raises(SiteFileError, match="engines_share: must be left out where no second_gas is stated"):
        read_site_text(one.replace("[traffic.day]", "[traffic.day]\nengines_share = 0.5", 1), kinds=SITE_KINDS)


def test_a_set_point_too_low_to_be_worked_with_in_shares_is_refused_at_its_place():
    low = TEXT.replace('outdoor = "0.03 ppm"', 'outdoor = "0.0001 ppm"', 1).replace('set_point = "1 ppm"', 'set_point = "0.004 ppm"', 1)
    with pytest.raises(SiteFileError, match=r"\[second_gas\] set_point: must be at least 0\.005 ppm where two gases are stated"):
        read_site_text(low, kinds=SITE_KINDS)
    in_shares(read_site_text(low.replace('"0.004 ppm"', '"0.0051 ppm"', 1), kinds=SITE_KINDS), (25.0, 0.0051))
