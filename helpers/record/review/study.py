"""Review of somebody else's strategy: what is wrong with it, the most serious first, each with the figure computed on the site it is for.

A review finds what it looks for (`KINDS` lists it) and nothing else; it does not replace the check on site. One cause is told once, and
what comes of it stands under it; a cause is only named where putting it right puts the consequence right as well.

Its picture: every place that is to be held against its limits, with the strategy as it is; of a stair its shut doors.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from helpers.model.strategy import Strategy
from helpers.plots.charts import Profile, profile
from helpers.plots.plot import Axis
from helpers.record.review import alarms, building, drive, failures, loop, reset, rule, signals
from helpers.record.review.kinds import BUILDING, STRATEGY
from helpers.record.review.plants import PLANT_BENCHES
from helpers.record.review.stair_bench import ReviewBench
from helpers.record.standing import mode_found
from helpers.studies.cases import conditions_of
from helpers.studies.report import Finding, Table, passed
from helpers.studies.status import SEVERITIES, folded, headline, word_of
from helpers.units import SYSTEMS
from helpers.units.said import written_out

OUT_OF_WINDOW = ("entered range", "set point fails", "infeasible", "two temperatures")
# Kind of a consequence: kinds of what may have brought it, the likeliest first.
CAUSES = {
    "average hides": OUT_OF_WINDOW,
    "highest leaves": OUT_OF_WINDOW,
    "lowest leaves": OUT_OF_WINDOW,
    "door too heavy": OUT_OF_WINDOW,
    "two scales": ("entered range",),
    "alarms inside": ("entered range",),
    "alarm never": ("entered range",),
    "saturates": ("entered range", "set point fails"),
    "saturates open": ("entered range",),
    "at lowest speed": ("entered range",),
    "set point fails": ("lowest speed", "two temperatures"),
    "infeasible": ("two temperatures",),
    "motor": ("full speed",),
    "integral and ramp": ("robust tuning",),
    "unstable": ("gain of other span", "filter and integral", "robust tuning"),
    "robust tuning": ("gain of other span", "filter and integral"),
    "recovery": ("integral unit", "sleeps", "filter and integral"),
    "sleeps": ("integral unit",),
    "heavy after a door": ("sleeps", "integral unit", "full speed"),
    "short after a door": ("sleeps", "integral unit", "long damping"),
    "swings": ("unstable", "robust tuning", "filter and integral"),
    "last reading": ("fallback",),
    "ramp down unstated": ("ramp down",),
}


def cause_of(key, found):
    """The kind that a finding of a kind follows from, among those found; "" where it stands by itself.

    key: of the finding's kind; found: keys of all kinds found. A cause that itself follows from another is followed up to the first one, so
    that consequences stand under what is to be put right.
    """
    seen, cause = {key}, _next(key, found)
    while cause and cause not in seen:
        seen.add(cause)
        further = _next(cause, found)
        if not further:
            return cause
        cause = further
    return ""


def _next(key, found):
    return next((cause for cause in CAUSES.get(key, ()) if cause in found), "")


ENTRY = "entered range"  # with it wrong, some things are clear that are not once it is put right
# Before all others of their severity, in this order: nothing else matters until they are put right. A set point that does not suit the
# rule comes before what is the building's, since the building is then judged by an entry that is wrong.
FIRST = ("blanks", "mode", "stop in fire", "wrong action", ENTRY, "set point fails")
LATER = ("ramp loads", "sleeps")  # entries that wait for the building
HIDDEN = "hidden by a wrong entry"
NAME_LETTERS = 20  # of a building's name over the picture: what is judged stands behind it and has to have its room
KINDS = (
    *failures.KINDS,
    *alarms.KINDS,
    *drive.KINDS,
    *signals.KINDS,
    *rule.KINDS,
    *building.KINDS,
    *loop.KINDS,
    *building.TUNING_KINDS,
    *drive.STOP_KINDS,
)


@dataclass(frozen=True)
class KindFound:
    """One finding with the key of its kind, and whose it is to mend: of the strategy or of the building."""

    key: str
    finding: Finding
    whose: str = STRATEGY


@dataclass(frozen=True)
class Review:
    """What was found, the most serious first, the kinds that were looked for without a finding, the bench it was found on, and
    the kinds that could not be judged, each with the reason: (title, why)."""

    strategy_name: str
    site_name: str
    system: str
    found: tuple[KindFound, ...]
    clear: tuple[str, ...]
    bench: ReviewBench
    unjudged: tuple[tuple[str, str], ...] = ()

    @property
    def keys(self):
        """Kinds that were found."""
        return tuple(dict.fromkeys(one.key for one in self.found))

    @cached_property
    def findings(self):
        """One finding for each cause, its consequences under it; the most serious first, of equals what is so now before what might be."""
        causes = folded([one.finding for one in self.found])
        return tuple(sorted(causes, key=_gravity))

    def whose(self, finding):
        """Whose a finding is to mend: of the strategy or of the building."""
        return next(one.whose for one in self.found if (one.key, one.finding.what) == (finding.key, finding.what))

    def groups(self):
        """(title, findings) of what is to be put right: what is out now, by whose it is, before what would be after a failure, before what
        somebody has to look at, before what nobody judged; each in the order of `findings`."""
        every = (
            *zip(_WRONG_IN_FULL, (some for _, some in self.wrong_parts()), strict=True),
            (f"To be looked at ({word_of('attention')})", [one for one in self.findings if one.severity == "attention"]),
            (f"Nobody judged it ({word_of('open')})", [one for one in self.findings if one.severity == "open"]),
        )
        return tuple((f"{title}: {len(found)}", tuple(found)) for title, found in every if found)

    def wrong_parts(self):
        """(in few words, findings) of what is FAIL: the three parts of the one count that heads the list and stands in the tiles."""
        wrong = [one for one in self.findings if one.severity == "wrong"]
        now = [[one for one in wrong if not one.possible and self.whose(one) == whose] for whose in (STRATEGY, BUILDING)]
        return tuple(zip(_WRONG, (*now, [one for one in wrong if one.possible]), strict=True))

    def to_do(self):
        """What to do first, in one line of a panel: the remedy, tried on this site, of the first cause that has one short enough, and what
        comes before any entry (in automatic the fan follows it at once); else the place of the list."""
        for _, findings in self.groups()[:-1] or self.groups():
            for one in findings:
                remedy = one.remedy.partition("; ")[0]
                if one.severity == "wrong" and self.whose(one) == STRATEGY and short_remedy(remedy):
                    if self.bench.smoke_control and (worse := self._worse_once_right()):
                        return worse
                    first = "approval first, fan in manual" if self.bench.smoke_control else "fan in manual"
                    return f"Do: {first}: {remedy.partition(' (storey')[0]}"
        wrong = [self.whose(one) for one in self.findings if one.severity == "wrong"]
        if wrong and STRATEGY not in wrong:
            return "Ask: whoever answers for the building; no entry mends it"
        return "Ask: the list under the panel, the most serious first" if self.findings else ""

    def _worse_once_right(self):
        """Whom to ask before an entry that, put right, leaves a door of the building further out than it is, in one line of a panel; ""
        where none does."""
        for one in self.findings:
            has, then, right = one.figure.partition(rule.AS_ON_PLATE)
            if one.severity == "wrong" and then and self.whose(one) == BUILDING:
                pressure, _, names = has.rpartition(", ")[2].partition(" once ")
                door, limit = one.what.partition(",")[0], right.lstrip(", ").partition(",")[0]
                names = names.removesuffix(" is").removesuffix(" are")
                return f"Ask: the designer first: with {names} right, {door[0].lower()}{door[1:]} has {pressure}, {limit}"
        return ""

    @property
    def hidden(self):
        """How many kinds are FAIL once a wrong entry is put right, and clear only as long as it is wrong."""
        return sum(why.startswith(HIDDEN) and f", {word_of('wrong')}: " in why for _, why in self.unjudged)

    @property
    def of_strategy(self):
        """What is found that an entry in the drive mends."""
        return tuple(one.finding for one in self.found if one.whose == STRATEGY)

    @property
    def counted(self):
        """How many things were judged, and how many could not be, in words."""
        judged, left = len(self.clear) + len(self.keys), len(self.unjudged)
        return f"{judged} things that were judged" + (f"; {left} more could not be judged" if left else "")

    def in_system(self, system):
        """The same, written out in one of units.SYSTEMS."""
        told = {name: written_out(getattr(self, name), system) for name in ("found", "clear", "unjudged")}
        return replace(self, system=system, **told)

    def verdict(self):
        """How many findings of each severity, and how many of the grave ones an entry in the drive mends, in a sentence or two."""
        lacks = "".join(f" {word_of('open')}: {one.what}." for one in self.findings if one.key == "blanks")
        if not any(one.finding.severity in ("wrong", "attention") for one in self.found):
            return f"Nothing was found among {self.counted}. That is no proof: check on site.{lacks}"
        mode = f"{mode_found(self.bench.out_of_mode).what}. " if self.bench.out_of_mode else ""
        counted = f"{mode}{headline(self.findings)}, of {self.counted}.{lacks}"
        others = sum(self.whose(one) == BUILDING for one in self.findings if one.severity == "wrong")
        fail, are = word_of("wrong"), "is" if others == 1 else "are"
        entries = [one.what for one in self.findings if one.severity == "wrong" and one.key in FIRST and self.whose(one) == STRATEGY]
        first = f" First put right the entry: {entries[0][0].lower()}{entries[0][1:]}." if entries else ""
        if not others:
            return f"{counted}{first}"
        told = f"{others} {are} the building's, which no entry in the drive mends."
        return f"{counted}{first} {'Judged with it, of' if entries else 'Of'} the {fail} ones {told}"

    def clear_table(self):
        """What was looked for and not found."""
        return Table("clear", "Looked for and not found", ("What",), tuple((title,) for title in self.clear))

    def unjudged_table(self):
        """What was looked for and could not be judged."""
        return Table("unjudged", "Looked for, and could not be judged", ("What", "Why"), self.unjudged)


_WRONG = "Now, an entry mends it", "Now, the building", "Once something fails"
_WRONG_IN_FULL = (
    "Wrong now: an entry in the drive mends it",
    "Wrong now: the building, no entry mends it",
    "Wrong once something fails or changes (reading, alarm, speed, lag)",
)
NO_REMEDY = ("no ", "nothing", "FAIL", "do not", "first ")  # begin a remedy that is none yet
MOST_REMEDY = 12  # words, of a remedy in a panel's line
MOST_LINES = 2  # of a review's picture


def short_remedy(remedy):
    """Whether a remedy is one, and short enough for a line of a panel in every system of units."""
    told = [written_out(remedy, system) for system in SYSTEMS]
    return all(0 < len(one.split()) <= MOST_REMEDY and not one.startswith(NO_REMEDY) for one in told)


def review(strategy, site, system="Pa"):
    """Review a strategy of any plant on the site it is for, written out in one of units.SYSTEMS. Parameters and errors as `reviewed`."""
    return reviewed(strategy, site).in_system(system)


def reviewed(strategy, site):
    """Review a strategy of any plant on the site it is for, for any system of units.

    strategy: one of `kinds.STRATEGY_KINDS`; site: of the kind it is for. Returns `Review`, whose `in_system` writes it out.
    Raises ValueError where the site is of another kind, SiteFileError where the strategy cannot be built on the site at all, such as a
    transmitter on a storey that is not there.
    """
    bench, found, clear = bench_of(strategy, site), [], []
    for kind in kinds_for(strategy):
        seen = tuple(kind.look(bench))
        whose = kind.belongs(bench) if seen else STRATEGY
        fails = kind in failures.KINDS  # what happens after a reading has failed, or under an override, is not so now
        found += [KindFound(kind.key, replace(finding, key=kind.key, possible=fails or finding.possible), whose) for finding in seen]
        clear += [] if seen else [kind]
    whose, keys = {one.key: one.whose for one in found}, {one.key for one in found}
    for place, one in enumerate(found):  # what follows from the building's is the building's, what follows from an entry the strategy's
        cause = cause_of(one.key, keys)
        made = whose.get(cause, one.whose)
        told = _marked(one) if one.whose == made == BUILDING else one.finding
        found[place] = replace(one, finding=replace(told, caused_by=cause), whose=made)
    found.sort(key=lambda one: _gravity(one.finding))
    unjudged = tuple(_unjudged(clear, keys, strategy, bench))
    hidden = {title for title, _ in unjudged}
    clear = tuple(kind.title for kind in clear if kind.title not in hidden)
    return Review(strategy.name, site.name, "", tuple(found), clear, bench, unjudged)


def _unjudged(kinds, found, strategy, bench):
    """(title, why) of the kinds without a finding that are clear for want of something to look at, or only as long as an entry is wrong."""
    righted = bench_of(strategy.model_copy(update={"inputs": bench.entered_rightly}), bench.stated) if ENTRY in found else None
    for kind in kinds:
        missing = kind.missing(bench)
        if missing:
            yield kind.title, f"not stated: {missing}"
        elif righted is not None and (seen := next(iter(kind.look(righted)), None)) is not None:
            yield kind.title, f"{HIDDEN}; once it is put right, {word_of(seen.severity)}: {seen.what}"


def _gravity(finding):
    """Where a finding stands in the order: the most serious first, of equals the entries that come before all else, then what is so now."""
    place = FIRST.index(finding.key) if finding.key in FIRST else len(FIRST)
    return SEVERITIES.index(finding.severity), place, finding.possible


def kinds_for(strategy):
    """What is looked for in a strategy: for a stair everything, for another plant what is not of stairs alone; where requests of zones
    reset the set point, what may be wrong with that too."""
    if isinstance(strategy, Strategy):
        return KINDS
    resets = reset.KINDS if getattr(strategy, "reset", None) is not None else ()
    return (*rule.ELSEWHERE_KINDS, *(kind for kind in KINDS if not kind.stairs_only), *resets)


def bench_of(strategy, site):
    """The bench on which a strategy is looked at. Raises as review."""
    return PLANT_BENCHES.get(type(strategy), ReviewBench)(strategy, site)


def _marked(one):
    """The finding of a `KindFound` with the word that it is the building's."""
    while_so = " as long as no set point suits its doors" * (one.key in LATER)
    return replace(one.finding, why=f"{one.finding.why}; this is the building's{while_so}, no entry in the drive mends it")


