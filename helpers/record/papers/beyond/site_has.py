"""What a site may have, and whether the one of a paper has it: entries of the files of words hold `only` for some of it."""

from helpers.model.site.criteria import criteria_of
from helpers.model.site.second_shaft import OWN_LOOP
from helpers.record.board import state_of
from helpers.record.papers.beyond.stated import strategy_there
from helpers.record.papers.points import falling_back
from helpers.record.standing import ACTION, FAN, RAMP, SET_POINT
from helpers.studies.readings.words import ALARM_ONLY

INTAKE, NOT_BUILT = "intake damper", "not built"


def reading_at_supply(site):
    """Levels of the storeys on which a reading hangs and air enters or leaves: a tube end in the jet of an outlet reads the jet."""
    return {tap.level for tap in site.transmitters} & {supply.level for supply in site.supplies}


def not_built(quoted, key):
    """Whether an answer to that question of the enquiry list says that what it asks about is not built."""
    given = {} if quoted.answers is None else quoted.answers.by_question()
    return key in given and NOT_BUILT in given[key].answer.lower()


def site_has(quoted, failed, differ):
    """{what a site may have: whether the one that is `Quoted` has it}; failed, differ: (group, name) of its schedule's lines on a failed
    reading and on the alarm on the difference of two."""
    several, damper = len(quoted.site.transmitters) > 1, quoted.site.stair.relief is not None
    two, shaft = quoted.site.second_fan is not None, quoted.site.second_shaft is not None
    falls = state_of(quoted.stated(*failed)) not in ("wrong", "open")  # laid down, and to be entered
    standby = quoted.site.standby is not None and quoted.site.standby.source != "none"
    tests = quoted.design.standing.window.feasible and not quoted.design.standing.first(SET_POINT, ACTION, FAN, RAMP)
    return {"riser": quoted.site.riser is not None, "standby": standby, "no standby": not standby, "several readings": several,
            "relief damper": damper, "no relief damper": not damper, "second fan": two, "one fan": not two, "second shaft": shaft,
            "no second shaft": not shaft, "second shaft's loop": shaft and quoted.site.second_shaft.fan.way == OWN_LOOP,
            "building code": (by_code := criteria_of(quoted.site.standard).by_building_code), "no building code": not by_code,
            "reading where air enters": bool(reading_at_supply(quoted.site)), "a way of falling back": falls,
            "no way of falling back": not falls, "self-test": tests, "no self-test": not tests,
            INTAKE: not not_built(quoted, INTAKE), "alarm falls back": bool(falling_back(quoted)),
            "difference falls back": several and ALARM_ONLY not in quoted.setting(*differ).value,
            **strategy_there(quoted.site)}  # fmt: skip
