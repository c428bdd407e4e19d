"""A stair from its first minute to an hour later: how its air cools (in summer: warms), and which doors that makes light or heavy.

When the fan starts the stair is as warm as the rooms; then outdoor air comes down it. Where floors are tied to each other by lift shafts or
slabs, their pressures keep the stack effect of warm rooms while the stair loses its own: the pattern that was lightest at the bottom turns
over, bottom heaviest, top lightest. Where each floor hangs on the outdoor air alone, cooling only flattens it.
Limits: those of model/air/stair_heat; doors shut; the loop's own few seconds are not in it.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from helpers.model.air.conditions import Conditions
from helpers.model.air.stair_heat import StairWalls, stair_course, with_stair
from helpers.model.site.tolerances import boxes
from helpers.studies.cases import known_weather, levels_text, one_number
from helpers.studies.doors.columns import LIMITS, across_by_use
from helpers.studies.duty.relief_damper import open_share
from helpers.studies.readings.rules import allowed_pressures, doors_status
from helpers.studies.report import NETWORK, Finding, Table, apart, beside, limit_text, listed
from helpers.studies.status import SPARE_PA, TOUCHES, inside, word_of, worst_of
from helpers.units.said import with_unit

SAME_PA = 1.0  # two doors, or one door at two times, nearer than this are alike: less than a gauge on site tells apart
SHOWN_MIN = (0.0, 1.0, 3.0, 6.0, 10.0, 15.0, 30.0, 60.0)
HANDBOOK_FACTOR, HANDBOOK = 0.15, "Klote et al., Handbook of Smoke Control Engineering, 2012; from memory, not verified"
DONE = 0.9  # of the whole change at the doors: from then on a measurement is that of the cooled stair
APART_HZ = 0.5  # of fan speed: less than this between a stair's own air and air of one temperature is not worth a word
SOONEST_MIN = 5.0  # before it nobody goes back to a door, where the doors hardly change; common practice, no source


@dataclass(frozen=True)
class Moment:
    """One time after the start: minute, mean_c and the temperatures at the ends of the range, fan speed, whether the loop holds, and the
    pressure across the lightest and the heaviest stair door with their levels; limits_pa: the least of the one, the most of the other,
    infinite where none is asked; rooms_pa: of the worst door of each use to its limit, below zero past it, infinite where none has one;
    exit: the final exit with the least room, (level, pressure, limit [Pa], "least" or "most"), None where none has a limit."""

    minute: float
    mean_c: float
    coldest_c: float
    warmest_c: float
    speed_hz: float
    held: bool
    least_pa: float
    least_level: int
    most_pa: float
    most_level: int
    limits_pa: tuple[float, float]
    rooms_pa: dict[str, float]
    exit: tuple[int, float, float, str] | None

    @property
    def ends_said(self):
        """The pressure across the lightest and the heaviest door, neither written as the limit that it is not."""
        return tuple(
            beside(value, limit, "pressure", end)
            for value, limit, end in zip((self.least_pa, self.most_pa), self.limits_pa, ("least", "most"), strict=True)
        )

    def text(self):
        """The lightest and the heaviest door in words."""
        least, most = (
            f"{said} ({LIMITS[end]} {limit_text(limit, 'pressure', end)})" if np.isfinite(limit) else said
            for said, limit, end in zip(self.ends_said, self.limits_pa, ("least", "most"), strict=True)
        )
        return f"least {least} at storey {self.least_level}, most {most} at storey {self.most_level}"

    @property
    def inside(self):
        """Whether every shut door, final exits too, is inside its window."""
        return all(inside(room) for room in self.rooms_pa.values())

    @property
    def state(self):
        """Key of the status of all doors, see `doors_status`."""
        return doors_status(self.held and self.inside, min(self.rooms_pa.values()), required=True, too_high=False)

    def judged(self):
        """The same with what it comes to at all doors."""
        if self.inside:
            return f"{self.text()}: every door inside its window"
        out = [use for use, room in self.rooms_pa.items() if not inside(room)]
        places = " and ".join(self._exit_said() if use == "final exit" else f"the {use}s" for use in out)
        return f"{self.text()}: {word_of('wrong')} at {places}"

    def _exit_said(self):
        level, dp, limit, end = self.exit
        dp, limit = apart((dp, limit), "pressure", end)
        return f"final exit {level} ({dp}, {LIMITS[end]} {limit})"


@dataclass(frozen=True)
class Fastest:
    """The `Moment` at which the fan is fastest, the speed that would hold a stair all as warm as its mean, and the share of its area to
    which the relief damper is lifted (relief: it in words, "" without one; of several the one lifted furthest): then, in air of one
    temperature, and in the first minute."""

    moment: Moment
    alike_hz: float
    relief: str
    lifts: tuple[float, float, float]

    def text(self):
        """Why the fan does not follow the mean temperature, in a sentence; "" where it does."""
        if self.moment.speed_hz - self.alike_hz < APART_HZ:
            return ""
        speed, alike = (with_unit(value, "frequency") for value in (self.moment.speed_hz, self.alike_hz))
        mean, minute = with_unit(self.moment.mean_c, "temperature"), f"{self.moment.minute:.0f} min"
        said = (
            f"The fan is fastest at {minute}, {speed}; a stair all at {mean} would take {alike}. The stair is colder where the air enters "
            "and warmer further on, and so has another pressure half-way up than air of one temperature"
        )
        there, even, first = (f"{100 * lift:.0f} %" for lift in self.lifts)
        if not self.relief or self.lifts[0] <= self.lifts[1]:
            return f"{said}."
        return (
            f"{said}: {self.relief} lifts to {there} of its area ({even} in air of one temperature, "
            f"{first} in the first minute), and what it lets out the fan must bring as well."
        )


@dataclass(frozen=True)
class CoolingStudy:
    """moments: of `Moment` from the first minute to the last, film at its cautious end; door_dp_pa [times, doors] of `levels`, the levels
    with a stair door; exit_dp_pa: {level: [times]} of every final exit; by_film: ((film [W/(m2 K)], `Moment` at the end) low, likely,
    high); outdoor_c; fastest: `Fastest`; least_by: who asks for the least at the stair doors, in words."""

    site_name: str
    weather: str
    set_point_pa: float
    rule: str
    levels: tuple
    moments: tuple
    door_dp_pa: np.ndarray
    by_film: tuple
    outdoor_c: float
    fastest: Fastest
    least_by: str
    exit_dp_pa: dict[int, np.ndarray]

    @property
    def first(self):
        """The first minute: the stair as warm as the rooms."""
        return self.moments[0]

    @property
    def last(self):
        """The end of the course."""
        return self.moments[-1]

    @property
    def turns_over(self):
        """Whether the heaviest door moves from one end of the stair to the other, by more than the noise of a gauge."""
        begins, ends = (moment.most_level - moment.least_level for moment in (self.first, self.last))
        apart = min(moment.most_pa - moment.least_pa for moment in (self.first, self.last))
        return bool(begins * ends < 0 and apart > SAME_PA)

    @property
    def factors(self):
        """Temperature factors at the end, by film: share of the way from the outdoor to the rooms' temperature; NaN where they are one."""
        way = self.first.mean_c - self.outdoor_c
        return tuple((moment.mean_c - self.outdoor_c) / way if abs(way) > 1 else np.nan for _, moment in self.by_film)

    @property
    def worst(self):
        """(Moment with the lightest door of all, Moment with the heaviest)."""
        return min(self.moments, key=lambda moment: moment.least_pa), max(self.moments, key=lambda moment: moment.most_pa)

    @cached_property
    def done_minute(self):
        """Minute from which on every door has made so much of its change: when a second measurement tells of the cooled stair."""
        change = np.abs(self.door_dp_pa[-1] - self.door_dp_pa[0])
        left = np.abs(self.door_dp_pa[-1] - self.door_dp_pa)
        near = (left <= np.maximum((1 - DONE) * change, SAME_PA)).all(axis=1)
        lasting = np.flip(np.logical_and.accumulate(np.flip(near)))
        return self.moments[int(np.argmax(lasting))].minute

    @property
    def again_minute(self):
        """Minute after the start from which the doors are measured again: never sooner than SOONEST_MIN."""
        return max(self.done_minute, SOONEST_MIN)

    @property
    def _left_pa(self):
        """How far any stair door is from its pressure at the end, at most, from the minute on at which it is measured again [Pa]."""
        later = [moment.minute >= self.again_minute for moment in self.moments]
        return float(np.abs(self.door_dp_pa[later] - self.door_dp_pa[-1]).max())

    @property
    def measured_levels(self):
        """Levels of the doors that are lightest or heaviest in the first minute or at the end: those that are measured at both times."""
        return tuple(sorted({level for moment in (self.first, self.last) for level in (moment.least_level, moment.most_level)}))

    @property
    def measure(self):
        """When to measure which doors and why then, in a sentence or two."""
        exits = "{} too, in the first minute and from minute {:.0f}: see whether it shuts by itself.".format(*self.exit_again or ("", 0.0))
        return (
            f"Once this round may be run (the set point laid down), measure the doors of {levels_text(self.measured_levels)} as "
            "soon as the loop holds, in the first minute after the start, and "
            f"the same doors again from minute {self.again_minute:.0f} after the start (after that none changes by more than "
            f"{limit_text(self._left_pa, 'pressure', 'least')} in the hour), the fan running: note the minutes beside each."
            f"{f' {exits}' * bool(self.exit_again)}"
        )

    @property
    def exit_again(self):
        """(final exit, minute from which it is tried again) where the pressure holds one open at some time, else ()."""
        out = [moment for moment in self.moments if not inside(moment.rooms_pa["final exit"])]
        levels = listed(map(str, sorted({moment.exit[0] for moment in out})))
        return (f"Final exit {levels}", out[0].minute or self.again_minute) if out else ()

    def ends(self):
        """The first minute and the end of the course in a few words."""
        first, last = self.first.judged(), self.last.judged()
        return f"{self.site_name}, {self.weather}: first minute {first}; after {self.last.minute:.0f} minutes {last}"

    def verdict(self):
        """First minute and end beside each other, whether the pattern turns over, when to measure."""
        mean, later = (with_unit(moment.mean_c, "temperature") for moment in (self.first, self.last))
        minutes = f"{self.last.minute:.0f} minutes"
        said = [
            f"{self.weather.capitalize()}, doors shut: in the first minute (stair {mean}) {self.first.judged()}; "
            f"after {minutes} (stair {later} in the mean) {self.last.judged()}.",
            self._turn_said(),
        ]
        lost = [moment for moment in self.moments if not moment.held]
        said += [f"At {len(lost)} of {len(self.moments)} times the loop does not hold its set point."] * bool(lost)
        return " ".join([*said, self.measure])

    def _turn_said(self):
        if self.turns_over:
            return "The pattern turns over while the fan runs: the end that was light becomes the heavy one."
        before, after = (moment.most_pa - moment.least_pa for moment in (self.first, self.last))
        if abs(after - before) <= SAME_PA:
            return "The doors keep their pattern."
        ends = {(moment.least_level, moment.most_level) for moment in (self.first, self.last)}
        kept, becomes = "ends" if len(ends) == 1 else "direction", "steeper" if after > before else "flatter"
        return f"The pattern keeps its {kept} and becomes {becomes} as the stair's air changes."

    def table(self, judged=True):
        """The course by the minute, then the end by film coefficient; judged: `judged_by` in its note, too. Returns `Table`."""
        shown = [moment for moment in self.moments if np.isclose(moment.minute, SHOWN_MIN).any()]
        rows = [(f"{moment.minute:g} min", *self._row(moment)) for moment in shown]
        first, varied = self.by_film[0][0], [one for one in self.by_film[1:] if one[0] != self.by_film[0][0]]
        rows += [(f"{moment.minute:g} min, walls give heat {film / first:g} times as well", *self._row(moment)) for film, moment in varied]
        columns = ("After the start", "Stair, mean", "coldest", "warmest", "Fan", "Lowest", "at storey", "Highest", "at storey ",
                   *("Final exit",) * bool(self.last.exit))  # fmt: skip
        film = with_unit(first, "heat transfer")
        end = "the cautious end" if len({of for of, _ in self.by_film}) > 1 else "one figure, not varied: nothing beside it was tried"
        note = f"How well the walls give heat to the air (film coefficient): {film}, {end}; it is uncertain by a factor of two."
        note = " ".join(filter(None, (self.fastest.text(), judged and self.judged_by(), note)))
        if np.isfinite(self.factors).all():
            low, _, high = self.factors
            note += (
                f" If you calculate with one temperature for the whole stair: here its mean lies {low:.2f} to {high:.2f} of the way from "
                f"the outdoor air's to the rooms'. A handbook suggests {HANDBOOK_FACTOR:g} where nothing better is known "
                f"({HANDBOOK}), a colder stair: the weather in the site file can state one."
            )
        title = f"{self.site_name}, {self.weather}: the stair's air and its doors"
        states = (*(moment.state for moment in shown), *(moment.state for _, moment in varied))
        return Table("stair cooling", title, columns, tuple(rows), states, note)

    def deciding(self):
        """The door that decides, over all rows of the table: (key of the gravest status, `Moment`, door in words, pressure, limit [Pa]);
        None where no door has a limit."""
        rows = [*self.moments, *(moment for _, moment in self.by_film)]
        moment = min(rows, key=lambda one: min(one.rooms_pa.values()))
        use = min(moment.rooms_pa, key=moment.rooms_pa.get)
        if not np.isfinite(moment.rooms_pa[use]):
            return None
        least, most = moment.limits_pa
        light = moment.least_pa - least <= most - moment.most_pa
        stair = (moment.least_level, moment.least_pa, least) if light else (moment.most_level, moment.most_pa, most)
        level, dp, limit = moment.exit[:3] if use == "final exit" else stair
        return worst_of(one.state for one in rows), moment, f"{use} {level}", dp, limit

    def judged_by(self, meant=True):
        """The limits that the verdicts of the table go by, rounded inwards, and what the verdicts mean (meant), in a few sentences."""
        least, most = self.first.limits_pa
        ends = [
            f"{LIMITS[end]} {limit_text(limit, 'pressure', end)}{because}"
            for end, limit, because in (("least", least, f", by {self.least_by},"), ("most", most, ""))
            if np.isfinite(limit)
        ]
        said = f"Lowest and highest are stair doors; their limits are {' and '.join(ends) or 'not stated'}"
        if self.last.exit is not None:
            level, _, limit, end = self.last.exit
            said += f". Final exit {level} has {LIMITS[end]} {limit_text(limit, 'pressure', end)}"
        if not meant:
            return f"{said}."
        good, near, out = (word_of(state) for state in ("good", "attention", "wrong"))
        return (
            f"{said}. {good}: every door with a limit is inside, with {with_unit(SPARE_PA, 'pressure')} to spare. {near}: inside, with "
            f"less to spare. {out}: past a limit, or the set point is not held."
        )

    @staticmethod
    def _row(moment):
        temperatures = [with_unit(value, "temperature") for value in (moment.mean_c, moment.coldest_c, moment.warmest_c)]
        speed = with_unit(moment.speed_hz, "frequency") + ("" if moment.held else ", does not hold")
        least, most = moment.ends_said
        across = (beside(*moment.exit[1:3], "pressure", moment.exit[3]),) if moment.exit else ()
        return (*temperatures, speed, least, str(moment.least_level), most, str(moment.most_level), *across)

    def findings(self):
        """That one measurement is not enough, where the doors change by more than a gauge tells apart. Yields `Finding`."""
        if np.abs(self.door_dp_pa[-1] - self.door_dp_pa[0]).max() <= SAME_PA:
            return
        what = "The pattern of the doors turns over while the fan runs" if self.turns_over else "The doors change while the fan runs"
        figure = f"first minute {self.first.text()}; after {self.last.minute:.0f} minutes {self.last.text()}"
        why = "outdoor air takes the stair's own stack effect away, the rooms keep theirs"
        yield Finding("attention", f"{what}: {self.weather}", figure, why, NETWORK, self.measure)


