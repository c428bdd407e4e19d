"""A published figure and our own answer to it: what every table of this folder is made of, and where the figures come from."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from reviewed import TEXTS

__all__ = ["DERIVED", "MEMORY", "PRACTICE", "REVIEWED", "SEEN", "Figure", "Source", "names"]

# How a figure is known. Memory: written down without the text at hand, so look it up before resting anything on it. Reviewed: a reviewer
# read it in a public text and quotes it; we did not open that text.
MEMORY, SEEN, DERIVED, PRACTICE = "memory", "seen in public text", "derived", "common practice, no source"
REVIEWED = "seen as quoted in the review of 2026"


@dataclass(frozen=True)
class Source:
    """A publication and the place in it. also: who else prints the figure; counts: False where no one publication stands behind it."""

    publication: str
    place: str = ""
    also: str = ""
    counts: bool = True

    def at(self, place, also=""):
        """The same publication at a place."""
        return replace(self, place=place, also=also or self.also)

    def __str__(self):
        text = ", ".join(filter(None, [self.publication, self.place]))
        return f"{text}; also {self.also}" if self.also else text


@dataclass(frozen=True)
class Figure:
    """One published figure.

    quantity with its unit in brackets; ours: a call of our own formula; printed: the figure with the digits that the source prints;
    allowed: how far off ours may be (None: half a unit of the last printed digit); why: the reason for allowing more than that;
    seen_in: of a reviewed figure the keys of `reviewed.TEXTS` that print it; note: what else is to be known of it.
    """

    quantity: str
    ours: Callable[[], float]
    printed: str
    source: Source
    how_known: str
    allowed: float | None = None
    why: str = ""
    seen_in: tuple = ()
    note: str = ""

    def __post_init__(self):
        if self.how_known not in (MEMORY, SEEN, REVIEWED, DERIVED, PRACTICE):
            raise ValueError(f"how_known must be memory, seen, reviewed, derived or practice, got {self.how_known!r}")
        if (self.how_known == REVIEWED) != bool(self.seen_in) or not set(self.seen_in) <= set(TEXTS):
            raise ValueError(f"seen_in must name the texts of a reviewed figure, and of no other; {self.quantity} has {self.seen_in!r}")
        if self.tolerance > self.half_unit * (1 + 1e-9) and not self.why:
            raise ValueError(f"why must say for what reason {self.quantity} may be off by {self.allowed:g}")

    @property
    def half_unit(self):
        """Half a unit of the last printed digit."""
        return 0.5 * 10.0 ** Decimal(self.printed).as_tuple().exponent

    @property
    def tolerance(self):
        """How far off ours may be."""
        return self.half_unit if self.allowed is None else self.allowed

    def check(self):
        """Fail where ours is further off than it may be."""
        ours = float(self.ours())
        off = abs(ours - float(self.printed))
        told = f"{self.quantity}: published {self.printed}, ours {ours:.8g}, may be off by {self.tolerance:g}"
        # A figure of exactly half a unit, such as 0.625 printed as 0.63, must not hang on the last bit of a double.
        assert off <= self.tolerance * (1 + 1e-9), f"{told}; {self.source} ({self.how_known})"


def names(figures):
    """Ids of a table's rows for the test report."""
    return [figure.quantity for figure in figures]


NIST_SP_811 = Source("NIST SP 811, Guide for the Use of the SI")
ASHRAE_FUNDAMENTALS = Source("ASHRAE Handbook, Fundamentals 2021")
ASHRAE_APPLICATIONS = Source("ASHRAE Handbook, HVAC Applications 1999 to 2007, fire and smoke chapter")
CARSLAW_JAEGER = Source("Carslaw and Jaeger, Conduction of Heat in Solids, 2nd edition, 1959")
KLOTE_NELSON = Source("Klote and Nelson, in Fire Protection Handbook, 18th ed.")
KLOTE_MILKE = Source("Klote and Milke, Principles of Smoke Management")
SFPE = Source("SFPE Handbook, smoke control chapter (Klote)")
NFPA_92 = Source("NFPA 92")
NFPA_101 = Source("NFPA 101")
IBC = Source("International Building Code")
EN_12101_6 = Source("EN 12101-6:2005")
EN_1991_1_4 = Source("EN 1991-1-4:2005")
EN_DUCTS = Source("EN 1507 and EN 12237", also="DW/144")
JENSEN = Source("Jensen, J. Fire Prot. Eng. 13(4), 2003")
ASCE_7 = Source("ASCE 7-10 and 7-16")
US_ATMOSPHERE = Source("U.S. Standard Atmosphere 1976", also="ICAO")
AMCA_99 = Source("AMCA 99")
AMCA_201 = Source("AMCA 201")
AMCA_210 = Source("AMCA 210-07")
SMACNA = Source("SMACNA, HVAC Air Duct Leakage Test Manual")
ACGIH = Source("ACGIH, Industrial Ventilation")
CIBSE = Source("CIBSE")
DOE_FANS = Source("US DOE, Improving Fan System Performance: a sourcebook (DOE/GO-102003-1294)")
NEMA_MG_10 = Source("NEMA MG 10-2001")
NAMUR_NE_43 = Source("NAMUR NE 43")
IEC_60381 = Source("IEC 60381-1 and -2")
JCGM_100 = Source("JCGM 100:2008 (GUM)")
ORDER_STATISTICS = Source("David, Order Statistics", also="Harter's tables")
NEWCOMBE = Source("Newcombe, Statistics in Medicine 17, 1998")
TM_5_814 = Source("US Army TM 5-814 series, wet well cycling")
SKOGESTAD = Source("Skogestad, J. Process Control 13, 2003, 291-309")
ISA = Source("ISA")
# No one publication stands behind these.
TEXT_BOOKS = Source("text-books, none in particular", counts=False)
STUDENT = Source("table of Student's t", counts=False)
DEFINITION = Source("by definition or exact", counts=False)
TRADE = Source("common practice", counts=False)
