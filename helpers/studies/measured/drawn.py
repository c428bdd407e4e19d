"""A building and its test day drawn by chance: for trying the fit against what is known, for demo days, for a day of one's own per seat.

The building differs from its site file as the published classes of tightness differ; every storey's walls and gaps lie about the mean; the
gauges err, the traverse has a bias of its own, the temperatures are read beside the door. Nothing of it is taken from the fit.
"""

from dataclasses import dataclass
from datetime import date as calendar_date
from datetime import timedelta
from pathlib import Path

import numpy as np

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site, write_site
from helpers.model.test_day import PRESSURES, DayRound, DayWeather, DeviceFound, Gauges, LeafForce, TestDay
from helpers.studies.doors.forces import GAUGE_N
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.fitted import at_dampers
from helpers.studies.measured.readings import FIELDS, FLOW, FLOW_SCATTER, QUANTITIES, SURE, conditions_found, every_quantity, readings_of
from helpers.studies.measured.steady_speeds import SPEED_SHARES, as_found_hz, steady_speeds
from helpers.studies.measured.unknowns import Unknowns
from helpers.studies.measured.years.self_tests import LOG

MAY = {"outdoor_c": 14.0, "stair_c": 19.0, "floor_c": 22.0, "wind_speed_m_s": 2.0, "wind_from_deg": 230.0}
GAUGES = {"pressure_pa": 1.0, "flow_percent": 8.0, "wind_m_s": 1.0}

DAYS_FOLDER = Path(__file__).resolve().parents[3] / "data" / "days"
DEMO_DAYS = {"Larkfield House": 19, "Northgate Tower": 7}  # site and seed of the days that come with the workbook
# Ten years of one stair, drawn: site, seed of the building, first year, and by how much its doors and walls leak more with every year.
DEMO_YEARS = ("Tannery Row", 31, range(2017, 2027), {"stair side": 1.03})
# Of these years: error of a transmitter at first and a year [Pa], force of a leaf likewise [N], all others as the site file has them; in
# which year a transmitter was set back, and to what; of the self-tests' weeks, counted back from the last test, those missed, those out.
DEMO_ERRORS, SET_BACK, REFERENCE_PA = {"PDT-1": (0.2, 0.21), "PDT-2": (0.3, 0.0)}, ("PDT-1", 2021, 0.05), 0.3
DEMO_CLOSERS = {("stair door", 5): (46.0, 3.1), ("final exit", 0): (72.0, -1.4)}
DEMO_SELF_TESTS = {"fan reaches its speed": (), "PDT-1 zero at rest": (1, 2), "relief damper moves": (9, 10, 31, 77)}
DEMO_NOTES = {"PDT-1 zero at rest": "1.1 Pa where 0 ± 1.0 Pa is asked"}  # of what is out, else that it was looked at
WEEKS, MISSED = 105, (5, 20, 21, 60)
TRUTH = "truth.txt"  # beside them: what a learner may compare with afterwards


@dataclass(frozen=True)
class DrawnDay:
    """A `TestDay` and the building behind it: factors by kind, `x` [unknowns] as `Unknowns.of(site)` has them; tower: of the site file."""

    day: TestDay
    factors: dict
    x: np.ndarray
    unknowns: Unknowns
    tower: Tower

    def truth(self, conditions):
        """Some conditions (`Conditions`) in this building."""
        return self.unknowns.conditions(conditions, self.x[None])[0]