def cooling_study(tower, weather="winter", set_point_pa=None, rule=None) -> CoolingStudy:
    """How the doors of a stair change from the first minute on, while the loop holds its set point, all doors shut.

    tower: `Tower`; weather: one of the site's; set_point_pa, rule: by default the site's. Raises ValueError for a weather that is not
    there, a stair without doors, or one without walls (see `stair_heat`).
    """
    site = tower.site
    known_weather(site, weather)
    target = one_number(set_point_pa=site.control.set_point_pa if set_point_pa is None else set_point_pa)
    doors = [place for place, storey in enumerate(site.storeys) if storey.stair_door and storey.stair_door_count]
    if not doors:
        raise ValueError("site must have a stair door on a storey at least, got none")
    conditions = Conditions.of(site, weather).rows(np.zeros(3, int))  # low, likely and high film beside each other
    taken = rule or site.control.rule
    asked = {"set_point_pa": target, "rule": taken, "weights": site.control.weights if taken == "weighted" else None}
    film = boxes(site)["stair.film_w_m2k"]
    levels = tuple(tower.levels[place] for place in doors)
    films = film.low, film.likely, film.high
    course = stair_course(tower, conditions, walls=StairWalls.of(site, films), **asked)
    window = allowed_pressures(site)
    moments = [_moments(course, place, doors, window, tower.levels) for place in range(len(films))]
    by_film = tuple((one, found[-1]) for one, found in zip(films, moments, strict=True))
    fastest = _fastest(tower, conditions.rows(np.zeros(2, int)), course, moments[0], asked)
    across = np.stack([across_by_use(one)["final exit"][0] for one in course.airs])
    exits = {level: across[:, tower.storey(level)] for door in window.doors if door.use == "final exit" for level in door.levels}
    return CoolingStudy(site.name, weather, target, taken, levels, moments[0], course.door_dp_pa[:, 0, doors], by_film,
                        site.weather[weather].outdoor_c, fastest, _least_by(window), exits)  # fmt: skip


