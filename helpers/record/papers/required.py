"""What the design has to hold and the record's usual cases do not show: its own open doors in every weather, with one of them shut as well.

The record's tables of cases and doors show the cases looked at; the judge of the set point holds these besides, and one of them may govern.
"""

from dataclasses import replace

import numpy as np

from helpers.record.sections.building import cases_table
from helpers.record.sections.rule import doors_table
from helpers.studies.cases import same_but_stair_air

ADDED = "Required besides, and judged with the set point"
BY_STATED = "By the fan stated."
BY_ENOUGH = "By a fan that is enough, as the stated one does not hold every required case."


def required_besides(design):
    """The cases that a `Design` has to hold and that are not among its own; empty where it states no open doors, or they are."""
    return tuple(case for case in design.standing.required if case not in design.cases)


def required_cases(design):
    """`Table` of these cases, as the record's of the cases looked at; None where there are none."""
    cases = required_besides(design)
    return cases_table(design.site, cases, "required cases", f"{ADDED}: cases") if cases else None


def required_doors(design):
    """`Table` of the pressure across every stair door in these cases, by the rule and the set point of the site file, as it was judged
    there; None where there are none. Limits: as the judge's, a case that is not held at all is said in its note."""
    result, besides = design.standing.required_result, set(required_besides(design))
    groups = [group for group in same_but_stair_air(result.cases) if besides.issuperset(result.cases[place] for place in group)]
    if not groups:
        return None
    table = doors_table(result, design.tower.levels, groups)
    places = np.concatenate(groups)
    lost = [result.cases[place].name for place in places if result.state[place] != "held"]
    note = f"{table.note} {BY_STATED if design.standing.fan_holds else BY_ENOUGH}"
    note += f" Not held at the set point: {'; '.join(lost)}." if lost else ""
    states = tuple("wrong" if lost and state == "good" else state for state in table.states)
    return replace(table, key="required doors", title=f"{ADDED}: pressure across every stair door", states=states, note=note)


BESIDES = {"required/cases": required_cases, "required/doors": required_doors}  # by the place that a paper names