def drawn_day(site, seed, gauges=None, weather=None, date="2026-05-12", name=None, errors=True, building=None, grown=None,
              most_hz=np.inf, doors=True):  # fmt: skip
    """A building drawn about a site, and a day of three rounds, all doors shut, with every stair door, exit and three floors read.

    seed: whole number; gauges, weather: fields of `Gauges`, `Conditions`, GAUGES and MAY where nothing is given; errors: False for gauges
    that are right; building: seed of the building, where the day has one of its own; grown: by kind, how many times as much of it there is
    since the building was drawn; most_hz: no round is faster than this, the day's ceiling of speed, nor than doors and damper bear on the
    sheets and in the building itself (`as_found_hz`); doors: False for a crew that does not look at them. Returns `DrawnDay`. Raises
    ValueError where the drawn building's fan does not bring an answer.
    """
    rng, unknowns, tower = np.random.default_rng(seed), Unknowns.of(site), Tower(site)
    x, given, state = rng.normal(size=len(unknowns)), Gauges(**GAUGES | (gauges or {})), MAY | (weather or {})
    if building is not None:
        x = np.random.default_rng(building).normal(size=len(unknowns))
    for kind, times in (grown or {}).items():
        place = unknowns.kinds.index(kind)
        x[place] += np.log(times) / unknowns.deviations[place]
    flat = {key: state[key] for key in ("outdoor_c", "floor_c", "wind_speed_m_s", "wind_from_deg")}
    flat |= {"lobby_c": state["floor_c"], "lift_c": state["floor_c"], "stair_c": np.full((1, len(site.storeys)), state["stair_c"])}
    base = Conditions.of(site, **flat)
    true, _ = unknowns.conditions(base, x[None])
    err, shape = float(errors), (len(SPEED_SHARES), len(QUANTITIES), len(site.storeys))
    bias, noise, scatter = rng.normal(), rng.normal(size=shape), rng.normal(size=(len(SPEED_SHARES), 1))
    misread = err * rng.normal(size=3) * (1.0 / SURE, 1.0, given.wind_m_s / SURE)
    seen = DayWeather(
        outdoor_c=round(state["outdoor_c"] - misread[0], 1), stair_bottom_c=round(state["stair_c"] - misread[1], 1),
        stair_top_c=round(state["stair_c"] - misread[1], 1), floor_c=state["floor_c"],
        wind_speed_m_s=round(max(state["wind_speed_m_s"] - misread[2], 0.0), 1), wind_from_deg=state["wind_from_deg"],
    )  # fmt: skip
    printed = steady_speeds(tower, conditions_found(site, seen), most_hz) if doors else None
    top_hz = as_found_hz(tower, true, printed, most_hz)
    speeds = np.round(top_hz * np.array(SPEED_SHARES), 1)
    air = tower.solve(true.rows(np.zeros(len(speeds), int)), speeds)
    if not air.converged.all():
        raise ValueError(f"seed must draw a building whose air has an answer; that of {seed} has none")
    right = every_quantity(air)
    read = right + err * noise * given.pressure_pa / SURE
    read[:, FLOW] = right[:, FLOW] * np.exp(err * bias * given.flow_percent / 100 / SURE) * np.exp(err * FLOW_SCATTER * scatter)
    rounds = [DayRound(speed_hz=float(speed), flow_m3_s=round(float(read[number, FLOW, 0]), 3), **_written(site, read[number]))
              for number, speed in enumerate(speeds)]  # fmt: skip
    day = TestDay(
        name=name or f"{site.name}, {date}", kind="test day", invented=True, site=site.name, date=date, weather=seen, gauges=given,
        rounds=rounds, note=f"Computed with drawn errors, seed {seed}.",
    )  # fmt: skip
    factors = {kind: float(np.exp(x[place] * unknowns.deviations[place])) for place, kind in enumerate(unknowns.kinds)}
    return DrawnDay(day, factors, x, unknowns, tower)


def drawn_readings(site, seed, **given):
    """(`DayReadings`, `DrawnDay`) of a drawn day."""
    drawn = drawn_day(site, seed, **given)
    return readings_of(site, drawn.day), drawn


