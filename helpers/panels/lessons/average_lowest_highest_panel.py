"""The panel of lesson 06: what each rule does to every door, with doors open, in any weather, and with one transmitter wrong."""

from functools import cache

import numpy as np

from helpers import units
from helpers.panels.controls import Choice, Slider
from helpers.panels.panel import Panel
from helpers.panels.picture import Picture
from helpers.panels.profile import ProfileDrawing, crossed
from helpers.panels.style import Series, series
from helpers.panels.verdict import Verdict
from helpers.studies.cases import AFTER_AN_HOUR, AS_STATED, FIRST_MINUTE
from helpers.studies.figures import fine, inside_text, listed
from helpers.studies.pictures import PressureProfile, Profile
from helpers.studies.rule_faults import FAULTS, NO_FAULT, RULES, DoorsOpen, ReadingFault, rule_bench
from helpers.studies.status import at_one_temperature, word_of, worst_of

__all__ = ["CASES", "FAULT_CHOICES", "RULE_CHOICES", "STAIR_CHOICES", "RulesDrawing", "rules_panel"]

RULE_CHOICES = {
    "average of two": "average",
    "lowest of two": "lowest",
    "highest of two": "highest",
    "weighted, lower one twice": "weighted",
    "middle of three": "middle",
}
CASES = {
    "all shut": DoorsOpen(),
    "levels 6 and 7 open": DoorsOpen((6, 7)),
    "levels 1 and 2 open": DoorsOpen((1, 2)),
    "levels 12 and 13 open": DoorsOpen((12, 13)),
    "6, 7 and the street door": DoorsOpen((6, 7), (0,)),
}
FAULT_CHOICES = {
    "none": NO_FAULT,
    "lower one's tube off": ReadingFault("tube off", 0),
    "upper one's tube off": ReadingFault("tube off", 1),
    "lower one stuck": ReadingFault("stuck", 0),
    "upper one stuck": ReadingFault("stuck", 1),
    "upper wire open, left out": ReadingFault("left out", 1),
    "upper wire open, counted": ReadingFault("counted", 1),
}
STAIR_CHOICES = {"as the site file has it": AS_STATED, "first minute, as the rooms": FIRST_MINUTE, "after an hour": AFTER_AN_HOUR}
ROOM_PA = (-25.0, 105.0)  # holds every profile from the coldest to the warmest day, at any speed
THIN = 1.3
PICTURE_PX = 440  # leaves room for the verdict on a small projector


@cache
def rules_panel():
    """The panel, one in a notebook."""
    rule_bench().prepare(CASES.values())
    controls = {
        "outdoor_c": Slider("Outdoors", "temperature", -25.0, 35.0, 1.0, -9.0),
        "set_point_pa": Slider("Set point", "pressure", 20.0, 70.0, 1.0, 40.0),
        "rule": Choice("Fan follows", RULE_CHOICES),
        "opened": Choice("Doors", CASES),
        "stair": Choice("Stair air", STAIR_CHOICES),
        "fault": Choice("Wrong reading", FAULT_CHOICES),
        "stuck_pa": Slider("Stuck at", "pressure", 0.0, 100.0, 1.0, 50.0),
    }
    controls["stuck_pa"].shown = False

    def prepare(moved):
        controls["stuck_pa"].shown = controls["fault"].value.kind == "stuck"

    return Panel(controls, Picture(RulesDrawing(key_columns=2), height_px=PICTURE_PX), _answer, prepare)


class RulesDrawing(ProfileDrawing):
    """The profile of the chosen rule, and thin beside it those of the others; only the chosen one has crosses."""

    def frame(self, data):
        """Another chosen rule has other looks."""
        return (*super().frame(data), data.rule)

    def move(self, data):
        """As every profile, and crosses for the chosen one alone."""
        super().move(data)
        self.out.set_data(*crossed(_chosen(data), data.heights))
        for profile, words in zip(data.profiles, self.words, strict=True):
            words.say(f"{profile.label}; {profile.state}")  # no figures: words that change at every move take long to draw

    def _looks(self, data):
        looks = [series(place) for place in range(len(data.profiles))]
        return [look if rule == data.rule else _Thin(look.colour, look.line, "") for rule, look in zip(RULES, looks, strict=True)]

    def _room(self, data):
        return tuple(units.to_display(np.array(ROOM_PA), "pressure", _system_of(data)).tolist())


class _Thin(Series):
    """Looks of a rule that was not chosen."""

    @property
    def plotted(self):
        return super().plotted | {"linewidth": THIN}


def _chosen(data):
    return data.profiles[RULES.index(data.rule)]


def _system_of(data):
    return next(system for system in units.SYSTEMS if data.x_label.endswith(f"[{units.unit_label('pressure', system)}]"))


def _answer(system, outdoor_c, set_point_pa, rule, opened, stair, fault, stuck_pa):
    if fault.kind == "stuck":
        fault = ReadingFault("stuck", fault.number, stuck_pa)
    bench = rule_bench()
    found = dict(zip(RULES, bench.ruled(outdoor_c, set_point_pa, opened, fault, stair=stair), strict=True))
    works = bench.set_points_pa(outdoor_c, opened, rule, fault, stair)
    early = dict(zip(RULES, bench.ruled(outdoor_c, set_point_pa, opened, fault, stair=FIRST_MINUTE), strict=True))
    first = "" if stair == FIRST_MINUTE else _early_said(bench.set_points_pa(outdoor_c, opened, rule, fault, FIRST_MINUTE), works, system)
    return _verdict(found, rule, opened, fault, works, early, first, system), _profile(found, rule, opened, set_point_pa, system)