def _least_by(window):
    """Who asks for the least pressure at the stair doors of a `SiteWindow`, in words: the standard where the figure is the standard's."""
    criterion = window.criteria.least_doors_shut
    of_standard = None not in (window.least_pa, criterion.limit) and abs(window.least_pa - criterion.limit) <= TOUCHES
    return criterion.said if of_standard else "the site file"


def _fastest(tower, conditions, course, moments, asked):
    """`Fastest` of a course of the first film; conditions: two rows."""
    place = int(course.speed_hz[:, 0].argmax())
    own, first = course.stair_c[[place, 0], 0], course.speed_hz[[place, 0], 0]
    even = np.broadcast_to(own[:1].mean(axis=1, keepdims=True), own[:1].shape)
    lifted, alike = with_stair(conditions, own), with_stair(conditions.rows(np.zeros(1, int)), even)
    held = tower.hold(alike, **asked).air
    then, early = open_share(tower, lifted, tower.solve(lifted, first).stair_pa)
    levels = [str(relief.level) for relief in tower.site.stair.reliefs]
    relief = f"the relief damper on storey {levels[0]}" if levels else ""
    relief = f"of the relief dampers on storeys {' and '.join(levels)} the one lifted furthest" if levels[1:] else relief
    lifts = float(then), float(open_share(tower, alike, held.stair_pa)[0]), float(early)
    return Fastest(moments[place], float(held.speed_hz[0]), relief, lifts)