def worst_now(bench):
    """What is worst at the places as the strategy is, every reading sound: (sentence of a panel, name of the case); "" for both where every
    place is inside its limits in every case that is to be held.

    bench: a `LoopBench`; `Curves.others`, the final exits of a stair, count as places do.
    """
    found = _worst_place(bench)
    if found is None:
        return "", ""
    case, number, beside = found
    if beside:
        value, limits, where = bench.resting.others[case, number], [ends[number] for ends in bench.other_limits], bench.other_text(number)
    else:
        value, limits, where = bench.resting.places[case, number], [ends[case, number] for ends in _limits(bench)], bench.door_text(number)
    least, most = limits
    return passed(float(value), float(least if value < least else most), bench.dimension, f"at {where}"), bench.cases[case].name


def _worst_place(bench):
    """(case, number of the place, False) of what is furthest out of its limits, of `Curves.others` with True; None where nothing is."""
    held, (least, most) = bench.resting, _limits(bench)
    out = np.where(bench.settled[:, None] & bench.places_there, np.maximum(least - held.places, held.places - most), -np.inf)
    beyond = np.where(bench.settled[:, None], bench.others_out(held), -np.inf)
    if max(out.max(), beyond.max(initial=-np.inf)) <= bench.tolerance_pa:
        return None
    beside = bool(beyond.max(initial=-np.inf) > out.max())
    some = beyond if beside else out
    return (*map(int, np.unravel_index(some.argmax(), some.shape)), beside)


