"""Public texts in which a review of 2026 read figures of this folder, as that review quotes them. We did not open them ourselves.

grade: A a primary text or its official copy; B a handbook or teaching text; C a reprint or a calculation sheet of a third party, better
than memory and not good enough to decide anything. A maker's text is not named; what the review does not state is not guessed.
"""

from dataclasses import dataclass

__all__ = ["TEXTS", "Text"]


@dataclass(frozen=True)
class Text:
    """A public text: title, publisher or author, year where it bears one, its grade."""

    title: str
    publisher: str
    year: str
    grade: str

    def __str__(self):
        return f"{self.title}, {self.publisher}, {self.year} ({self.grade})"


NO_YEAR, NOT_STATED = "no year", "not stated"
TEXTS = {
    "guide": Text("Smoke control guide reprinting the NFPA and ASHRAE table of doors", "a maker", NO_YEAR, "C"),
    "two guides": Text("Two guides reprinting the table of NFPA 92A (2000)", "two makers", NO_YEAR, "C"),
    "life safety": Text("Force to open a fire door, an answer quoting the Life Safety Code of 2000", NOT_STATED, "2015", "B"),
    "thumb": Text("Stairwell pressurization design: looking past the rule of thumb, part 1", NOT_STATED, "2023", "B"),
    "factors": Text("Air density factors for altitude and temperature, page of a fan catalogue", "a maker", NO_YEAR, "C"),
    "pitot": Text("Note on velocity pressure citing the manual of ACGIH", NOT_STATED, NO_YEAR, "B"),
    "d2": Text("Joglekar, Statistical Methods for Six Sigma, app. G", "Wiley", "2003", "A"),
    "t": Text("Soong, Fundamentals of Probability and Statistics for Engineers, table A.4", NOT_STATED, NO_YEAR, "A"),
    "h1": Text("GUM H1 example", "Measurement Standards Laboratory of New Zealand", NO_YEAR, "B"),
    "wet wells": Text("EI 11C201, wet wells; MIL-HDBK-1005/9A eq. 1 and 2 for the half demand", "US Army", "1 March 1997", "A"),
    "stair sheet": Text("Stair calculation sheet citing ASHRAE HVAC Applications 1999 p. 51.9", "a third party", NO_YEAR, "C"),
    "staircase": Text("Staircase pressurisation calculation quoting ASHRAE 2011 ch. 53 eq. 17 and 18", "a third party", "2017", "C"),
    "air leakage": Text("Calculation for air leakage at differential pressure", "a third party", NO_YEAR, "C"),
    "bs 5588": Text("BS 5588-4:1998, public extract; the predecessor of the standard named", "British Standards Institution", "1998", "A"),
    "german note": Text("German note on requirements of pressurisation", NOT_STATED, NO_YEAR, "B"),
    "balancing": Text("Formula sheet of air balancing", NOT_STATED, NO_YEAR, "C"),
}
