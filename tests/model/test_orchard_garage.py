"""A garage whose exhaust fan follows the highest gas reading: direct acting, no pressure at all, minutes instead of seconds."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from helpers.formulas import action
from helpers.formulas import fan as fans
from helpers.model.loop.events import TapFault
from helpers.model.loop.results import energy_kwh, starts_per_hour
from helpers.model.plants.garage import Garage
from helpers.model.plants.kinds import SITE_KINDS, plant_of, read_any_site
from helpers.model.plants.pressure_plant import GarageConditions, Turn, run_plant, setup_of
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site_text, write_site

PATH = demo_sites("garage")["Orchard Garage"]
TEXT = PATH.read_text(encoding="utf-8")
SITE = read_any_site(PATH)
ORCHARD = plant_of(SITE)
HOUR = 3600.0


def conditions(traffic="day", **changes):
    return GarageConditions.of(SITE, traffic, **changes)


def turn(at_s, traffic, over_s=300.0):
    return Turn(at_s, {"running": SITE.traffic[traffic].running}, over_s)


# ------------------------------------------------------------------------------------------------------------------ the site file


def test_the_garage_reads_and_writes_and_reads_equal():
    assert (SITE.name, SITE.invented, SITE.control.action) == ("Orchard Garage", True, "direct")
    assert SITE.control.set_point_ppm == 25.0
    assert read_site_text(write_site(SITE), kinds=SITE_KINDS) == SITE


@pytest.mark.parametrize(
    ("right", "wrong", "place", "sentence"),
    [
        ('set_point = "25 ppm"', 'set_point = "25 Pa"', "[control] set_point", "must be a concentration"),
        ('set_point = "25 ppm"', 'set_point = "300 ppm"', "[control] set_point", "0 to 250 ppm of 'CO-1'; got 300 ppm"),
        ('set_point = "25 ppm"', 'set_point = "2 ppm"', "[control] set_point", "no fan gets below it"),
        ('outdoor = "2 ppm"', 'outdoor = "2"', "outdoor", "which has no unit"),
        (
            'range_high = "250 ppm"',
            'range_high = "0 ppm"',
            "[[transmitters]] number 1, range_high",
            "must be above range_low, 0 ppm; got 0 ppm",
        ),
        ('zone = "level -2"', 'zone = "level -4"', "[[transmitters]] number 2, zone", "must be one of the zones ('level -1', 'level -2'"),
        ("exhaust_share = 0.40", "exhaust_share = 0.5", "[[zones]]", "must have exhaust_shares that sum to 1; they sum to 1.1"),
        ('draught = "0.15 m3/s"', 'exchange = "1 m3/s"', "[[zones]] number 3, exchange", "there is no next one"),
        (
            "running = [2.1, 1.2, 0.7]",
            "running = [2.1, 1.2]",
            "[traffic.rush] running",
            "must hold one value for each of the 3 zones; got 2",
        ),
        ('effect = "exhaust"', 'effect = "supply"', "[fan] effect", "the fan draws the cars' gas out"),
        ("fire_mode = false", "fire_mode = true", "[control] low_demand", "never stops for low demand"),
        ('emission = "0.07 l/s"', 'emision = "0.07 l/s"', "[cars] emision", "the nearest right key is emission"),
    ],
)
def test_a_slip_in_the_file_is_told_in_a_sentence(right, wrong, place, sentence):
    assert right in TEXT
    with pytest.raises(SiteFileError) as told:
        read_site_text(TEXT.replace(right, wrong, 1), "garage.toml", SITE_KINDS)
    assert any(place in line and sentence in line for line in str(told.value).splitlines()), str(told.value)


def test_the_gain_works_on_the_span_of_a_range_that_begins_above_zero():
    ranges = [{"range_low_ppm": 10.0}] + [{}] * (len(SITE.transmitters) - 1)
    raised = plant_of(SITE.with_changes(transmitters=ranges))
    assert raised.settings().span_pa == SITE.transmitters[0].range_high_ppm - 10.0


# ------------------------------------------------------------------------------------------------------------------ at rest


def test_what_is_given_off_leaves_with_the_air_when_nothing_changes():
    at, speed = conditions("rush"), 30.0
    gas = ORCHARD.steady_ppm(at, speed)[0]
    leaving = (ORCHARD.fresh_m3_s(np.array(speed)) * (gas - SITE.outdoor_ppm)).sum() / 1e6
    assert leaving == pytest.approx(ORCHARD.emission_m3_s(at).sum(), rel=1e-9)


def test_one_zone_alone_holds_emission_over_fresh_air():
    alone = Garage(SITE.with_changes(zones=[{"exhaust_share": 1.0, "exchange_m3_s": 0.0}], transmitters=[{}],
                                     traffic={name: {"running": (1.0,)} for name in SITE.traffic}))  # fmt: skip
    gas = alone.steady_ppm(GarageConditions.of(alone.site), 20.0)[0, 0]
    assert gas == pytest.approx(2.0 + 0.07e-3 / (alone.fan_flow_m3_s(20.0) + 0.5) * 1e6, rel=1e-9)


def test_the_highest_reading_is_held_and_the_other_levels_lie_below():
    held = ORCHARD.hold(GarageConditions.joined([conditions("day"), conditions("rush")]))
    assert (held.state == "held").all()
    assert held.gas_ppm.max(axis=1) == pytest.approx([25.0, 25.0], abs=1e-6)
    assert (held.gas_ppm.argmax(axis=1) == 0).all()


def test_the_average_lets_people_breathe_more_than_the_set_point():
    assert ORCHARD.hold(conditions("rush"), rule="average").gas_ppm.max() > 28.0


def test_too_many_cars_end_at_full_speed_above_the_set_point():
    held = ORCHARD.hold(conditions(running=(4.0, 2.0, 1.0)))
    assert (held.state[0], held.speed_hz[0]) == ("at full speed", 50.0)
    assert held.reading_ppm[0] > 25.0


def test_the_fan_draws_what_its_curve_and_duct_give_at_its_density():
    fan, flow = SITE.fan, ORCHARD.flow_at_reference_m3_s
    head = fans.pressure_at_flow(flow, fan.flows_m3_s, fan.pressures_pa) - fan.duct_loss_pa * (flow / fan.duct_loss_flow_m3_s) ** 2
    assert head == pytest.approx(0.0, abs=0.05)
    floor = sum(zone.floor_area_m2 for zone in SITE.zones)
    assert 3.5e-3 < flow / floor < 4.2e-3  # about 0.75 cfm/ft2, an old rule of the trade


@settings(max_examples=30, derandomize=True, deadline=None)
@given(st.lists(st.floats(0, 5), min_size=3, max_size=3), st.floats(8, 49))
def test_more_speed_never_raises_a_reading(running, speed):
    at = conditions(running=running)
    slow, fast = ORCHARD.steady_ppm(at, speed), ORCHARD.steady_ppm(at, speed + 1.0)
    assert (fast <= slow + 1e-9).all()
    assert (slow >= SITE.outdoor_ppm - 1e-9).all()


# ------------------------------------------------------------------------------------------------------------------ the loop in time


def test_the_loop_settles_where_the_patient_search_says():
    run = run_plant(ORCHARD, conditions("rush"), setup_of(ORCHARD, 2.5 * HOUR, sample_s=10.0), start_ppm=20.0)
    assert run.reading_pa[-1, 0] == pytest.approx(25.0, abs=0.3)
    assert run.speed_hz[-100:, 0].mean() == pytest.approx(ORCHARD.hold(conditions("rush")).speed_hz[0], abs=0.5)


def test_the_highest_of_three_readings_runs_the_fan_whichever_level_it_is():
    run = run_plant(ORCHARD, conditions(running=(0.1, 0.2, 1.3)), setup_of(ORCHARD, 2 * HOUR, sample_s=10.0), start_ppm=20.0)
    assert run.tubes_pa[-1, :, 0].argmax() == 2
    assert run.reading_pa[-1, 0] == pytest.approx(run.tubes_pa[-1, 2, 0], abs=0.5)
    assert run.reading_pa[-1, 0] == pytest.approx(25.0, abs=1.0)


@pytest.mark.parametrize(
    ("traffic", "start_ppm", "stop", "end_hz"), [("day", 20.0, "full speed", 50.0), ("rush", 40.0, "lowest speed", 8.0)]
)
def test_the_wrong_action_runs_to_the_end_stop_that_the_first_error_says(traffic, start_ppm, stop, end_hz):
    wrong = Garage(SITE.with_changes(control={"action": "reverse", "low_demand": None}))
    run = run_plant(wrong, conditions(traffic), setup_of(wrong, HOUR, start_hz=35.0), start_ppm=start_ppm)
    first = action.error(25.0, run.reading_pa[0, 0], "reverse")
    assert action.end_stop("reverse", wrong.effect, first) == stop
    assert run.speed_hz[-1, 0] == pytest.approx(end_hz)
    if stop == "lowest speed":
        assert run.tubes_pa[-1, 0, 0] > 60.0  # the garage fills while the fan idles


def test_gas_is_conserved_over_a_run():
    run = run_plant(ORCHARD, conditions("day"), setup_of(ORCHARD, HOUR, events=(turn(600.0, "rush"),)), start_ppm=(30.0, 10.0, 5.0))
    gas, step = run.tubes_pa[:, :, 0], 5.0
    fresh = ORCHARD.fresh_m3_s(run.speed_hz[1:, 0])
    middle = (gas[:-1] + gas[1:]) / 2
    out = (fresh * (middle - SITE.outdoor_ppm)).sum() * step / 1e6
    cars = [
        np.interp(run.time_s[1:], [600, 900], ends) for ends in zip(SITE.traffic["day"].running, SITE.traffic["rush"].running, strict=True)
    ]
    given_off = np.sum(cars) * SITE.cars.emission_m3_s * step
    stored = ((gas[-1] - gas[0]) * ORCHARD.volume_m3).sum() / 1e6
    assert given_off - out == pytest.approx(stored, rel=2e-3)


def test_the_gas_in_time_agrees_with_an_independent_integrator():
    setup = setup_of(ORCHARD, HOUR, events=(turn(900.0, "rush"),), hand=((0.0, HOUR, 40.0),), start_hz=20.0)
    still = Garage(SITE.with_changes(control={"low_demand": None}))
    run = run_plant(still, conditions("day"), setup, start_ppm=(40.0, 20.0, 3.0))
    fresh, x = still.fresh_m3_s(np.array(20.0)), (0.8, 0.6)

    def rate(t, c):
        cars = [np.interp(t, [900, 1200], ends) for ends in zip(SITE.traffic["day"].running, SITE.traffic["rush"].running, strict=True)]
        between = np.array([x[0] * (c[1] - c[0]), x[0] * (c[0] - c[1]) + x[1] * (c[2] - c[1]), x[1] * (c[1] - c[2])])
        return (np.array(cars) * 70.0 + fresh * (2.0 - c) + between) / still.volume_m3

    peer = solve_ivp(rate, (0, HOUR), [40.0, 20.0, 3.0], t_eval=run.time_s, rtol=1e-8, max_step=30.0)
    assert run.speed_hz[:, 0] == pytest.approx(20.0)
    assert np.abs(run.tubes_pa[:, :, 0].T - peer.y).max() < 0.05


def test_fresh_air_alone_purges_an_empty_garage_by_the_text_book():
    alone = Garage(SITE.with_changes(zones=[{"exhaust_share": 1.0, "exchange_m3_s": 0.0, "draught_m3_s": 0.0}], transmitters=[{}],
                                     traffic={name: {"running": (0.0,)} for name in SITE.traffic}, outdoor_ppm=0.0,
                                     control={"low_demand": None}))  # fmt: skip
    at = GarageConditions.of(alone.site)
    run = run_plant(alone, at, setup_of(alone, 900.0, hand=((0.0, 900.0, 100.0),), start_hz=50.0), start_ppm=100.0)
    changes = alone.fan_flow_m3_s(50.0) * 3600 / alone.volume_m3[0]
    tenth = run.time_s[np.argmax(run.tubes_pa[:, 0, 0] <= 10.0)]
    assert tenth == pytest.approx(3600 * np.log(10) / changes, abs=5.0)


def test_a_rising_reading_lags_by_the_cell_and_the_filter():
    run = run_plant(ORCHARD, conditions("rush"), setup_of(ORCHARD, 600.0, hand=((0.0, 600.0, 16.0),)))
    last = slice(-20, -1)
    rate = np.diff(run.tubes_pa[:, 0, 0])[last].mean() / 5.0
    late = (run.tubes_pa[last, 0, 0] - run.readings_pa[last, 0, 0]).mean() / rate
    # By hand: each lag follows a ramp by r / (1 - r) samples later, with r = exp(-sample / time constant); 20 s and 5 s.
    kept = np.exp([-5.0 / 20.0, -5.0 / 5.0])
    assert late == pytest.approx((5.0 * kept / (1 - kept)).sum(), abs=0.5)


def test_many_runs_at_once_give_what_each_gives_alone():
    both = GarageConditions.joined([conditions("day"), conditions("rush")])
    together = run_plant(ORCHARD, both, setup_of(ORCHARD, HOUR / 2))
    for number, traffic in enumerate(("day", "rush")):
        alone = run_plant(ORCHARD, conditions(traffic), setup_of(ORCHARD, HOUR / 2))
        assert together.tubes_pa[..., number] == pytest.approx(alone.tubes_pa[..., 0], abs=1e-9)


# ------------------------------------------------------------------------------------------------------------------ faults and stop


def test_a_dead_cell_with_a_live_zero_is_left_out_and_the_others_run_the_fan():
    run = run_plant(
        ORCHARD,
        conditions("rush"),
        setup_of(ORCHARD, 2 * HOUR, sample_s=10.0, faults=(TapFault(0, "open wire", at_s=HOUR),)),
        start_ppm=20.0,
    )
    assert not run.usable[-1, 0, 0]
    assert run.reading_pa[-1, 0] == pytest.approx(run.readings_pa[-1, 1:, 0].max())
    assert run.tubes_pa[-1, 0, 0] > 26.0  # the level without a reading is the worse for it


def test_the_fan_stops_in_a_quiet_night_and_starts_again_with_the_cars():
    turns = (turn(600.0, "night"), turn(2 * HOUR, "rush"))
    run = run_plant(ORCHARD, conditions("day"), setup_of(ORCHARD, 3.5 * HOUR, sample_s=10.0, events=turns), start_ppm=24.0)
    asleep = (run.time_s > 1.5 * HOUR) & (run.time_s < 2 * HOUR)
    assert not run.running[asleep].any()
    assert run.speed_hz[asleep].max() == 0.0
    woken = run.time_s[np.flatnonzero(~run.running[:-1, 0] & run.running[1:, 0])[-1]]
    at = np.searchsorted(run.time_s, woken)
    assert 2 * HOUR < woken < 2.5 * HOUR
    assert 30.0 < run.reading_pa[at, 0] < 40.0  # five above the set point, for a minute
    assert run.reading_pa[-1, 0] == pytest.approx(25.0, abs=1.5)
    assert run.tubes_pa[:, 0, 0].max() < 50.0
    assert starts_per_hour(run)[0] <= 2


def test_stopping_saves_energy_and_costs_air():
    always = Garage(SITE.with_changes(control={"low_demand": None}))
    night = setup_of(ORCHARD, 2 * HOUR, sample_s=10.0)
    stops, runs_on = (run_plant(garage, conditions("night"), night) for garage in (ORCHARD, always))
    assert 0 < energy_kwh(stops) < 0.2 * energy_kwh(runs_on)
    assert stops.tubes_pa[-1].max() > runs_on.tubes_pa[-1].max()


# ------------------------------------------------------------------------------------------------------------------ wrong input


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: conditions("parade"), "traffic must be one of day, rush, night; got 'parade'"),
        (lambda: conditions(running=(1.0, 2.0)), "running must hold one value for each of 3 places, got 2"),
        (lambda: conditions(running=-1.0), "running must be 0 or more, got -1"),
        (lambda: ORCHARD.fan_flow_m3_s(-1.0), "speed_hz must be 0 or more, got -1"),
        (lambda: run_plant(ORCHARD, conditions(), setup_of(ORCHARD, HOUR, sample_s=120.0)), "sample_s must be at most"),
        (lambda: run_plant(ORCHARD, conditions(), setup_of(ORCHARD, HOUR), start_ppm=-3.0), "start_ppm must be 0 or more, got -3"),
        (lambda: run_plant(ORCHARD, conditions(), setup_of(ORCHARD, 3.0, sample_s=1.0)), "filter_s must be shorter than the run of 3 s"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()


def test_a_tight_garage_with_a_stopped_fan_has_no_steady_state():
    tight = Garage(SITE.with_changes(zones=[{"draught_m3_s": 0.0}] * 3))
    with pytest.raises(ValueError, match="speed_hz must bring every zone fresh air"):
        tight.steady_ppm(GarageConditions.of(tight.site), 0.0)
