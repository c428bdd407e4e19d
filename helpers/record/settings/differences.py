"""Somebody's list of settings against the settings schedule, line by line: same, other, missing, dangerous.

Figures are compared in the digits they are written in, whatever their unit; a gain by what the fan does for a pascal, so that another span
is no other gain. A line that differs is dangerous where the record itself speaks against what was entered (set point, rule, gain and
integral time are put into the site and judged anew), or where data/texts/differences.toml says so of its kind. What the record has failed
or not laid down is never "same". Limits: words are compared as words; what a device does under a name that is not ours, nobody knows.
"""

import tomllib
from contextlib import suppress
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cached_property
from math import inf
from pathlib import Path

from helpers.formulas.combining import RULES
from helpers.model.files import endless, text_of, texts
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import read_site
from helpers.model.site.tolerances import boxes
from helpers.record.design import Design
from helpers.record.sections.signed import design_schedule
from helpers.record.settings.entered import MOST_BYTES, EnteredLine, EnteredList, read_list
from helpers.record.settings.fallback_lines import beyond_the_doors
from helpers.record.settings.figures import (
    OFF,
    differ,
    doubt,
    in_unit_of,
    other_way_round,
    plain,
    quantities,
    refusals,
    same_words,
    words_of,
)
from helpers.record.settings.schedule import FAIL, NOT_STATED
from helpers.record.standing import NOT_ENTERED, NOT_LAID_DOWN
from helpers.studies.readings.failures import FALLBACKS, KEEP
from helpers.studies.readings.words import against_said
from helpers.studies.report import Setting, Table
from helpers.units.said import written_out

DANGEROUS, OTHER, MISSING, SAME = GRAVEST_FIRST = "dangerous", "other", "missing", "same"
STATES = {SAME: "good", OTHER: "attention", MISSING: "open", DANGEROUS: "wrong"}
PAIRS = (("gain", "or proportional band"), ("integral time", "or integral rate"))  # one thing said in two ways
TO_DO = (NOT_STATED, "to be agreed", "to be read off", "cannot be seen")  # the schedule itself has no value for these
LACKS = 0  # a figure of the schedule that the list does not give
SPEEDS = ("speed of the override", "fallback speed", "highest speed", "highest speed in smoke control")
LATE = {"lag of the transmitter": "response_s", "damping at the transmitter's dial": "damping_s", "lag of its tubes": "tube_lag_s"}
WORDS_ALONE = ("signal type", "hash of the site file's figures")  # figures in them are names, not sizes
# Lines of the schedule that nobody enters: what it holds for, and what is only told. Held against a list that names them.
NOT_ENTRIES = (
    "where it reads", "the fan that all of this holds for", "relief damper", "proof that the relief damper moves", "brake", "second fan",
    "second pressurised shaft", "second shaft's fan", "second shaft's speed command", "second shaft's whole output", "second shaft's ramp",
    "standby power", "alarms leave room for", "what no alarm tells", "entered by", "read back and proved by", "witnessed by")  # fmt: skip


@dataclass(frozen=True)
class Difference:
    """One line: ours, theirs (None where they have none), one of GRAVEST_FIRST, and why in words."""

    ours: Setting
    theirs: EnteredLine | None
    kind: str
    why: str


@dataclass(frozen=True)
class Stranger:
    """A line of a list that is none of the schedule; near: the nearest name, "" for none; danger: why it may not stay, or ""."""

    line: EnteredLine
    near: str
    danger: str