def review_profile(bench):
    """What there is at every place in the cases that are to be held, from the lowest up. Returns `Plot`.

    bench: a `LoopBench`. The fan ends where the strategy takes it, a wrong action included. Cases: that of `worst_now` first, where there
    is one, with its final exits; then the one with the least room above a least, and the one with the least room below a most; two at most.
    """
    chosen = _chosen(bench)
    there = bench.places_there
    least, most = (ends[bench.settled] for ends in _limits(bench))
    ends = (least.max(axis=0), most.min(axis=0))
    name = bench.site.name
    title = f"{name if len(name) <= NAME_LETTERS else f'{name[: NAME_LETTERS - 1]}…'}, the strategy as it is, {bench.settled_words}"
    taps = [(one.name, place) for one, place in zip(bench.strategy.inputs, bench.input_places, strict=True)]
    return profile(
        "review", title, Axis(bench.places_label, bench.dimension), bench.place_names, bench.place_heights(),
        [np.where(np.isfinite(end) & there, end, np.nan) for end in ends], [_profile(bench, place, there) for place in chosen],
        taps, bench.set_point, place=bench.place_label, columns=2, left_px=124, exits=final_exits_shown(bench, chosen[0]),
    )  # fmt: skip


def final_exits_shown(bench, case):
    """A stair's final exits with a limit, in one case as the loop rests, as `charts.profile` draws them; none of another plant."""
    if not isinstance(bench, ReviewBench):
        return ()
    tower, speed = bench.tower, bench.resting.speed_hz[case : case + 1]
    most = bench.allowed.by_storey(tower.levels, "final exit")[1]
    (across,) = tower.solve(conditions_of(bench.site, [bench.cases[case]]), speed).exit_dp_pa
    there = [number for number, storey in enumerate(bench.site.storeys) if storey.final_exit_door and np.isfinite(most[number])]
    return tuple((number, float(across[number]), float(most[number])) for number in there)


def _limits(bench):
    """Least and most of the places [cases, places]."""
    return [np.broadcast_to(ends, bench.resting.places.shape) for ends in bench.limits]


def _chosen(bench):
    """Cases to be drawn, the worst first: more lines than two tangle, and the findings name the others."""
    (least, most), places, there = _limits(bench), bench.resting.places, bench.places_there
    rooms = [np.where(bench.settled[:, None] & there, room, np.inf).min(axis=1) for room in (places - least, most - places)]
    worst = _worst_place(bench)  # the headline's own case is drawn
    first = [] if worst is None else [worst[0]]
    return list(dict.fromkeys([*first, *(int(np.argmin(room)) for room in sorted(rooms, key=np.min))]))[:MOST_LINES]


def _profile(bench, place, there):
    held, tolerance = bench.resting, bench.tolerance_pa
    least, most = (ends[place] for ends in _limits(bench))
    values = held.places[place]
    return Profile(
        bench.cases[place].name.replace(", doors shut", ""), np.where(there, values, np.nan), (values < least - tolerance) & there,
        (values > most + tolerance) & there, np.zeros(len(there), bool), str(held.state[place]), float(held.speed_hz[place]),
        held.tubes_pa[place],
    )  # fmt: skip