def _written(site, read):
    """Fields of `DayRound` from all that could be read [quantities, storeys], to a tenth of a pascal: what a crew has time for."""
    count = len(site.storeys)
    asked = {
        "stair door": [place for place, storey in enumerate(site.storeys) if storey.stair_door],
        "final exit": [place for place, storey in enumerate(site.storeys) if storey.final_exit_door],
        "floor over outdoors": sorted({0, count // 2, count - 1}), "stair over outdoors": sorted({0, *at_dampers(site), count - 1}),
    }  # fmt: skip
    fields = {field: {} for field in PRESSURES}
    for quantity, places in asked.items():
        row = read[QUANTITIES.index(quantity)]
        fields[FIELDS[quantity]] = {str(site.storeys[place].level): round(float(row[place]), 1) for place in places}
    return fields


def _devices(rng, years):
    """What the demo's transmitters show in its years: a list of `DeviceFound` for each. As found and as left are read off one reference."""
    found = [[] for _ in years]
    for name, (true, a_year) in DEMO_ERRORS.items():
        for year, devices in zip(years, found, strict=True):
            off = rng.normal() * REFERENCE_PA / SURE
            left = SET_BACK[2] if (name, year) == SET_BACK[:2] else None
            devices.append(DeviceFound(name=name, as_found_pa=round(true + off, 2), as_left_pa=left, reference_pa=REFERENCE_PA))
            true = (true if left is None else left - off) + a_year
    return found


def _leaves(site, rng, number):
    """What the demo's closers ask for in its years: `LeafForce` of each leaf."""
    for use, field in (("stair door", "stair_door"), ("final exit", "final_exit_door")):
        for storey in site.storeys:
            if getattr(storey, field):
                first, a_year = DEMO_CLOSERS.get((use, storey.level), (site.doors[getattr(storey, field)].closer_force_n, 0.0))
                force = first + a_year * number + rng.normal() * GAUGE_N / SURE
                yield LeafForce(door=use, level=storey.level, fan_off_n=round(float(force)))


def _self_tests(last):
    """The demo's log of its self-tests up to a date, as the text of a file."""
    lines = ["date,what,result,note"]
    for ago in range(WEEKS, 0, -1):
        day = last - timedelta(weeks=ago)
        if ago not in MISSED:
            for what, out in DEMO_SELF_TESTS.items():
                result = f"out,{DEMO_NOTES.get(what, 'looked at')}" if ago in out else "good,"
                lines.append(f"{day},{what},{result}")
    return "\n".join(lines) + "\n"


def write_demo_days(folder=DAYS_FOLDER):
    """The days of DEMO_DAYS as files, and the truth behind them apart. Returns the texts by file name."""
    sites, texts = demo_sites(), {}
    truth = ["What the drawn buildings really are, by which factor of the site file; each storey's own walls and gaps lie about it.", ""]
    for name, seed in DEMO_DAYS.items():
        site = read_site(sites[name])
        drawn = drawn_day(site, seed, name=f"{name}, a test day in May", most_hz=ceiling_of(site).hz)
        texts[f"{sites[name].stem}_may.toml"] = write_site(drawn.day)
        truth += [f"{name}, seed {seed}", *(f"    {kind}: {factor:.3f}" for kind, factor in drawn.factors.items()), ""]
    name, seed, years, growth = DEMO_YEARS
    site, rng, others = read_site(sites[name]), np.random.default_rng(seed), np.random.default_rng(seed + 1)
    devices = _devices(others, years)
    for number, year in enumerate(years):
        grown = {kind: by**number for kind, by in growth.items()}
        weather = {"outdoor_c": float(rng.integers(4, 22)), "wind_speed_m_s": float(rng.integers(1, 5))}
        day = drawn_day(site, seed + number, None, weather, f"{year}-05-{rng.integers(4, 29):02d}", building=seed, grown=grown).day
        day = day.model_copy(update={"devices": devices[number], "leaves": [*_leaves(site, others, number)]})
        texts[f"{sites[name].stem}_years/{day.date}.toml"] = write_site(day)
    texts[f"{sites[name].stem}_years/{LOG}"] = _self_tests(calendar_date.fromisoformat(day.date))
    told = [f"    {kind}: {by} times with every year" for kind, by in growth.items()]
    told += [f"    error of {tap}: {first:g} Pa at first, {a_year:g} Pa a year" for tap, (first, a_year) in DEMO_ERRORS.items()]
    told += ["    {} set back to {} Pa in {}".format(SET_BACK[0], *SET_BACK[:0:-1])]
    told += [f"    closer of {use} {level}: {first:g} N at first, {a_year:+g} N a year" for (use, level), (first, a_year) in
             DEMO_CLOSERS.items()]  # fmt: skip
    truth += [f"{name}, ten years, building of seed {seed}", *told, ""]
    texts[TRUTH] = "\n".join(truth)
    (folder / f"{sites[name].stem}_years").mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
    return texts


if __name__ == "__main__":
    write_demo_days()
