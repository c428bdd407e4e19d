"""What a review looks for: a kind of finding, how it is looked for on the bench, and whose it is to mend; words that findings share.

What a review tells to enter or to build is taken from the design record of the same site, whatever strategy is handed over, and from the
studies behind it, never worked out another way.
"""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from operator import attrgetter

import numpy as np

from helpers.model.air.tower import Tower
from helpers.model.site.file import write_site
from helpers.record.design import Design
from helpers.studies.doors.window import handle_force_n
from helpers.studies.report import Finding, listed
from helpers.studies.tuning.findings import helps_said, ramp_findings, short_helps_said
from helpers.studies.tuning.study import NoTuning
from helpers.units.limits import limit_text
from helpers.units.said import with_unit

STRATEGY, BUILDING = "the strategy", "the building"


@dataclass(frozen=True)
class Kind:
    """One kind of finding: its key, what is looked for in a few words, look(bench), which gives the `Finding`s there are, and whose
    it is: STRATEGY (an entry in the drive mends it), BUILDING (none does), or a function of the bench that says which; stairs_only: whether
    it is looked for on stairs alone, and not on other plants; absent(bench): what is not stated, in words, so that there is nothing to look
    at, "" where it is (None: it always is)."""

    key: str
    title: str
    look: Callable
    whose: str | Callable = STRATEGY
    stairs_only: bool = False
    absent: Callable | None = None

    def missing(self, bench):
        """What is not stated on a bench, in words, without which there is nothing to look at; "" where all is."""
        return "" if self.absent is None else self.absent(bench)

    def belongs(self, bench):
        """Whose it is to mend on a bench, STRATEGY or BUILDING."""
        return self.whose(bench) if callable(self.whose) else self.whose


RIGHTLY = "enter all inputs as their instruments are"


def entries_first(bench):
    """What comes before any other remedy where an input is entered as its instrument is not: no closer mends a wrong scaling; "" else."""
    return "" if all(one.entered_as_it_is for one in bench.strategy.inputs) else f"first {RIGHTLY}; then, where it is still so: "


def draws_in(bench):
    """Whether a stair's fan takes air out of it while a door asks for pressure above its floor: no larger one, and no entry, helps."""
    return bench.site.kind == "stair" and bench.effect < 0 and bool(np.any(bench.limits[0] > 0))


def entered_later(bench):
    """Whether no set point of any rule suits a stair's doors: no ramp and no tuning is entered before the building has changed, as lesson
    08 and the record have it."""
    return bench.site.kind == "stair" and not any(bench.set_points(rule).size for rule in bench.rules)


def whose_later(bench):
    """Whose a ramp or a tuning is that would have to be another: the building's as long as none is entered."""
    return BUILDING if entered_later(bench) else STRATEGY


def ramps_too_steep(bench):
    """Ramps that ask too much of motor or brake; reported at once, while nothing else is to be entered yet."""
    leave = "it is too steep: report it to the designer today; none is entered alone before a set point suits these doors; then "
    for one in ramp_findings(bench.site, bench.tuning, bench.ramp_down):
        yield replace(one, remedy=f"{leave}{one.remedy}") if entered_later(bench) else one


def whose_mode(bench):
    """The building's where its file states another mode than the standard that judges it; else the strategy's."""
    return BUILDING if bench.out_of_mode else STRATEGY


def pa(value_pa, digits=None):
    """A pressure in words."""
    return with_unit(float(value_pa), "pressure", digits)


def wrong(what, figure, why, source, remedy):
    """Something that keeps the loop from doing its job."""
    return Finding("wrong", what, figure, why, source, remedy)


def attention(what, figure, why, source, remedy):
    """Something that works, but that somebody has to look at."""
    return Finding("attention", what, figure, why, source, remedy)


def never_reached(bench, what, speed_hz, better):
    """A speed that lies beyond what the drive is let to run: it stops at its limit, and the entry only looks as if it were reached."""
    slowest, fastest = bench.speed_limits_hz
    if not slowest <= speed_hz <= fastest:
        end, limit = ("highest", fastest) if speed_hz > fastest else ("lowest", slowest)
        yield wrong(
            f"The {what} is never reached: it lies beyond the {end} speed of the drive",
            f"{speed_hz:g} Hz, {end} {limit:g} Hz",
            f"the drive stays at {limit:g} Hz, whatever is entered",
            "settings of the strategy; site file",
            f"a speed from {slowest:g} to {fastest:g} Hz: {better}",
        )


def force_at(bench, storey, dp_pa):
    """Force [N] at the handle of a storey's stair door that opens against the pressure; None where nobody has to pull against it."""
    kind = bench.site.hardest_stair_door(bench.site.storeys[storey])
    door = bench.site.doors[kind] if kind else None
    return None if door is None or door.opens == "with pressure" else handle_force_n(door, max(float(dp_pa), 0.0))


