"""Mill Street's set point reset by requests: the duct's operating point by scipy, steps by hand, zones that break it, wrong site files."""

from functools import cache

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import root

from helpers.model.plants.duct import Duct
from helpers.model.plants.kinds import SITE_KINDS, read_any_site
from helpers.model.plants.pressure_plant import DuctConditions
from helpers.model.plants.reset import STEP_S, Trouble, Zones, play, settled
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site_text, write_site

PATH = demo_sites("duct")["Mill Street By Requests"]
TEXT = PATH.read_text(encoding="utf-8")
SITE = read_any_site(PATH)
MILL, RESET = Duct(SITE), SITE.control.reset
FAN = SITE.fan
WINGS = 10


def demand(name):
    return np.array([SITE.demand[name].opening])


@cache
def hour(name="peak", stuck=0):
    """Half an hour of a demand from the lowest set point, some zones of the last section asking for ever."""
    wild = np.zeros(WINGS, int)
    wild[-1] = stuck
    late = RESET.model_copy(update={"hold_s": 0.0})
    return play(MILL, demand(name), late, 1800.0, RESET.lowest_pa, 90.0, trouble=Trouble(stuck=wild))


# ------------------------------------------------------------------------------------------------------------------ outside checks


def test_the_operating_point_is_that_of_an_independent_solver():
    """scipy's root of ten section pressures and a speed, from the site's numbers; curve: scipy's monotone cubic through its points."""
    pascals = 101325 * (1 - 2.25577e-5 * SITE.altitude_m) ** 5.25588
    density = pascals / (287.05 * (273.15 + SITE.temperature_c))
    curve = PchipInterpolator(FAN.flows_m3_s, FAN.pressures_pa)
    opening = 0.02 + 0.98 * demand("peak")[0]
    fan_at, names = 4, [section.name for section in SITE.sections]
    taps = [names.index(tap.section) for tap in SITE.transmitters]
    boxes = np.array([section.boxes_flow_m3_s for section in SITE.sections])
    skins = 0.009e-3 * np.array([section.surface_m2 for section in SITE.sections])  # class B, EN 1507 (from memory, not verified)
    far = [*range(fan_at), *range(fan_at + 1, WINGS)]
    loss, at_flow = (np.array([getattr(SITE.sections[i], name) for i in far]) for name in ("loss_pa", "loss_flow_m3_s"))

    def miss(unknown):
        pressure, ratio = unknown[:WINGS], unknown[WINGS]
        out = opening * boxes * np.sqrt(pressure / 125 * 1.2 / density) + skins * pressure**0.65  # m3/s of air as it is
        drop = pressure[:-1] - pressure[1:]
        along = np.sign(drop) * at_flow * np.sqrt(np.abs(drop) / loss * 1.2 / density)
        brought = out.copy()
        brought[:-1] += along
        brought[1:] -= along
        blown = brought[fan_at]
        made = (curve(blown / ratio) * ratio**2 - FAN.duct_loss_pa * (blown / FAN.duct_loss_flow_m3_s) ** 2) * density / 1.2
        still = np.delete(brought, fan_at)
        return [*still, (made - pressure[fan_at]) / 100, (pressure[taps].min() - 150) / 100]

    ours = MILL.hold(DuctConditions(demand("peak")), 150.0)
    found = root(miss, [*np.linspace(180, 250, 5), *np.linspace(240, 140, 5), 0.9], method="hybr", options={"xtol": 1e-10, "maxfev": 4000})
    assert np.abs(found.fun).max() < 1e-6  # scipy has an answer of its own, whatever it says of its progress
    assert ours.air.pressure_pa[0] == pytest.approx(found.x[:WINGS], abs=0.15)
    assert float(ours.air.speed_hz[0]) == pytest.approx(50 * found.x[WINGS], abs=0.02)


