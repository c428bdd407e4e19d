"""All concepts of a stair beside each other, ranked by the limits that each passes and then by the power of its fan; what each takes in
plant, what fails first, what a person must decide, and which concepts this site cannot be asked about.

Nothing here is recommended: the rank is of this model, in the cases that were asked, and what decides between two concepts on a site (room,
access, acceptance) is in no model.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from helpers import require
from helpers.model.air.conditions import nearest_station
from helpers.model.files import texts
from helpers.studies.cases import Same
from helpers.studies.duty.concept.airs import NotTried, cases_asked
from helpers.studies.duty.concept.concepts import concepts_of
from helpers.studies.duty.concept.judged import TEST_HOURS, JudgedConcept, judge
from helpers.studies.report import MOST_FAN_PA, NETWORK, NO_FAN_GIVES, Finding, Table
from helpers.units.said import with_unit

# What unit prices may be stated of: the user's own, in any money, since none is known here.
PRICED = ("fan kW", "heater kW", "kWh", "supply outlet", "relief damper", "transmitter", "lobby")
_PARTS = {"supply outlets": "supply outlet", "relief dampers": "relief damper", "transmitters": "transmitter", "lobbies": "lobby"}
LEFT_OUT = (
    "several stairs, a lift shaft under pressure, an air release on the fire's floor, gusts, doors that move, failed readings, margins for "
    "leaks that nobody knows (page 12)"
)
RULE = (
    "Order: fewest limits broken first, of equals the least fan power. Judged with the fan stated; what fan it would take stands beside it."
)
COLUMNS = ("Concept", "Past a limit", "Met", "Fan", "Fan shaft, doors shut", "Heater", "Energy of tests", "Parts beside the file's")


@dataclass(frozen=True)
class ConceptStudy:
    """Concepts of a site, ranked. judged: of `JudgedConcept`, the first ranks first; not_there: of `NotTried`; weather_file: whose hours
    the energy is of; asked: how many cases each was judged in."""

    site_name: str
    judged: tuple[JudgedConcept, ...]
    not_there: tuple[NotTried, ...]
    weather_file: str
    asked: int

    def of(self, key):
        """The judged concept of a key; raises ValueError naming those that are there."""
        judged = {one.concept.key: one for one in self.judged}
        return judged[require.one_of(list(judged), concept=key)]

    def asked_said(self):
        """What the cases are, in a few words: each of weather and doors is asked twice, so that their number is another than page 12's,
        whose doors are judged in the design's own."""
        return f"{self.asked} cases, as page 12's fan: {self.asked // 2} of weather and doors, each in the first minute and after an hour"

    def table(self):
        """The concepts in their order, a row each."""
        rows = tuple(self._row(one) for one in self.judged)
        note = (
            f"{RULE} Each in {self.asked_said()}: every weather, all doors shut and the doors that the design has to hold. Page 12 chooses "
            "the fan by them; the cases that its record counts are fewer of doors, and also with the stair as its file says. "
            "Fan: the most that any case takes, without margins, with the stated duct's loss by the square law. Energy: "
            f"{TEST_HOURS:g} hours of tests in a year (half an hour a week, common practice, no source), at the mean power over the hours "
            f"of {self.weather_file}. Not tried: {LEFT_OUT}."
        )
        states = tuple(one.status for one in self.judged)
        return Table("concepts", f"{self.site_name}: ways to pressurise the stair", COLUMNS, rows, states, note)

    def _row(self, one):
        price = one.price
        failed = ", ".join(criterion.title for criterion in one.past) or "none"
        judged = sum(bool(criterion.state) for criterion in one.criteria)
        heater = with_unit(price.heater_w, "power") if price.heater_w else "none"
        return (one.concept.title, failed, f"{one.met} of {judged}", fan_said(price), with_unit(price.shut_w, "power"), heater,
                f"{price.energy_kwh():.0f} kWh", parts_said(price.parts))  # fmt: skip

    def criteria_table(self, key):
        """The criteria of one concept, and what fails first as it is asked for more."""
        one = self.of(key)
        rows = [(criterion.title, criterion.figure) for criterion in one.criteria]
        rows += [("Fails first", load.text()) for load in one.loads]
        states = (*(criterion.state for criterion in one.criteria), *([""] * len(one.loads)))
        note = f"{one.concept.moved}. Searched: {one.concept.searched}."
        return Table(f"criteria {key}", one.concept.title, ("Criterion", "What decides"), tuple(rows), states, note)

    def decide(self, key):
        """What a person must decide about a concept, a sentence each: words, not figures."""
        return tuple(texts("concepts")[self.of(key).concept.key]["decide"])

    def verdict(self):
        """The ranking in a few sentences."""
        first, *rest = self.judged
        none = " No concept tried keeps every limit." * (first.failed > 0)
        said = f"{first.concept.title} ranks first of {len(self.judged)}: {self._comes_to(first)}.{none}"
        if rest:
            said += f" Next, {rest[0].concept.title}: {self._comes_to(rest[0])}."
        lost = "; ".join(f"{one.title} was not tried: {one.why}" for one in self.not_there)
        return f"{said}{f' {lost}.' if lost else ''} The rank is of this model; room, access and acceptance are for people to decide."

    def _comes_to(self, one):
        judged = sum(bool(criterion.state) for criterion in one.criteria)
        return f"{one.failed} of {judged} criteria past a limit, {one.met} met, fan {fan_said(one.price)}"

    def findings(self):
        """A finding for each concept, and for each that was not tried."""
        for one in self.judged:
            worst = next(criterion for criterion in one.criteria if criterion.state == one.status)
            what = f"{one.concept.title}: {worst.title.lower()}"
            yield Finding(one.status, what, worst.figure, one.concept.moved, NETWORK)
        for one in self.not_there:
            yield one.finding

    def priced(self, unit_prices, hours=TEST_HOURS):
        """What each concept costs more than its neighbours by the user's own unit prices: {key: sum}, in the money that they are in.

        unit_prices: {one of PRICED: price of one}; what is not named costs nothing here. hours: of tests in a year, for the energy of one
        year. Raises ValueError for another name, or a price that is no number. Limits: parts beyond those of the site's own file, and the
        power of fan and heater; a sum is NaN where no fan holds a case.
        """
        for name, price in unit_prices.items():
            require.one_of(PRICED, unit_price=name)
            require.single(**{name.replace(" ", "_"): price})
        return {one.concept.key: sum(unit_prices.get(name, 0.0) * count for name, count in amounts(one.price, hours).items())
                for one in self.judged}  # fmt: skip

    def not_priced(self, unit_prices, hours=TEST_HOURS):
        """What of each concept has no price above nothing: {key: (of PRICED, True where that is all of it)}; arguments as `priced`."""
        priced = {name for name, price in unit_prices.items() if price > 0}
        found = {}
        for one in self.judged:
            there = [name for name, count in amounts(one.price, hours).items() if count]
            left = tuple(name for name in there if name not in priced)
            found[one.concept.key] = left, len(left) == len(there)
        return found