def too_low(bench, held, cases, doors_open=False):
    """The worst shut stair door below its least, over some cases (True or False a case), in words; empty where none is. doors_open: below
    what is asked for while some door stands open."""
    least, _ = bench.allowed.by_storey(bench.tower.levels, "stair door", doors_open=True) if doors_open else bench.limits
    short = np.where(cases[:, None] & bench.shut_doors, least - held.doors_pa, -np.inf)
    case, storey = np.unravel_index(short.argmax(), short.shape)
    if short[case, storey] <= bench.tolerance_pa:
        return ""
    reading, asked = pa(held.doors_pa[case, storey]), pa(least[storey])
    return f"storey {bench.tower.levels[storey]} has {reading} where {asked} is asked for ({bench.cases[case].name})"


def too_heavy(bench, held, cases):
    """The worst shut stair door beyond its most, over some cases, in words with its force; empty where none is."""
    _, most = bench.limits
    over = np.where(cases[:, None] & bench.shut_doors, held.doors_pa - most, -np.inf)
    case, storey = np.unravel_index(over.argmax(), over.shape)
    if over[case, storey] <= bench.tolerance_pa:
        return ""
    dp = held.doors_pa[case, storey]
    force = force_at(bench, storey, dp)
    taken = f", {with_unit(force, 'force')} at the handle," if force is not None else ""
    where = f"storey {bench.tower.levels[storey]} has {pa(dp)}"
    return f"{where}{taken} maximum {limit_text(most[storey], 'pressure', 'most')} ({bench.cases[case].name})"


def other_than_the_site(bench):
    """In what of the lags before the controller the strategy differs from the site file, in words; empty where in nothing."""

    def said(seconds):
        return "none" if seconds is None else f"{' to '.join(dict.fromkeys(f'{one:g}' for one in np.atleast_1d(seconds)[[0, -1]]))} s"

    pairs = list(zip(bench.site.transmitters, bench.stated.transmitters, strict=False))
    found = [
        f"the strategy states a {words} of {said(getattr(own, field))}, the site file {said(getattr(stated, field))}"
        for field, words in (("filter_s", "filter"), ("damping_s", "damping"))
        for own, stated in pairs
        if getattr(own, field) != getattr(stated, field)
    ]
    return listed(dict.fromkeys(found))


MOST_KEPT = 16  # of the studies of the last strategies, some 10 MB each on a tower: a slider that moves the gain waits for none
_KEPT: OrderedDict = OrderedDict()


def kept(key, make):
    """What was made for a key before, or is made now by make(); the last ones are kept."""
    if key not in _KEPT:
        _KEPT[key] = make()
        while len(_KEPT) > MOST_KEPT:
            _KEPT.popitem(last=False)
    _KEPT.move_to_end(key)
    return _KEPT[key]


class OfRecord:
    """What the record of a stair's site says, each study made once and only when it is wanted."""

    def __init__(self, site):
        self.site, self.key = site, write_site(site)

    @property
    def tower(self):
        """The `Tower` of the site as its file has it, whose own loop has cooled the stair after an hour."""
        return kept((self.key, "tower"), lambda: Tower(self.site))

    @property
    def tuning(self):
        """`TuningStudy` of the record with what helps after a door; None where the record has none."""
        return kept((self.key, "record's tuning"), self._tuning)

    def _tuning(self):
        try:
            return Design(self.site).tuning
        except NoTuning:  # the record itself says why there is none
            return None

    def set_points(self, bench, rule, offered=True):
        """Ends [Pa] of the set points that would pass in the record with a strategy's instruments and this rule, every required case held
        by the stated fan (`Standing.others`; not only those offered: `Standing.passing`); None where none does."""
        return self._set_points(bench, rule)[0 if offered else 1]

    def year_said(self, bench, rule):
        """That a typical year brings a door out at each of them, in the record's words; "" where it does not (`Standing.year_said`)."""
        return self._set_points(bench, rule)[2]

    def _set_points(self, bench, rule):
        weights = bench.strategy.loop.weights if rule == "weighted" else None
        made = {"transmitters": bench.site.transmitters, "rule": rule, "weights": weights}
        asked = attrgetter("others", "passing", "year_said")
        return kept((self.key, "set points", repr(made)), lambda: asked(Design(self.site, **made).standing))

    def after_a_door_said(self, set_point_pa=None, short_s=None):
        """What helps after a door, each tried by the record's tuning study, in words; set_point_pa: the one entered, where another than the
        site file's no further one is offered; short_s: what leaves a shut door short for less."""
        study, own_pa = self.tuning, self.site.control.set_point_pa
        if study is None:
            return "not tried: the record of this site has no tuning"
        same = set_point_pa is None or bool(np.isclose(set_point_pa, own_pa))
        helps = helps_said(study, same) if short_s is None else short_helps_said(study, short_s, same)
        tried = ["with the site file's ramps"] * bool(study.mark)
        tried += [] if same else [f"at the site file's set point, {with_unit(own_pa, 'pressure')}"]
        return f"{helps}; tried {listed(tried)}" if tried else helps


def suiting_speeds(bench):
    """Speeds [Hz] at which every place is within its limits in every case in which any speed keeps it there; none where none does."""
    least, most = (np.broadcast_to(ends, bench.curves.places[:, 0].shape)[bench.judged][:, None] for ends in bench.limits)
    places = bench.curves.places[bench.judged]
    (slowest, fastest), tried = bench.speed_limits_hz, bench.curves.speed_hz
    return tried[((places >= least) & (places <= most)).all(axis=(0, 2)) & (tried >= slowest) & (tried <= fastest)]
