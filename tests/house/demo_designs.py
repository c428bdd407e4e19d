"""The demo sites' designs and records and the demo strategies' reviews, each made once for all tests of a run: they take the time.

They are for looking at. A changed site's design is kept as well, by what its file would say (`design_for`); who puts in another study
takes `own_copy`.
`look` holds everybody to it after each test: what has been made stays the thing it was, and its arrays cannot be written into.
"""

from dataclasses import is_dataclass
from functools import cache, partial

import numpy as np
from shared_store import made_once, shared

from helpers.model.plants.kinds import read_any_site, read_any_strategy
from helpers.model.site.file import SITES_FOLDER, demo_sites, read_site
from helpers.model.site.schema import Site
from helpers.record.design import Design
from helpers.record.page import page_html
from helpers.record.review.study import reviewed
from helpers.studies.tuning.study import tuning_study

__all__ = ["SEVERAL_DAMPERS", "design_as_filed", "design_for", "design_of", "look", "low_rise", "own_copy", "page_of", "quickly_tuned",
           "record_of", "review_for", "review_of", "site_of"]  # fmt: skip

MOST_KEPT, MOST_REVIEWS = 60, 20  # designs of changed sites, some MB each, and reviews
NO_CHOICE = {"weather": "winter", "units": "Pa"}  # as a design has it by itself
FEW_DRAWN = 40  # conditions for the placement of a changed site, which is looked at for something else
_REVIEWS: dict = {}  # by what strategy and site say
_FOR: dict = {}  # the designs of changed sites, by what the file says and the choices
_SEEN: dict = {}  # by site: the site as it was written, and each study by name as it was first seen
# In place of the one relief damper of Tannery Row: with them all is laid down.
SEVERAL_DAMPERS = {"stair": {"relief": {"area_m2": 0.51, "count": 3}}}
OF_THE_SITE = "built", "tower", "built_tower", "_sections"  # what a second fan or a second shaft changes
LIFT = {
    "kind": "lift", "friction_area_m2": 4.0, "wall_m2": 30.0, "door": "flat landing", "most_dp_pa": 62.0,
    "fan": {"level": 1, "fixed_flow_m3_s": 1.0},
}  # fmt: skip


@cache
def site_of(name):
    """A demo site as its file says."""
    return read_site(demo_sites()[name])


@cache
def design_of(name):
    """The design of a demo site as its file says; its studies are made when first looked at, or come from the worker that has them."""
    design = made_once(partial(_studied, site_of(name)), "design", site_of(name).model_dump_json())
    _SEEN[name] = (design.site.model_dump_json(), {})
    return design


def _studied(site, **choices):
    """Where other workers wait for it, with the whole record; alone, with what is asked for."""
    design = Design(site, **choices)
    if shared():
        list(design.record("Pa").sections)
    return design


def low_rise(name="Larkfield House", storeys=6):
    """The lowest storeys of a demo site alone, with half as many cycles, which take half the time: for what neither changes. Air in at the
    top, the upper reading and the relief damper one below."""
    told = site_of(name).model_dump()
    told["storeys"], told["supplies"] = told["storeys"][:storeys], [{"level": told["storeys"][storeys - 1]["level"], "share": 1.0}]
    told["transmitters"][-1]["level"] = told["stair"]["relief"]["level"] = told["storeys"][storeys - 2]["level"]
    told["control"]["sample_s"] *= 2
    told["design"]["open_doors"] = tuple(one["level"] for one in told["storeys"][2:4])
    return Site.model_validate(told)


def design_for(site, **choices):
    """The design of any site under some choices, made once for all tests of a worker that ask for the same; to look at, as all here."""
    key = (site.model_dump_json(), repr(sorted(choices.items())))
    if not choices and site.name in demo_sites() and site == site_of(site.name):
        return design_of(site.name)
    if key in _FOR:
        _FOR[key] = _FOR.pop(key)  # the one looked at last goes last
    else:
        made = {"drawn": FEW_DRAWN} | choices
        often = not choices and site == site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS)
        _FOR[key] = made_once(partial(_studied, site, **made), "design", *key) if often else Design(site, **made)
        while len(_FOR) > MOST_KEPT:
            del _FOR[next(iter(_FOR))]
    return _FOR[key]


