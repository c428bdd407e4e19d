"""How the outlets on a riser share the fan's air case by case, beside the shares that they are designed for, and what that does to the
doors: the loop holds its reading whichever way the air comes in, but not every door hangs on that reading alike.
"""

from dataclasses import dataclass

import numpy as np

from helpers.model.air.fan import branch_loss, fan_points
from helpers.model.air.tower import Tower
from helpers.model.site.supply import IN_SHARES
from helpers.studies.cases import Case, conditions_of
from helpers.studies.report import NETWORK, PRACTICE, SITE_FILE, Finding, Table, Value, figure, range_text
from helpers.units.said import with_unit

OFF = 0.10  # of an outlet's designed share: as near as outlets are balanced; common practice, no source
FELT_PA = 1.0  # at a stair door, against designed shares: less is not worth balancing anew; ours
NARROWER = 0.5  # of every outlet's free area: what is tried where shares are further off
COLUMNS = ("Outlet", "Free area and loss", "Designed for", "Least share", "Largest share", "Across it")
AGAINST = "against every outlet at its designed share, whatever the pressures"


@dataclass(frozen=True)
class Outlets:
    """Outlets on a riser.

    cases; levels, told (area and loss in words), designed (share) of each outlet; share, across_pa (riser less stair, in the fan's
    direction) [cases, outlets] and beyond_pa [cases] (the riser at the fan, over what the outlets blow into, mean by flow), NaN where the
    loop does not hold; moved_pa [cases, storeys]: stair doors, solved less at designed shares, NaN where either does not hold; doors: their
    levels; required [cases]; narrower: the same with half the free areas, None where shares are near enough; fan_pa: most of the
    fan; riser: in a sentence.
    """

    cases: tuple[Case, ...]
    levels: tuple[int, ...]
    told: tuple[str, ...]
    designed: np.ndarray
    share: np.ndarray
    across_pa: np.ndarray
    beyond_pa: np.ndarray
    moved_pa: np.ndarray
    doors: tuple[int, ...]
    required: np.ndarray
    fan_pa: float
    riser: str
    narrower: "Outlets | None" = None

    @property
    def off(self):
        """How far each share is from the designed one, as a part of that one [cases, outlets]."""
        return self.share / self.designed - 1

    @property
    def furthest(self):
        """(part off, outlet, case) of the share that is furthest from its designed one in a required case; None where none is held."""
        off = np.where(self.required[:, None] & np.isfinite(self.off), np.abs(self.off), -1.0)
        case, outlet = np.unravel_index(np.argmax(off), off.shape)
        return None if off[case, outlet] < 0 else (float(self.off[case, outlet]), int(outlet), int(case))

    @property
    def held(self):
        """By case: whether the loop holds."""
        return np.isfinite(self.beyond_pa)

    def table(self):
        """`Table` of the outlets, a row each."""
        rows = tuple(self._row(outlet) for outlet in range(len(self.levels)))
        states = tuple(self._state(outlet) for outlet in range(len(self.levels)))
        note = (
            f"{self.riser} Solved with the stair in the {int(self.held.sum())} of {len(self.cases)} cases that the loop holds. "
            f"{100 * OFF:.0f} % of its designed share either way is as near as an outlet is balanced ({PRACTICE}); below 0 % air goes "
            "from the stair into the riser."
        )
        return Table("outlets", "Outlets on the riser", COLUMNS, rows, states, note)

    def _row(self, outlet):
        name, told, designed = f"storey {self.levels[outlet]}", self.told[outlet], f"{100 * self.designed[outlet]:.0f} %"
        if not self.held.any():
            return (name, told, designed, "not held", "not held", "not held")
        share = self.share[:, outlet]
        ends = (int(np.nanargmin(share)), int(np.nanargmax(share)))
        shown = [f"{100 * share[case]:.0f} % ({self.cases[case].name})" for case in ends]
        across = range_text(float(np.nanmin(self.across_pa[:, outlet])), float(np.nanmax(self.across_pa[:, outlet])), "pressure")
        return (name, told, designed, *shown, across)

    def _state(self, outlet):
        off = self.off[self.required & self.held, outlet]
        return "open" if not off.size else "good" if np.abs(off).max() <= OFF or not self.felt else "attention"

    def figures(self):
        """What the branches cost, and what they move."""
        if not self.held.any():
            return (Value("Outlets and riser", None, "not held in any case", "see the cases of the duty", NETWORK),)
        most = float(np.nanmax(self.beyond_pa))
        cost = figure("Riser and outlets cost", most, "pressure", "most: riser at the fan over the stair at the outlets", NETWORK)
        if not np.isfinite(self.moved_pa).any():
            return (cost,)
        moved, where = self.most_moved
        return (cost, figure("Branches move a door by, at the most", moved, "pressure", f"{where}, {AGAINST}", NETWORK, (1, 3)))

    @property
    def most_moved(self):
        """(what the branches move a stair door by at the most [Pa], door and case in words)."""
        case, place = np.unravel_index(np.nanargmax(np.abs(self.moved_pa)), self.moved_pa.shape)
        return float(self.moved_pa[case, place]), f"stair door {self.doors[place]}, {self.cases[case].name}"

    @property
    def back(self):
        """Whether air goes from the stair into the riser at an outlet in a required case."""
        return bool((self.share[self.required & self.held] < 0).any())

    @property
    def felt(self):
        """Whether a stair door hangs on how the outlets share: moved by FELT_PA, air going back, or nothing to hold it against."""
        return self.back or not np.isfinite(self.moved_pa).any() or abs(self.most_moved[0]) >= FELT_PA

    def findings(self):
        """Whether the outlets keep near to their designed shares in the required cases, and whether a door feels it where they do not."""
        if self.furthest is None:
            return
        off, outlet, case = self.furthest
        share, designed = 100 * self.share[case, outlet], 100 * self.designed[outlet]
        shown = f"storey {self.levels[outlet]}: {share:.0f} % of the air instead of {designed:.0f} % ({self.cases[case].name})"
        if abs(off) <= OFF:
            yield Finding("good", "Every outlet keeps near to its designed share", f"furthest off: {shown}")
            return
        moved = "no case to hold it against is held"
        if np.isfinite(self.moved_pa).any():
            far, where = self.most_moved
            moved = f"a stair door is moved by {with_unit(abs(far), 'pressure', (1, 3))} at the most ({where}), {AGAINST}"
        why = f"an outlet gives less where the stair's pressure is higher, the more so the less it costs itself; {moved}"
        source = f"{NETWORK}; {100 * OFF:.0f} %: {PRACTICE}; {with_unit(FELT_PA, 'pressure')} at a door: ours"
        if not self.felt:
            yield Finding("good", "Outlets are far from their designed shares, and no door feels it", shown, why, source)
            return
        what = "Air goes from the stair back into the riser at an outlet" if self.back else "An outlet is far from its designed share"
        yield Finding("attention", what, shown, why, source, self._remedy())

    def _remedy(self):
        """What narrower outlets do, tried in the same cases."""
        tried, cases = self.narrower, len(self.cases)
        if tried is None or tried.furthest is None:
            return "balance the outlets anew with the dampers of their branches; narrower ones were tried: no required case is held"
        off = abs(100 * tried.furthest[0])
        cost = f"{with_unit(tried.fan_pa, 'pressure')} at the fan instead of {with_unit(self.fan_pa, 'pressure')}"
        held = f"{int(tried.held.sum())} of {cases} cases held instead of {int(self.held.sum())}"
        return (
            "balance the outlets anew with the dampers of their branches; outlets that cost more share more evenly: tried with half of "
            f"every free area, furthest off {off:.0f} % instead of {abs(100 * self.furthest[0]):.0f} %, {cost}, {held}"
        )