def test_the_set_point_climbs_as_worked_by_hand():
    # Peak from 60 Pa: 30 zones ask at once (five sections of six), 2 are ignored: 28 x 4 Pa would be 112, 20 Pa at the most.
    played = hour()
    every = round(RESET.interval_s / STEP_S)
    assert played.asking[every, 0] >= 7
    assert played.set_point_pa[[0, every - 1, every, 2 * every, 3 * every], 0].tolist() == [60.0, 60.0, 80.0, 100.0, 120.0]
    steps = played.set_point_pa[every::every, 0]
    before, asking = played.set_point_pa[every - 1 : -1 : every, 0], played.asking[every::every, 0]
    by_hand = [b + min(4.0 * (n - 2), 20.0) if n > 2 else b - 4.0 for b, n in zip(before, asking, strict=True)]
    assert steps.tolist() == np.clip(by_hand, 60.0, 230.0).tolist()


def test_a_damper_goes_where_its_air_is():
    zones = Zones(SITE)
    # asked 0.5 of the free flow: at four times the boxes' own pressure a quarter open, at a ninth of it wide open, with two thirds of it
    assert zones.needed(0.5, 500.0) == pytest.approx(0.25)
    assert zones.needed(0.5, 125 / 9) == 1.0
    assert zones.share(0.5, 1.0, 125 / 9) == pytest.approx(2 / 3)
    place = settled(MILL, demand("day"), 150.0)
    pressure = play(MILL, demand("day"), None, 60.0, 150.0).pressure_pa[-1]
    assert (place * np.sqrt(pressure / 125))[0] == pytest.approx(SITE.demand["day"].opening, abs=1e-4)


# ------------------------------------------------------------------------------------------------------------------ what breaks it


def test_no_set_point_moves_before_the_hold_is_over():
    played = play(MILL, demand("peak"), RESET, 720.0, stroke_s=90.0)
    late = played.time_s >= RESET.hold_s
    assert set(played.set_point_pa[~late, 0]) == {90.0}
    assert played.set_point_pa[-1, 0] > 90.0