def beside(design, **changes):
    """A design's stair with something beside it: all studies but those that it changes are those of the stair alone."""
    site = design.site.with_changes(**dict.fromkeys(changes)).with_changes(**changes)
    copy = Design(site, drawn=FEW_DRAWN)
    vars(copy).update({name: value for name, value in vars(design).items() if name not in {*vars(copy), *OF_THE_SITE}})
    return copy


def design_as_filed(site, **choices):
    """The shared design of a demo site without a choice, or with those that are none, as a design of one's own for any other: what reviews,
    panels and lessons take for the record."""
    choices = {name: chosen for name, chosen in choices.items() if chosen is not None and chosen != NO_CHOICE.get(name)}
    if not choices and site.name in demo_sites() and site == site_of(site.name):
        return design_of(site.name)
    return Design(site, **choices)


def quickly_tuned(site):
    """A design of one's own with half as many cycles of the controller, tuned without a try of what helps after a door: for what hangs on
    a tuning being there and not on its figures."""
    design = Design(site.with_changes(control={"sample_s": 2 * site.control.sample_s}), drawn=FEW_DRAWN)
    vars(design)["tuning"] = tuning_study(design.built_tower, design.window, cases=design.cases, what_helps=False)
    return design


@cache
def record_of(name, system="Pa"):
    """The record of a demo site; its sections are written when first looked at."""
    return design_of(name).record(system)


@cache
def page_of(name, system="Pa"):
    """The exported page of the record of a demo site, its pictures drawn: drawing takes the time."""
    return made_once(lambda: page_html(record_of(name, system)), "page", site_of(name).model_dump_json(), system)


@cache
def review_of(strategy, system="Pa"):
    """The review of a demo strategy, named as its file is, on the site it is for."""
    read = read_any_strategy(SITES_FOLDER.parent / "strategies" / f"{strategy}.toml")
    site = read_any_site(SITES_FOLDER / f"{read.site}.toml")
    key = (read.model_dump_json(), site.model_dump_json())
    if key not in _REVIEWS:
        _REVIEWS[key] = made_once(partial(_found, read, site), "review", *key)
    return review_for(read, site, system)


def _found(strategy, site):
    """A review with what it finds."""
    review = reviewed(strategy, site)
    assert review.found is not None
    return review


def review_for(strategy, site, system="Pa"):
    """The review of any strategy on any site, made once for both systems of units; to look at, as all here."""
    key = (strategy.model_dump_json(), site.model_dump_json())
    if key not in _REVIEWS:
        _REVIEWS[key] = reviewed(strategy, site)
        while len(_REVIEWS) > MOST_REVIEWS:
            del _REVIEWS[next(iter(_REVIEWS))]
    return _REVIEWS[key].in_system(system)


def own_copy(name, *kept, **changes):
    """A design of one's own with some studies of the shared one (named in `kept`); changes: fields of `Design`, or studies to put in."""
    shared = design_of(name)
    copy = shared.but()
    vars(copy).update({key: getattr(shared, key) for key in kept} | changes)
    return copy


def look():
    """Raise where a test has changed a shared design; from the test on in which a study is made its arrays are for reading alone."""
    for name, (written, seen) in _SEEN.items():
        now = vars(design_of(name))
        for key, value in seen.items():
            if now.get(key) is not value:
                raise AssertionError(f"{key} of the shared design of {name} was changed by this test: take own_copy")
        for key in now.keys() - seen.keys():
            _close(now[key], set())
            seen[key] = now[key]
        if now["site"].model_dump_json() != written:
            raise AssertionError(f"the site of the shared design of {name} was changed by this test: take with_changes")


def _close(thing, known):
    """Take the arrays of a result out of writing, all the way down."""
    if id(thing) in known:
        return
    known.add(id(thing))
    if isinstance(thing, np.ndarray):
        thing.flags.writeable = False
    elif isinstance(thing, dict):
        for value in thing.values():
            _close(value, known)
    elif isinstance(thing, (tuple, list)):
        for value in thing:
            _close(value, known)
    elif is_dataclass(thing) and not isinstance(thing, type):
        for value in vars(thing).values() if hasattr(thing, "__dict__") else ():
            _close(value, known)