def _moments(course, row, doors, window, levels):
    """`Moment`s of one film, by its row; doors: places of the stair doors; window: `SiteWindow`; levels: of all storeys."""
    across = {use: np.stack(dp)[:, row] for use, dp in _by_use(course.airs).items()}
    limits = {use: window.by_storey(levels, use) for use in across}
    rooms = {use: np.minimum(dp - limits[use][0], limits[use][1] - dp) for use, dp in across.items()}
    dp, (least, most) = across["stair door"][:, doors], (ends[doors] for ends in limits["stair door"])
    lowest, highest, exits = dp.argmin(axis=1), dp.argmax(axis=1), rooms["final exit"].argmin(axis=1)
    return tuple(
        Moment(
            float(minute), float(stair.mean()), float(stair.min()), float(stair.max()), float(speed), bool(held),
            float(dp[time, low]), levels[doors[low]], float(dp[time, high]), levels[doors[high]], (float(least[low]), float(most[high])),
            {use: float(room[time].min()) for use, room in rooms.items()},
            _exit(levels[storey], across["final exit"][time, storey], *(ends[storey] for ends in limits["final exit"])),
        )
        for time, (minute, stair, speed, held, low, high, storey) in enumerate(zip(
            course.minutes, course.stair_c[:, row], course.speed_hz[:, row], course.held[:, row], lowest, highest, exits, strict=True
        ))
    )  # fmt: skip


def _by_use(airs):
    """Pressures across the doors of each use, by use a list of [films, storeys] in the order of the airs."""
    found = [across_by_use(one) for one in airs]
    return {use: [one[use] for one in found] for use in found[0]}


def _exit(level, dp_pa, least_pa, most_pa):
    """A final exit with its nearer limit, as `Moment` has it; None where it has none."""
    end, limit = ("most", most_pa) if most_pa - dp_pa <= dp_pa - least_pa else ("least", least_pa)
    return (level, float(dp_pa), float(limit), end) if np.isfinite(limit) else None
