"""The record's table of one stair door open on each storey in turn: a fire may be on any floor, the design counts doors on some. And the
final exit open alone, every stair door shut, as the first to leave opens it, where the design leaves that door out."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from helpers.record.sections.storeys import room_rule_said
from helpers.studies.cases import exits_beyond, has_to_hold
from helpers.studies.readings.rules import RuleResult, compare_rules
from helpers.studies.report import NETWORK, WRONG_FAN, Finding, Table, fine
from helpers.studies.status import word_of, worst_of

KEY, EXIT_ALONE = "one door open", "final exit open alone"
COLUMNS = "Stair door open", "Case of the design", "Worst shut door", "In", "The loop then"


@dataclass(frozen=True)
class OneOpen:
    """One stair door open, storey by storey, by the rule and set point of the file; levels: the storeys; result: `RuleResult` of every case
    with all doors shut, that door open in it; extracts: whether the fan takes air out of the stair."""

    levels: tuple[int, ...]
    result: RuleResult
    extracts: bool = False

    @cached_property
    def worst(self):
        """Place of the worst case of each level: the gravest status, and of equals the least room."""
        found = []
        for level in self.levels:
            places = [place for place, case in enumerate(self.result.cases) if case.open_doors == (level,)]
            grave = worst_of(self.result.status(place) for place in places)
            found.append(min((one for one in places if self.result.status(one) == grave), key=lambda one: self.result.margin_pa[one]))
        return tuple(found)

    def table(self) -> Table:
        """The worst shut door of each storey, judged as every case is."""
        rows = tuple(map(self.row, self.worst))
        states = tuple(self.result.status(place) for place in self.worst)
        note = (
            f"Every weather and warmth of the stair of the cases with doors shut, final exits shut. {room_rule_said()} "
            f"{word_of('attention')}, too, where the loop does not hold its set point in such a case, whatever room is left."
        )
        return Table(KEY, "One stair door open, on each storey in turn", COLUMNS, rows, states, note)

    def row(self, place):
        """Cells of the case in a place: the storey, whether it is of the design, its worst shut door, its name, the loop."""
        found, case = self.result, self.result.cases[place]
        out, room = found.out_in(case), found.margin_pa[place]
        worst = out[0].text() if out else f"{fine(float(room))} to spare" if np.isfinite(room) else "none has a limit"
        return str(case.open_doors[0]), "yes" if found.required[place] else "no", worst, case.name, str(found.state[place])

    def findings(self, shut):
        """The worst storey, where a shut door is then out; shut: keys of findings that stand there with all doors shut, by weather."""
        bad = [place for place in self.worst if self.result.out_in(self.result.cases[place])]
        if not bad:
            return
        place = min(bad, key=lambda one: (self.result.status(one) != "wrong", self.result.margin_pa[one]))
        case = self.result.cases[place]
        levels = _levels_said([int(self.result.cases[one].open_doors[0]) for one in bad])
        other = "the doors, the set point or the fan; no remedy was tried for these cases"
        yield Finding(
            self.result.status(place), f"With one stair door open a shut door is out: door open on storey {levels}, one at a time",
            f"{self.result.out_in(case)[0].text()} ({case.name})",
            f"a fire may be on any storey.{self.result.unasked_said(place)}", NETWORK,
            WRONG_FAN if self.extracts else other, caused_by=shut.get(case.weather, ""),
        )  # fmt: skip


def _levels_said(levels):
    """Storeys in words, those that follow one another as a range: "0 to 3, 7"."""
    runs = []
    for level in sorted(set(levels)):
        if runs and level == runs[-1][-1] + 1:
            runs[-1].append(level)
        else:
            runs.append([level])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)


def one_open(design) -> OneOpen | None:
    """`OneOpen` of a `Design`; None of a stair without a stair door. All storeys are solved in one, once for a design."""
    kept = vars(design)
    if "_one_open" not in kept:
        kept["_one_open"] = _one_open(design)
    return kept["_one_open"]


def _one_open(design):
    site = design.site
    levels = tuple(storey.level for storey in site.storeys if storey.stair_door and storey.stair_door_count)
    cases = [
        replace(case, name=case.name.replace("doors shut", f"stair door {level} open"), open_doors=(level,))
        for level in levels
        for case in design.shut_cases
    ]
    if not cases:
        return None
    (found,) = compare_rules(design.tower, design.standing.window, cases, rules=(site.control.rule,)).results
    return OneOpen(levels, replace(found, required=tuple(has_to_hold(site, case) for case in cases)), site.fan.effect == "exhaust")


def exit_alone(design) -> tuple[Finding, ...]:
    """The `Finding` of a `Design`'s final exits open with every stair door shut, in a tuple, where the design leaves them out and a door is
    out then; () else. Weathers and warmths of the stair as with doors shut; the rule and set point of the file."""
    beyond = exits_beyond(design.site, design.own.cases)
    exits = tuple(dict.fromkeys(level for case in beyond for level in case.open_exits))
    if not exits:
        return ()
    said = f"final exit {', '.join(map(str, exits))} open alone"
    cases = [replace(case, name=case.name.replace("doors shut", said), open_exits=exits) for case in design.shut_cases]
    (found,) = compare_rules(design.tower, design.standing.window, cases, rules=(design.site.control.rule,)).results
    found = replace(found, required=(False,) * len(cases))
    bad = [place for place, case in enumerate(cases) if found.out_in(case)]
    if not bad:
        return ()
    place = min(bad, key=lambda one: (found.status(one) != "wrong", found.margin_pa[one]))
    state, out = found.status(place), found.out_in(cases[place])
    would = f" (NOT REQUIRED: would {word_of('wrong')})" * (state == "attention")
    figure = f"{out[0].text()} ({cases[place].name}); {len(out)} out; the loop then: {found.state[place]}"
    why = "the first to leave by it opens it, whatever stair doors do"
    remedy = "whether the exit counts as open, the authority decides (enquiry list); its closer, a lobby before it; no fan was tried"
    what = f"With the final exit open alone, every stair door shut, a shut door is out{would}"
    return (Finding(state, what, figure, why, NETWORK, remedy, key=EXIT_ALONE),)
