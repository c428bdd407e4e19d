"""One line of a test day's report, and its columns."""

from dataclasses import dataclass

COLUMNS = ("Device", "Tag", "Nameplate", "Design", "Measured", "Limit", "What is said", "Deficiency", "Tested again")


@dataclass(frozen=True)
class ReportLine:
    """One line: part of the report it stands in; state: key of the status, "" where nothing is judged; left: whether something is still to
    be measured, whatever else is said; the rest as COLUMNS."""

    part: str
    device: str
    tag: str = ""
    plate: str = ""
    design: str = ""
    measured: str = ""
    limit: str = ""
    state: str = ""
    words: str = ""
    deficiency: str = ""
    retest: str = ""
    left: bool = False

    @property
    def cells(self):
        """Its cells in the order of COLUMNS."""
        return (self.device, self.tag, self.plate, self.design, self.measured, self.limit, self.words, self.deficiency, self.retest)