def amounts(price, hours=TEST_HOURS):
    """How many of each of PRICED a `PlantPrice` is."""
    parts = {_PARTS[name]: count for name, count in price.parts if name in _PARTS}
    own = {"fan kW": price.shaft_w / 1000, "heater kW": price.heater_w / 1000, "kWh": price.energy_kwh(hours)}
    return {name: own.get(name, parts.get(name, 0)) for name in PRICED}


def fan_said(price):
    """Flow, pressure and shaft power of a `PlantPrice`, in words."""
    if not np.isfinite(price.shaft_w):
        return "none of any size holds every case"
    flow, pressure = with_unit(price.flow_m3_s, "flow"), with_unit(price.pressure_pa, "pressure")
    beyond = "" if price.pressure_pa <= MOST_FAN_PA else f", {NO_FAN_GIVES}"
    return f"{flow}, {pressure}, {with_unit(price.shaft_w, 'power')}{beyond}"


def parts_said(parts):
    """Parts beyond the file's, in words."""
    return ", ".join(f"{name} {count:+d}" for name, count in parts) or "none"


def concept_study(site):
    """The concepts of a stair site, judged and ranked. Returns `ConceptStudy`; kept for the last few sites.

    Raises ValueError for a fan that takes air out, a stair without walls or any door that has a limit. Limits: those of `concepts` and
    `judged`; steady state.
    """
    return _study(Same(site))


@lru_cache(maxsize=4)
def _study(same):
    site = same.given
    found, asked, hours = concepts_of(site), cases_asked(site), nearest_station(site)
    judged = sorted((judge(one, asked, hours) for one in found if not isinstance(one, NotTried)), key=lambda one: one.rank)
    return ConceptStudy(site.name, tuple(judged), tuple(one for one in found if isinstance(one, NotTried)), hours.name, len(asked))
