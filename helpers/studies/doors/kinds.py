"""The window of one kind of door, and that of several kinds of stair doors on one storey: what the worst of them asks."""

from dataclasses import dataclass, replace

import numpy as np

from helpers.studies.cases import door_text
from helpers.studies.report import limit_text, spanned
from helpers.units.said import unit_of, with_unit

NOT_CLOSING = "once opened would not close again"  # of a latched leaf that the pressure pushes open
LIGHTER_CLOSERS = "lighter closers that still latch"  # a fire door has to close and latch by itself
PUSHED = ("pushed open", NOT_CLOSING)  # what too much pressure does to a leaf that opens with it: to one without a latch, to a latched one


@dataclass(frozen=True)
class DoorWindow:
    """Window of one kind of door in one use; least_pa, most_pa are None where nothing limits it.

    use: one of the values of USES; across: the pressure difference that counts, in words; levels: where such doors stand. latched: whether
    a latch holds the shut leaf; relatch_pa: of a leaf that opens with the pressure, the pressure up to which its closer surely, and at the
    best, shuts it again (the low and the high end of what it gives back), None for another. least_because, most_because: why, with the
    names of figures in braces; named: (name, value in SI, dimension) of these. force_n: most force at the handle, the stricter of the site
    file's and the standard's (None: nobody works the door by hand); of_file: the window by the site file alone, None where this is it;
    shut_alone: whether the standard has its least for all doors shut alone, and asks for other things while one stands open.
    capped: whether the most is the standard's own figure, which no closer or leaf changes. beside: other kinds on these storeys.
    """

    door: str
    use: str
    across: str
    levels: tuple
    least_pa: float | None
    most_pa: float | None
    least_because: str
    most_because: str
    least_source: str
    most_source: str
    opens_with_pressure: bool = False
    latched: bool = False
    relatch_pa: tuple | None = None
    named: tuple = ()
    shares: tuple | None = None
    force_n: float | None = None
    of_file: "DoorWindow | None" = None
    shut_alone: bool = False
    capped: bool = False
    beside: tuple = ()

    @property
    def stated(self):
        """The window by the site file alone."""
        return self.of_file or self

    @property
    def open_least_pa(self):
        """Least pressure [Pa] while some door of the stair stands open; None where nothing asks for any."""
        return self.stated.least_pa if self.shut_alone else self.least_pa

    def reason(self, end):
        """Why not "least" less, or "most" more, in words."""
        shown = {name: with_unit(value, of) if name == "closer" else limit_text(value, of, "most") for name, value, of in self.named}
        return getattr(self, f"{end}_because").format(**shown)

    @property
    def feasible(self):
        """Whether any pressure at all suits the door."""
        return None in (self.least_pa, self.most_pa) or self.least_pa < self.most_pa

    @property
    def recloses_pa(self):
        """Pressure up to which a leaf that its latch holds shuts again, once opened, by the low end of what its closer gives back; None
        where there is no such leaf. One without a latch has this as its most."""
        return self.relatch_pa[0] if self.latched and self.relatch_pa is not None else None

    @property
    def one_share(self):
        """What its closer gives back, where that is one figure without a range measured at it; else None. One figure is no range: hinges,
        seals and the next closing give back another."""
        return self.shares[0] if self.shares is not None and self.shares[0] == self.shares[1] else None

    def share_at(self, dp_pa):
        """Least share of its force that the closer has to give back to shut the leaf against a pressure [Pa]: the pressure goes with it."""
        return self.shares[0] * dp_pa / self.relatch_pa[0]

    @property
    def closers(self):
        """Closers that would let it bear more, in words: a force limit asks for less, a leaf that is pushed open for more."""
        return "heavier closers, as far as the limits of their opening forces allow" if self.opens_with_pressure else LIGHTER_CLOSERS

    @property
    def bears_more(self):
        """What at the door would let it bear more pressure, in words; "" where nothing at the door does."""
        pushed = "a heavier closer, as far as the limits of its opening force allow, a leaf hung the other way, a narrower leaf"
        heavy = "a lighter closer that still shuts the leaf, a narrower leaf"
        return "" if self.capped else pushed if self.opens_with_pressure else heavy

    @property
    def place(self):
        """The door and its levels in words."""
        return door_text(self.use, self.levels, self.door, whole=True)

    def means(self, too):
        """What a pressure too "low" or too "high" does to this door, in words."""
        if too == "high" and self.opens_with_pressure:
            return PUSHED[self.latched]
        if too == "high":
            return "too heavy to open"
        return "too heavy to open" if self.least_pa < 0 else "smoke can pass"  # only a door against air from outside has a least below 0

    def text(self):
        """The window in words; of a leaf that its latch holds shut its upper end is where, once opened, it surely closes again."""
        if self.most_pa is None and self.least_pa is not None and self.recloses_pa is not None:
            ends = limit_text(self.least_pa, "pressure", "least"), limit_text(self.recloses_pa, "pressure", "most")
            return f"{spanned(*ends, unit_of('pressure'))} (once opened, closes again)"
        least = None if self.least_pa is None else limit_text(self.least_pa, "pressure", "least")
        most = None if self.most_pa is None else limit_text(self.most_pa, "pressure", "most")
        if None in (least, most):
            return f"at least {least}" if least else f"at most {most}" if most else "no limit"
        return spanned(least, most, unit_of("pressure"))


def worst_of_kinds(windows):
    """One window from those of all kinds of stair doors on the same storeys: least [Pa] the largest of theirs, most [Pa] the smallest.

    windows: `DoorWindow`s of one use, the storey's own stair_door first; they open and latch alike, which the site file is held to. The
    name, the closer and the force are those of the kind that bears the least pressure (of equals the one that closes again to a lower
    one, then the first); where another kind asks for the least, its reason says which. Equation: p_least = max p_least,k, p_most =
    min p_most,k over the kinds k, which stand side by side under the same pressure. Returns the window itself where there is one kind.
    Limits: a sheet has the leaves of the named kind alone; a storey with one open leaf is not judged at its other doors, as ever.
    """
    if len(windows) == 1:
        return windows[0]
    worst = min(windows, key=_bears)
    asks = max(windows, key=lambda one: -np.inf if one.least_pa is None else one.least_pa)
    stated = None
    if any(one.of_file is not None for one in windows):
        stated = worst_of_kinds([replace(one.stated, of_file=None) for one in windows])
    others = tuple(one.door for one in windows if one is not worst)
    because = f"{worst.most_because}; the other kind there, {', '.join(map(_as_it_is, others))}, bears no less"
    ends = {"most_because": because, "of_file": stated, "beside": others}
    if asks is not worst and asks.least_pa != worst.least_pa:
        reason = f"{asks.reason('least')} (door {_as_it_is(asks.door)} on the same storey)"
        ends |= {"least_pa": asks.least_pa, "least_because": reason, "least_source": asks.least_source, "shut_alone": asks.shut_alone}
    return replace(worst, **ends)


def _as_it_is(name):
    """A door's name within a reason, in which braces would name a figure."""
    return repr(name).replace("{", "{{").replace("}", "}}")


def _bears(window):
    """What a window bears at the most, then up to where its leaf closes again [Pa]."""
    return tuple(np.inf if end is None else end for end in (window.most_pa, window.recloses_pa))
