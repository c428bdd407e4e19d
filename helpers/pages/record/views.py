"""The record on a page: piece by piece for a walk through it, or the whole in one screen; both follow the unit switch."""

from ipywidgets import HTML, Button, HBox, Layout, VBox

from helpers.model.files import safe_name
from helpers.pages.printed import records_folder, written_card
from helpers.plots.markup import PAGE_STYLE, Verdict, cautions_html, verdict_html
from helpers.plots.picture import picture_of
from helpers.plots.printer import page_path, write_page
from helpers.record.board import fails_counted
from helpers.record.page import (
    all_findings_shown,
    board_html,
    board_said,
    figures_shown,
    findings_shown,
    found,
    page_html,
    summary_shown,
    table_shown,
    verdict_folded,
)
from helpers.record.plot_builders import rules_compared
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS


class Piece:
    """A piece of a record in words: a live widget, and the same as HTML and as plain text for a page without a kernel.

    render gives (HTML, plain text) in the units of the moment; over: a widget that stands over it, such as the switch of units.
    """

    def __init__(self, render, over=None):
        self.render = render
        self.widget = HTML(render()[0])
        self.box = VBox([over, self.widget]) if over else self.widget

    def refresh(self):
        """Write it anew, in the units of the moment."""
        self.widget.value = self.render()[0]

    def _repr_mimebundle_(self, include=None, exclude=None):
        html, words = self.render()
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": words}


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
        """What fails, then what to buy, set and check; over it the switch of units, for all pieces."""
        return self._piece("summary", lambda: Piece(self._summary, UNITS.switch()))

    def _summary(self):
        html, words = summary_shown(self.record)
        return PAGE_STYLE + html, words  # the first that page 12b shows

    def verdict(self, key):
        """The verdict of a section."""
        return self._words(("verdict", key), lambda: verdict_folded(self.record.section(key), fails_counted(self.record)))

    def figures(self, key):
        """Figures of a section with unit, reason and source."""
        return self._words(("figures", key), lambda: figures_shown(self.record.section(key).figures))

    def table(self, key):
        """A table of the record."""
        return self._words(("table", key), lambda: table_shown(found(self.record, "tables", key)))

    def findings(self, key=None):
        """Findings of a section, or all of them, the most serious first, under how many FAIL there are."""
        if key is None:
            return self._words(("findings", key), lambda: all_findings_shown(self.record))
        return self._words(("findings", key), lambda: findings_shown(self.record.section(key).findings))

    def picture(self, key):
        """A picture of the record."""
        return self._piece(("picture", key), lambda: PicturePiece(lambda: found(self.record, "pictures", key), exported=True))

    def rules(self, case):
        """All rules beside each other in one of the cases that the record draws, by its number from 0."""
        return self._piece(("rules", case), lambda: PicturePiece(lambda: written_out(rules_compared(self.design, case), UNITS.system)))

    def export(self, path=None, paper="A4"):
        """Write the record as one page without code, HTML or PDF by the ending of the path, by default HTML into `records`, named after the
        site; shows a link to it. Raises PrintingError, a ValueError, for a PDF where nothing can print."""
        target = page_path(
            path or records_folder() / f"{safe_name(self.design.site.file_title).lower()}.html"
        )  # refused before all is drawn
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


IN_DATE = "This record is of the panel as it stands."
OUT_OF_DATE = (
    "OUT OF DATE: the panel has been moved since. Below stands the record of before; make it again to see and to export the new one."
)
MAKING = "Being made: the studies of a building take some seconds. What stands below is the record of before."


class RecordBoard:
    """The record in one screen, with buttons to make it again and to export it; out of date it says so across its top, and exports nothing.

    make: gives the `RecordView` of what the panel shows now; stands: says whether the panel still shows what the last one was made of;
    made: called without arguments once it is made again.
    """

    def __init__(self, make, stands, made=lambda: None):
        self._make, self._stands, self._made, self.view = make, stands, made, make()
        self.line, self.shown, self.written = HTML(layout=Layout(width="auto")), HTML(layout=Layout(width="auto")), HTML()
        self.again = _button("Make it again", self.refresh)
        self.exports = [_button(f"Export {kind.upper()}", lambda kind=kind: self.export(kind)) for kind in ("html", "pdf")]
        bar = HBox([self.again, *self.exports, self.line, self.written], layout=Layout(flex_flow="row wrap", align_items="center"))
        self.widget = VBox([bar, self.shown], layout=Layout(width="100%"))
        self.tell()
        self._write()
        UNITS.listen(self._write)

    def tell(self):
        """Say whether the record is of what the panel shows now."""
        self.in_date = self._stands()
        self._put(f"<div>{IN_DATE}</div>" if self.in_date else verdict_html(Verdict("note", OUT_OF_DATE)))
        for button in self.exports:
            button.disabled = not self.in_date

    def refresh(self):
        """Make the record of what the panel shows now. A site that cannot be judged leaves the record of before, and the reason."""
        self.again.disabled = True  # once is enough
        self._put(verdict_html(Verdict("note", MAKING)))
        try:
            self.view = self._make()
            self._write()
            self.written.value = ""
            self.tell()
            self._made()
        except ValueError as refusal:
            self._put(verdict_html(Verdict("entry", f"{refusal} What stands below is the record of before.")))
        finally:
            self.again.disabled = False

    def export(self, kind):
        """Write the record as a file, and say where."""
        try:
            path = records_folder() / f"{safe_name(self.view.design.site.file_title).lower()}.{kind}"
            self.written.value = self.view.export(path).html
        except ValueError as refusal:
            self.written.value = verdict_html(Verdict("entry", str(refusal)))

    def _put(self, html):
        self.line.value = f'<div role="status" aria-live="polite">{html}</div>'

    def _write(self):
        self.shown.value = board_html(self.view.record)

    def _repr_mimebundle_(self, include=None, exclude=None):
        """Live with the pictures of all sections, which a stored page leaves to the exported record."""
        record = self.view.record
        stored = {"text/html": board_html(record, pictures=False), "text/plain": board_said(record)}
        return self.widget._repr_mimebundle_() | stored


def _button(label, press):
    button = Button(description=label, layout=Layout(width="150px"))
    button.on_click(lambda _: press())
    return button