def test_zones_that_are_ignored_move_nothing_and_one_more_runs_it_to_the_top():
    quiet, as_ignored, more = (hour("evening", stuck).set_point_pa[-1, 0] for stuck in (0, 2, 3))
    assert quiet == as_ignored == RESET.lowest_pa
    assert more == RESET.lowest_pa + 4.0 * int((1800 - STEP_S) // RESET.interval_s)


def test_a_demand_whose_requests_do_not_arrive_stays_at_the_lowest():
    late = RESET.model_copy(update={"hold_s": 0.0})
    played = play(MILL, demand("peak"), late, 600.0, 60.0, 90.0, trouble=Trouble(unheard=np.ones(WINGS, bool)))
    assert set(played.set_point_pa[:, 0]) == {60.0}
    assert played.share[-1].min() < 0.9


def test_a_dead_wire_at_zero_runs_the_fan_to_the_top_and_one_that_is_told_does_not():
    dead, told = (play(MILL, demand("day"), RESET, 60.0, trouble=trouble) for trouble in (Trouble(dead=1), Trouble(left_out=1)))
    assert dead.speed_hz[-1, 0] == 50.0
    assert told.speed_hz[-1, 0] < 35.0


# ------------------------------------------------------------------------------------------------------------------ the site file


def test_it_is_mill_street_with_a_reset():
    plain = read_any_site(demo_sites("duct")["Mill Street Offices"])
    same = [section.model_copy(update={"zones": 1}) for section in SITE.sections]
    taps = [tap.model_copy(update={"signal": "0-10 V"}) for tap in SITE.transmitters]  # here with a live zero
    assert (same, SITE.fan, taps, SITE.demand) == (list(plain.sections), plain.fan, list(plain.transmitters), plain.demand)
    assert plain.control.reset is None
    assert read_site_text(write_site(SITE), kinds=SITE_KINDS) == SITE


def test_inches_read_as_well():
    inches = TEXT.replace('lowest = "60 Pa"', 'lowest = "0.25 in. w.c."').replace('highest = "230 Pa"', 'highest = "0.9 in. w.c."')
    reset = read_site_text(inches, kinds=SITE_KINDS).control.reset
    assert (reset.lowest_pa, reset.highest_pa) == pytest.approx((62.27, 224.2), abs=0.05)


@pytest.mark.parametrize(
    ("right", "wrong", "place", "sentence"),
    [
        ('highest = "230 Pa"', 'highest = "50 Pa"', "[control.reset] highest", "must be above lowest, 60 Pa"),
        ('highest = "230 Pa"', 'highest = "600 Pa"', "[control.reset] highest", "must lie with lowest in the range, 0 to 500 Pa of 'PDT-1"),
        ('start = "90 Pa"', 'start = "20 Pa"', "[control.reset] start", "must be from lowest to highest, 60 to 230 Pa; got start 20 Pa"),
        ('respond_most = "20 Pa"', 'respond_most = "2 Pa"', "respond_most", "must be at least respond"),
        ('trim = "4 Pa"', 'trim = "0 Pa"', "respond_most", "trim and respond above 0 Pa"),
        ('asks_until = "90 %"', 'asks_until = "99 %"', "asks_until", "no more than asks_above"),
        ("ignored = 2", "ignored = 54", "ignored", "must be below the number of zones, 54, or nobody is ever heard"),
        ("ignored = 2", "ignored = -1", "ignored", ""),
        ('interval = "2 min"', 'interval = "0 s"', "interval", "a time above"),
        ('interval = "2 min"', 'interval = "2 Pa"', "interval", "which is a pressure"),
        ("fire_mode = false", "fire_mode = true", "[control] reset", "no request of a zone moves the set point of a fan in smoke control"),
    ],
)  # fmt: skip
def test_a_slip_in_the_reset_is_told_in_a_sentence(right, wrong, place, sentence):
    assert right in TEXT
    with pytest.raises(SiteFileError) as told:
        read_site_text(TEXT.replace(right, wrong, 1), "offices.toml", SITE_KINDS)
    assert any(place in line and sentence in line for line in str(told.value).splitlines()), str(told.value)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: play(MILL, np.ones((1, 9))), "asked must hold one share for each of 10 sections"),
        (lambda: play(MILL, demand("day"), length_s=1e9), "length_s must be at most"),
        (lambda: play(MILL, demand("day"), trouble=Trouble(stuck=(9,) * 10)), "stuck must be from 0 to the zones of each section"),
        (lambda: play(MILL, demand("day"), RESET, trouble=Trouble(dead=2)), "transmitter must be"),
        (lambda: play(MILL, demand("day"), RESET, stroke_s=0.0), "stroke_s must be above 0"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()


@pytest.mark.parametrize("rule", ["lowest", "highest", "average"])
def test_troubles_side_by_side_are_those_of_one_after_the_other(rule):
    duct = Duct(SITE.with_changes(control={"rule": rule}))
    late, asked = RESET.model_copy(update={"hold_s": 0.0}), demand("peak")
    ways = [(-1, -1, False), (0, -1, False), (1, -1, False), (-1, 0, False), (-1, 1, False), (-1, -1, True)]
    dead, left, stays = (np.array(part) for part in zip(*ways, strict=True))
    together = play(duct, np.tile(asked, (len(ways), 1)), late, 300.0, 100.0, trouble=Trouble(dead=dead, left_out=left), stays=stays)
    for at, (zero, out, still) in enumerate(ways):
        trouble = Trouble(dead=None if zero < 0 else zero, left_out=None if out < 0 else out)
        alone = play(duct, asked, None if still else late, 300.0, 100.0, trouble=trouble)
        for one, other in zip(together.rows(slice(at, at + 1)), alone, strict=True):
            assert np.allclose(one, other, rtol=1e-6, atol=1e-6)


def test_a_rule_under_which_a_reading_counts_twice_refuses_troubles_side_by_side():
    duct = Duct(SITE.with_changes(control={"rule": "weighted", "weights": (0.3, 0.7)}))
    with pytest.raises(ValueError, match="left_out must be one for all runs with the rule 'weighted' and 2 transmitters"):
        play(duct, np.tile(demand("peak"), (2, 1)), RESET, 60.0, trouble=Trouble(left_out=np.array([0, 1])))