def riser_parts(tower, own):
    """(figures, tables, findings) of a `Tower`'s outlets under a `RuleResult`, for a section; nothing where it has no riser."""
    shared = outlets_on_riser(tower, own.cases, own.held, own.required, own.rule)
    return ((), (), ()) if shared is None else (shared.figures(), (shared.table(),), tuple(shared.findings()))


def outlets_on_riser(tower, cases, held, required, rule):
    """How the outlets of a `Tower` share the air in some cases; None where its site has no riser.

    cases: of `Case`; held: their `HeldAir` under the rule at the site's set point; required [cases]: whether the design has to hold each.
    Equations: the air network (`model.air.branches`). Limits: as there; the stair's air of an hour is that of the outlets as solved, beside
    the designed shares too.
    """
    site = tower.site
    if site.riser is None:
        return None
    conditions = conditions_of(site, cases)
    fixed = Tower(site.with_changes(riser=None, supplies=[IN_SHARES] * len(site.supplies)))
    beside = _held(fixed, conditions, rule)
    known = _outlets(tower, cases, held, required, conditions, beside)
    if known.furthest is None or abs(known.furthest[0]) <= OFF:
        return known
    areas = [{"outlet_area_m2": NARROWER * supply.outlet_area_m2} for supply in site.supplies]
    narrow = Tower(site.with_changes(supplies=areas))
    return _outlets(tower, cases, held, required, conditions, beside, narrow, rule)


def _held(tower, conditions, rule):
    control = tower.site.control
    return tower.hold(conditions, rule=rule, weights=control.weights if rule == "weighted" else None)


def _outlets(tower, cases, held, required, conditions, beside, narrow=None, rule=""):
    site, air, places = tower.site, held.air, tower.branches.storeys
    whole = np.where(air.fan_flow_m3_s > 0, air.fan_flow_m3_s, np.nan)
    share = np.where(held.held, air.supply_flow_m3_s.T / whole, np.nan).T
    stair = air.stair_pa[:, places]
    across = np.where(held.held[:, None], tower.effect * (air.duct_pa[:, places] - stair), np.nan)
    beyond = np.where(held.held, branch_loss(tower, air), np.nan)
    there = np.array([bool(storey.stair_doors) for storey in site.storeys])
    both = (held.held & beside.held)[:, None] & there
    moved = np.where(both, air.door_dp_pa - beside.air.door_dp_pa, np.nan)
    pressure = fan_points(tower, air, conditions)[1]
    fan_pa = float(pressure[held.held].max()) if held.held.any() else float("nan")
    tried = None if narrow is None else _outlets(narrow, cases, _held(narrow, conditions, rule), required, conditions, beside)
    return Outlets(
        tuple(cases), tuple(supply.level for supply in site.supplies), tuple(map(_told, site.supplies)),
        np.array([supply.share for supply in site.supplies]), share, across, beyond, moved, tuple(tower.levels),
        np.asarray(required, bool), fan_pa, _riser_told(site.riser), tried,
    )  # fmt: skip


def _riser_told(riser):
    costs = f"{with_unit(riser.storey_loss_pa, 'pressure', (1, 3))} at {with_unit(riser.storey_loss_flow_m3_s, 'flow')}"
    return f"The fan blows into the riser at storey {riser.fan_level}; one storey of it costs {costs} ({SITE_FILE})."


def _told(supply):
    area, zeta = with_unit(supply.outlet_area_m2, "area"), supply.outlet_loss_coefficient
    return f"{area}, {'as an orifice' if zeta is None else f'loss coefficient {zeta:g}'} ({SITE_FILE})"