def _profile(found, rule, opened, set_point_pa, system):
    """Data of the picture: all rules, in their order."""
    bench = rule_bench()
    tower = bench.tower
    least, most = bench.window.by_storey(tower.levels, "stair door")

    def shown(values):
        return units.to_display(np.asarray(values, float), "pressure", system)

    standing_open = np.isin(tower.levels, opened.stair)
    profiles = tuple(
        Profile(_labelled(one), shown(np.where(standing_open, np.nan, one.storeys_pa)), *one.out,
                standing_open, one.state, one.speed_hz, shown(one.true_pa))
        for one in found.values()
    )  # fmt: skip
    return PressureProfile(
        "rules", f"{bench.site.name}: every shut stair door, rule by rule", "",
        f"Pressure across the stair door [{units.unit_label('pressure', system)}]", "Storey", rule,
        tuple(map(str, tower.levels)), np.asarray(tower.elevation_m), shown(least), shown(most), profiles,
        tuple(tap.name for tap in bench.transmitters), tuple(tower.storey(tap.level) for tap in bench.transmitters),
        float(shown(set_point_pa)),
    )  # fmt: skip


def _labelled(one):
    name = {"weighted": "weighted 2:1", "middle": "middle of three"}.get(one.rule, one.rule)
    return f"{name}: {'all doors inside' if one.inside else f'a door too {one.worst.too}'}"


def _verdict(found, rule, opened, fault, works, early, first, system):
    """early: `Ruled` of each rule in the first minute, shown only where it is asked for; first: which set points do then, as a clause."""
    one, then = found[rule], early[rule]
    told = f"{_loop_said(one, fault, system)} {_doors_said(one, system)} {_works_said(works, rule, fault, first, system)}"
    others = [name for name in RULES if name != rule and found[name].inside]
    also = _also_early(others, early)
    beside = f"With this set point all doors are inside under {listed(others)} as well{also}." if others else ""
    instead = (
        f"At this set point {listed(others)} would keep every door inside{also}." if others else "At this set point no other rule does."
    )
    words = " ".join(filter(None, (told, beside if one.inside else instead, _first_minute_said(one, then, system))))
    if not one.inside:
        code = "" if opened == DoorsOpen() else " Which doors stand open in the design, the local code and the approved design say."
        return Verdict(one.status, f"{words}{code}")
    kept = at_one_temperature(one.status, then.status)
    return Verdict(kept if fault == NO_FAULT else worst_of([kept, "attention"]), words)


def _first_minute_said(one, early, system):
    """What the first minute does to a door that is inside at the temperature shown; nothing where all is as well there."""
    if early.inside or not one.inside:
        return ""
    means = early.worst.column.means(early.worst.too)
    return (
        f"That is with the stair at one temperature: in the first minute, as warm as the rooms, {word_of(early.status)}: "
        f"{early.worst.text(system)}, {means}."
    )


def _loop_said(one, fault, system):
    """What the loop does and what its display says; with a fault, what is there in truth."""
    speed = units.show(one.speed_hz, "frequency", system)
    reading = units.show(one.reading_pa, "pressure", system) if one.state == "held" else fine(one.reading_pa, system)
    runs = {
        "at full speed": f"at full speed, {speed}, and can do no more",
        "at lowest speed": f"at its lowest speed, {speed}, and can do no less",
    }.get(one.state, f"at {speed}")
    said = f"The fan runs {runs}; the display shows {reading}"
    if fault == NO_FAULT:
        return f"{said} now."
    true = [units.show(value, "pressure", system) for value in one.true_pa[:2]]
    left = ""
    if fault.kind == "left out":
        left = " This is the rule without that reading; what the site agrees for a failed one differs: see the card, and the record."
    third = f", and {units.show(one.true_pa[2], 'pressure', system)} at the third" if one.rule == "middle" else ""
    there = f"{true[0]} at the lower transmitter and {true[1]} at the upper one{third}"
    return f"Fault: {FAULTS[fault.kind]}. {said}, while there are {there}.{left}"


def _doors_said(one, system):
    """The price: of the worst door where one is out, else of the heaviest and the weakest."""
    if one.inside:
        return f"Every shut door is inside. Heaviest: {one.heaviest.text(system)}. Weakest: {one.weakest.text(system)}."
    means = one.worst.column.means(one.worst.too)
    other = one.weakest if one.worst.too == "high" else one.heaviest
    return f"Worst: {one.worst.text(system)}: {means}. At the other end: {other.text(system)}."


def _early_said(works, now, system):
    """Which set points do in the first minute, as a clause beside those that do now; nothing where they are the same."""
    if works is None:
        return "" if now is None else ", in the first minute none does"
    text = inside_text(*works, system)
    return "" if now is not None and text == inside_text(*now, system) else f", in the first minute {text}"


def _also_early(others, early):
    """Which of the rules that keep every door inside do so in the first minute, too, as a clause; nothing where all do."""
    kept = [name for name in others if early[name].inside]
    if len(kept) == len(others):
        return ""
    return f", in the first minute {listed(kept) if kept else 'none of them' if len(others) > 1 else 'not'}"


def _works_said(works, rule, fault, first, system):
    """What keeps every door inside as shown, and what does in every weather as the record asks for it: one figure with the record's."""
    if works is None:
        return f"No set point keeps every door inside with this rule now{first}."
    if fault != NO_FAULT:
        return f"With this fault only {inside_text(*works, system)} would keep every door inside{first}: put the transmitter right."
    recorded = rule_bench().recorded_pa(rule)
    always = (
        ""
        if rule == "weighted"
        else f"; in every weather and at every warmth of the stair {'none' if recorded is None else inside_text(*recorded, system)}"
    )
    return f"With this rule a set point of {inside_text(*works, system)} keeps every door inside{first}{always}."
