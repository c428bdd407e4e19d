"""A design record piece by piece in a notebook, which follows the unit switch; and the picture on the project's first page."""

from pathlib import Path

from ipywidgets import HTML

from helpers.model.files import safe_name, write_whole
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.printed import records_folder, written_card
from helpers.plots.markup import Verdict, cautions_html
from helpers.plots.picture import picture_of
from helpers.plots.printer import write_page
from helpers.record.design import Design
from helpers.record.page import figures_shown, findings_shown, found, page_html, summary_shown, table_shown, verdict_of
from helpers.record.plot_builders import rules_compared
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

__all__ = ["FRONT_PICTURE", "PicturePiece", "Piece", "RecordView", "write_front_picture"]


class Piece:
    """A piece of a record in words: a live widget, and the same as HTML and as plain text for a page without a kernel.

    render gives (HTML, plain text) in the units of the moment.
    """

    def __init__(self, render):
        self.render = render
        self.widget = HTML(render()[0])

    def refresh(self):
        """Write it anew, in the units of the moment."""
        self.widget.value = self.render()[0]

    def _repr_mimebundle_(self, include=None, exclude=None):
        html, words = self.render()
        return self.widget._repr_mimebundle_() | {"text/html": html, "text/plain": words}


class PicturePiece:
    """A picture of a record, live and still; data gives what to draw in the units of the moment; exported: it is on the page as well."""

    def __init__(self, data, exported=False):
        self.data, self.picture = data, picture_of(data())
        if exported:
            self.picture.png()  # drawn once for both, large

    def refresh(self):
        """Draw it anew, in the units of the moment."""
        self.picture.show(self.data())

    def _repr_mimebundle_(self, include=None, exclude=None):
        data, metadata = self.picture.still()
        return self.picture.image._repr_mimebundle_() | data, metadata


class RecordView:
    """The record of a `Design`; each method gives one piece, to be the last line of a cell.

    A piece asked for again is the same one. Where there is none of a key, a sentence says so and names the keys there are.
    """

    def __init__(self, design):
        self.design, self._records, self._pieces = design, {}, {}
        UNITS.listen(self._refresh)

    @property
    def record(self):
        """The record in the chosen system of units."""
        if UNITS.system not in self._records:
            self._records[UNITS.system] = self.design.record(UNITS.system)
        return self._records[UNITS.system]

    def cautions(self):
        """What must be seen before anything else."""
        return self._words("cautions", lambda: (cautions_html(self.record.cautions), "\n".join(self.record.cautions)))

    def summary(self):
        """What fails, then what to buy, set and check."""
        return self._words("summary", lambda: summary_shown(self.record))

    def verdict(self, key):
        """The verdict of a section."""
        return self._words(("verdict", key), lambda: verdict_of(self.record.section(key)))

    def figures(self, key):
        """Figures of a section with unit, reason and source."""
        return self._words(("figures", key), lambda: figures_shown(self.record.section(key).figures))

    def table(self, key):
        """A table of the record."""
        return self._words(("table", key), lambda: table_shown(found(self.record, "tables", key)))

    def findings(self, key=None):
        """Findings of a section, or all of them, the gravest first."""
        return self._words(("findings", key), lambda: findings_shown(self.record.section(key).findings if key else self.record.findings))

    def picture(self, key):
        """A picture of the record."""
        return self._piece(("picture", key), lambda: PicturePiece(lambda: found(self.record, "pictures", key), exported=True))

    def rules(self, case):
        """All rules beside each other in one of the cases that the record draws, by its number from 0."""
        return self._piece(("rules", case), lambda: PicturePiece(lambda: written_out(rules_compared(self.design, case), UNITS.system)))

    def export(self, path=None, paper="A4"):
        """Write the record as one page without code, HTML or PDF by the ending of the path, by default HTML into `records`, named after the
        site; shows a link to it. Raises PrintingError, a ValueError, for a PDF where nothing can print."""
        target = Path(path) if path else records_folder() / f"{safe_name(self.record.site_name).lower()}.html"
        drawn = {key[1]: piece.picture for key, piece in self._pieces.items() if key[0] == "picture"}
        return written_card(write_page(page_html(self.record, drawn), target, paper))

    def close(self):
        """Follow the unit switch no longer."""
        UNITS.forget(self._refresh)

    def _words(self, key, render):
        return self._piece(key, lambda: Piece(render))

    def _piece(self, key, make):
        """The piece of a key; where the record has no such piece, the sentence that says so and what there is."""
        if key not in self._pieces:
            try:
                self._pieces[key] = make()
            except ValueError as missing:
                return Verdict("entry", f"This record has no such piece: {missing}.")
        return self._pieces[key]

    def _refresh(self):
        for piece in list(self._pieces.values()):  # a cell may add one meanwhile
            piece.refresh()


FRONT_PICTURE = Path(__file__).resolve().parents[2] / "notebooks" / "pictures" / "pressure_profile.png"
SITE, WINTER_DOORS_SHUT = "Larkfield House", 0


def write_front_picture(path=FRONT_PICTURE):
    """Draw the picture anew, after a change of model, site or looks. Returns its path."""
    design = Design(read_site(demo_sites()[SITE]))
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_whole(path, picture_of(written_out(rules_compared(design, WINTER_DOORS_SHUT))).png())