@dataclass(frozen=True)
class Differences:
    """All lines of a schedule with what stands against them; not_ours: lines of the list that are none of the schedule; not_read: what
    of the list could not be read, a sentence each."""

    site_name: str
    list_name: str
    lines: tuple[Difference, ...]
    not_ours: tuple[Stranger, ...]
    not_read: tuple[str, ...]

    def count(self, kind):
        """How many lines are of a kind, lines of the list that the schedule does not have among the dangerous."""
        return sum(line.kind == kind for line in self.lines) + (kind == DANGEROUS) * sum(bool(one.danger) for one in self.not_ours)

    def verdict(self):
        """All counts in a sentence, the gravest first."""
        told = ", ".join(f"{self.count(kind)} {kind}" for kind in GRAVEST_FIRST)
        beside = f"; {len(self.not_ours)} of the list are no lines of the schedule" if self.not_ours else ""
        unread = f"; {len(self.not_read)} could not be read" if self.not_read else ""
        return f"{self.list_name} against the settings schedule of {self.site_name}: {told}{beside}{unread}."

    def table(self):
        """The lines as a `Table`, the dangerous first, then other, missing, same; each in the order of the schedule."""
        order = sorted(self.lines, key=lambda line: GRAVEST_FIRST.index(line.kind))
        rows = tuple((line.kind, line.ours.group, line.ours.name, line.ours.value, line.theirs.value if line.theirs else "", line.why,
                      line.theirs.where if line.theirs else "") for line in order)  # fmt: skip
        heads = "Verdict", "What", "Setting", "As the record has it", "As entered", "Why", "Where it stands"
        note = "Entered on paper is not yet entered in the device: read back, and prove with injected signals."
        return Table("differences", "Differences", heads, rows, tuple(STATES[line.kind] for line in order), note)

    def strangers(self):
        """Lines of the list that are none of the schedule, as a `Table`."""
        told = sorted(self.not_ours, key=lambda one: not one.danger)
        rows = tuple((f"{DANGEROUS}: {one.danger}" if one.danger else "nobody", one.line.group, one.line.name, one.line.value, one.near,
                      one.line.where) for one in told)  # fmt: skip
        states = tuple("wrong" if one.danger else "open" for one in told)
        heads = "Judged by", "What", "Setting", "As entered", "Nearest line", "Where"
        return Table("not_ours", "Not in the schedule", heads, rows, states)


def differences(design, entered: EnteredList) -> Differences:
    """Hold an `EnteredList` against the schedule of a `Design`.

    A setting that stands twice with two values is dangerous: nobody knows which one is in the device.
    """
    ours = design_schedule(design)
    judge = _AgainstRecord(design, ours)
    named = {_key(line.group, line.name): line for line in ours}
    theirs, not_ours = {}, []
    for line in entered.lines:
        key = _key(line.group, line.name) if line.group else _only(named, line.name)
        if key in named:
            theirs.setdefault(key, []).append(line)
        else:
            not_ours.append(Stranger(line, _nearest(named, line), judge.stops(f"{line.group} {line.name}", line.value)))
    judge.take({named[key]: lines[0] for key, lines in theirs.items()})
    lines = tuple(judge.line(one, theirs.get(key, [])) for key, one in named.items())
    given = {line.ours.name for line in lines if line.theirs is not None}
    spared = {name for pair in PAIRS if given & set(pair) for name in pair}
    lines = tuple(line for line in lines if line.kind != MISSING or line.ours.name not in (*spared, *NOT_ENTRIES))
    return Differences(design.site.name, entered.name, lines, tuple(not_ours), entered.not_read)


def as_list(design) -> EnteredList:
    """The schedule of another `Design` as a list of what was entered, so that two records can be held against each other."""
    where = f"record of {design.site.name}"
    lines = (EnteredLine(line.group, line.name, written_out(_as_filed(line), "Pa"), where) for line in design_schedule(design))
    return EnteredList(where, tuple(line for line in lines if line.name not in NOT_ENTRIES), ())


def held_list(path: str | Path) -> EnteredList:
    """What to hold against a schedule: somebody's list (`read_list`), or, of a site file, the schedule of its own record."""
    path = Path(path)
    if path.suffix.lower() == ".toml" and "storeys" in _keys(path):
        return as_list(Design(read_site(path)))
    return read_list(path)


def _keys(path):
    with suppress(tomllib.TOMLDecodeError, RecursionError):  # told by whoever reads it as a list
        return () if endless(text := text_of(path, MOST_BYTES)) else tomllib.loads(text).keys()
    return ()


def _key(group, name):
    return " ".join(group.casefold().split()), " ".join(name.casefold().split()).removeprefix("or ")


def _only(named, name):
    """The key of a line named without its group, where one line alone has that name."""
    found = [key for key in named if key[1] == _key("", name)[1]]
    return found[0] if len(found) == 1 else None


def _nearest(named, line):
    """The line of the schedule that has all words of a name, else the one that is written most alike; "" for none."""
    group, name = _key(line.group, line.name)
    with_all = [key for key in named if key[0] == group and words_of(name) and words_of(name) <= words_of(key[1])]
    near = with_all or get_close_matches(f"{group} / {name}", [" / ".join(key) for key in named], 1, 0.75)
    return (" / ".join(near[0]) if with_all else near[0]) if near else ""


class _AgainstRecord:
    """Says of each line what it is; what the site file can hold is entered there and judged by the record."""

    def __init__(self, design, ours):
        self.design, self.site, self.ours = design, design.site, ours
        self.rules, self.known, self.entered = texts("differences")["line"], boxes(design.site), {}
        self.stopping = texts("differences")["stop"]

    def take(self, entered):
        """What is entered, by line of the schedule."""
        self.entered = {(line.group, line.name): theirs.value for line, theirs in entered.items()}

    def line(self, ours, several):
        """The `Difference` of one line of the schedule."""
        if not several:
            later = "" if _has_value(ours) else "; nor is it laid down yet"
            return Difference(ours, None, MISSING, f"the list says nothing of it{later}")
        first, others = several[0], {" ".join(one.value.casefold().split()) for one in several}
        if len(others) > 1:
            values = "; ".join(f"{one.value} ({one.where})" for one in several)
            return Difference(ours, first, DANGEROUS, f"it stands twice, with different values: {values}")
        return Difference(ours, first, *self._compared(ours, first.value))

    def stops(self, what, value):
        """Why a setting that stops the fan may not stay in smoke control, in words; "" for one that does not, or out of smoke control."""
        named, says = (words_of(plain(written_out(text, "Pa")).replace("end stop", "end")) for text in (what, value))
        does, causes = set(self.stopping["does"]), set(self.stopping["causes"])
        off = plain(value) in OFF and bool(named & does)  # the stop itself is switched off
        stop = bool((named | says) & does) and bool((named | says) & causes) and not off and not (refusals(value) - does)
        return self.stopping["why"] if stop and self.site.control.fire_mode else ""

    def _compared(self, ours, value):
        late = self._late(ours)
        if ours.group == "failure" and not self.stops("", _as_filed(ours)) and (stop := self.stops(f"failure {ours.name}", value)):
            return DANGEROUS, stop
        if late is not None:
            return self._within(late, value)
        if ours.value.startswith(f"{FAIL}: "):
            return self._against_failed(ours, value)
        beyond = self._beyond(ours, value)
        if ours.value.startswith(NOT_LAID_DOWN):
            against = beyond or self._by_record(ours)
            nothing = f"the record has {ours.value}; nothing to hold it against, and nothing to enter yet"
            return (DANGEROUS, against) if against else (OTHER, nothing)
        if ours.value.startswith(TO_DO):
            open_yet = f"the record leaves it open ({plain(ours.value)}); agree it and write it down"
            rules = [one for one in self.rules if one["danger"] == "other" and refusals(value) - refusals(ours.value)]
            against = beyond or next((one["why"] for one in rules if self._meant(one, ours)), "")
            return (DANGEROUS, against) if against else (OTHER, open_yet)
        return self._differs(ours, value)

    def _against_failed(self, ours, value):
        if self._same(_as_filed(ours), value, ours)[0]:
            return DANGEROUS, f"the record fails this very value: {ours.why}"
        against = self._by_record(ours) or self._beyond(ours, value)
        anew = "the record fails its own value; put this one into the site file and judge it anew"
        return (DANGEROUS, against) if against else (OTHER, anew)

    def _differs(self, ours, value):
        same, sign, told = self._same(ours.value, value, ours)
        if same:
            return SAME, told
        if against := self._by_record(ours):
            return DANGEROUS, against
        rule = next((one for one in self.rules if self._meant(one, ours)), None)
        if rule is not None and sign == LACKS:
            return (DANGEROUS, f"{rule['lacks']}; {told}") if "lacks" in rule else (OTHER, told)
        ways = {"higher": (1, None), "lower": (-1, None)}  # None: a word in place of a figure
        if rule is not None and sign in ways.get(rule["danger"], (sign,)):
            return DANGEROUS, "; ".join(filter(None, (rule["why"], told)))
        return OTHER, told or "other words: ask what they mean in this device"

    def _meant(self, rule, line):
        group = "transmitter" if line.group in {tap.name for tap in self.site.transmitters} else line.group
        begins = rule["name"].removesuffix("*")
        return rule["group"] == group and (line.name == rule["name"] or (begins != rule["name"] and line.name.startswith(begins)))

    def _same(self, ours_text, value, line):
        """(whether alike; sign of the first figure that differs, LACKS for one that is not given, None for words; what is to be said)."""
        if other_way_round(ours_text, value):
            return False, None, "its words stand the other way round"
        if refused := refusals(value) - refusals(ours_text):
            return plain(value) in OFF and plain(ours_text) in OFF, None, f"it says {', '.join(sorted(refused))}"
        ours, theirs = quantities(ours_text), quantities(value)
        if not ours or not theirs or line.name in WORDS_ALONE:
            alike, words = same_words(ours_text, value), not ours or line.name in WORDS_ALONE or plain(value) in OFF
            return (alike, None, "") if theirs or words or not alike else (False, LACKS, f"the list says nothing of {ours[0].text}")
        if doubtful := doubt(value, ours_text):
            return False, None, doubtful
        if len(theirs) > len(ours):
            return False, None, f"{theirs[len(ours)].text} is one figure more than the schedule has"
        theirs = [in_unit_of(mine, one) for mine, one in zip(ours, theirs, strict=False)]
        told = []
        if line.name in ("gain", "or proportional band") and (ratio := self._span_ratio(theirs)) != 1.0:
            scale = ratio if line.name == "gain" else 1 / ratio
            theirs[0] = replace(theirs[0], value=(scaled := theirs[0].value * scale), half_digit=theirs[0].half_digit * scale)
            told.append(f"on the span of the schedule it is {scaled:.3g} %")
            theirs, ours = theirs[:1], ours[:1]
        signs = []
        for mine, one in zip(ours, theirs, strict=False):
            if mine.dimension != one.dimension:
                return False, None, f"{one.text} stands where the schedule has {mine.text}"
            if differ(mine, one):
                signs.append(1 if one.value > mine.value else -1)
            told += [f"{one.text} in place of {mine.text}"] if differ(mine, one) else [one.text] * ("(taken in" in one.text)
        if signs:
            return False, signs[0], "; ".join(told)
        if len(theirs) < len(ours) and line.name not in ("gain", "or proportional band"):
            return False, LACKS, f"the list says nothing of {ours[len(theirs)].text}"
        return True, None, "; ".join(told)

    def _span_ratio(self, theirs):
        """Span of the schedule by the one that the entered gain is of: stated beside it, else by the entered ends of the first reading."""
        tap = self.site.transmitters[0]
        span = tap.range_high_pa - tap.range_low_pa
        stated = [one.value for one in theirs[1:] if one.dimension == "pressure"]
        if not stated:
            ends = [quantities(self.entered.get((tap.name, f"display at the {end} end of the signal"), "")) for end in ("low", "high")]
            stated = [ends[1][0].value - ends[0][0].value] if all(ends) else []
        return span / stated[0] if stated and 0 < stated[0] < inf and abs(stated[0] / span - 1) > 0.01 else 1.0

    def _late(self, line):
        """The box of a delay that the schedule leaves to be read off; None for another line."""
        if not line.value.startswith("to be read off"):
            return None
        if line.name in LATE:
            number = next(place for place, tap in enumerate(self.site.transmitters) if tap.name == line.group)
            return self.known[f"transmitters.{number}.{LATE[line.name]}"]
        return self.known[{"input scan": "control.input_scan_s", "bus or radio delay": "control.bus_delay_s"}[line.name]]

    def _within(self, box, value):
        tried = f"the tuning was tried with {box.low:g} to {box.high:g} s"
        found = quantities(value)
        if doubtful := doubt(value):
            return DANGEROUS, f"{doubtful}; {tried}"
        seconds = 0.0 if plain(value) in OFF else found[0].value if found and found[0].dimension in ("time", "") else None
        if seconds is None:
            return OTHER, f"no time in seconds; {tried}"
        if seconds > box.high:
            return DANGEROUS, f"later than anything the tuning was tried with: {tried}"
        return SAME, f"not stated in the site file; {tried}"

    def _beyond(self, line, value):
        """Why a speed of `SPEEDS` is beyond what doors bear, in words; "" where it is not, or for another line."""
        found = quantities(value)
        if line.name not in SPEEDS or not found or found[0].dimension != "frequency":
            return ""
        return beyond_the_doors(self.design.duty.full, found[0].value)

    def _by_record(self, line):
        """What the record says against what is entered, put into the site and judged anew; "" where it says nothing or cannot hold it."""
        where = {("loop", "set point"): self._set_point, ("combining", "which reading runs the loop"): self._rule,
                 ("failure", "on a failed reading"): self._fallback}  # fmt: skip
        if (line.group, line.name) in where:
            return where[line.group, line.name]()
        if line.group == "loop" and line.name in ("gain", "integral time", "or proportional band", "or integral rate"):
            return self._tuning
        return ""

    def _set_point(self):
        found = quantities(value := self.entered["loop", "set point"])
        if doubtful := doubt(value):
            return doubtful
        if not found or found[0].dimension != "pressure":
            return "it is no pressure with its unit"
        return self._judged({"set_point": found[0].value}, lambda tried: tried.standing.set_point_against())

    def _rule(self):
        words = words_of(self.entered["combining", "which reading runs the loop"])
        rule = next((rule for rule in RULES if set(rule.split()) <= words), None)
        return self._judged({"rule": rule}, lambda tried: tried.standing.set_point_against()) if rule else ""

    def _fallback(self):
        """What the record's study of failed readings says against the way entered; "" for one it does not know, or one that it bears."""
        value = self.entered["failure", "on a failed reading"]
        words, study = words_of(value), self.design.fallback
        name = next((way for way in FALLBACKS if words_of(way) <= words), KEEP if words & {"keep", "hold", "last"} else None)
        speed = next((one.value for one in quantities(value) if one.dimension == "frequency"), None)
        way = study.as_stated(name, speed) if name else None
        if way is None or way.state != "wrong":
            return ""
        return f"judged by the record: {'; '.join(against_said(study, way)) or f'worst door {way.worst.text()}'}"

    def _judged(self, choices, judge):
        try:
            tried = self.design.but(**choices)
            against = judge(tried)
        except ValueError as refusal:
            return str(refusal)
        return f"judged by the record: {'; '.join(against)}" if against else ""

    @cached_property
    def _tuning(self):
        """What speaks against the entered gain and integral time, both together; the schedule's own for the one that is not entered."""
        tuned, changed = self.design.tuned, {}
        gain, band = (quantities(self.entered.get(("loop", name), "")) for name in PAIRS[0])
        integral, rate = (quantities(self.entered.get(("loop", name), "")) for name in PAIRS[1])
        percent = gain[0].value if gain else 100 / band[0].value if band and band[0].value else None
        seconds = integral[0].value if integral else 60 / rate[0].value if rate and rate[0].value else None
        if percent is not None:
            changed["gain"] = percent * self._span_ratio(gain or band)
        if seconds is not None:
            changed["integral_time_s"] = seconds
        if tuned is not None:
            changed = {"gain": tuned.gain, "integral_time_s": tuned.integral_s} | changed
        with suppress(SiteFileError, ValueError):
            tried = Design(self.site.with_changes(control=changed)).tuning.own
            both = "gain and integral time together, as entered" if gain or band else "the integral time as entered, with the record's gain"
            return f"judged by the record, {both}: {'; '.join(tried.against)}" if tried.against else ""
        return "the record cannot judge it: it refuses such a gain or integral time"


def _as_filed(line):
    """The value of a line as the site file has it."""
    return line.value.removeprefix(f"{FAIL}: ").split(f" is the file's, {NOT_ENTERED}")[0]


def _has_value(line):
    return not line.value.startswith((f"{FAIL}: ", NOT_LAID_DOWN, *TO_DO))
