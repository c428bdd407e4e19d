"""How right is it? What would change the answer of a site, and what its network leaves out: two tables that follow the unit switch."""

from functools import cache
from pathlib import Path

from ipywidgets import HTML, HBox, Layout, VBox

from helpers.model.site.file import read_site
from helpers.pages.sites import SiteChoice, Together
from helpers.plots.headline import headline_html
from helpers.plots.markup import TEXT, Verdict, folded, html_table, paragraphs_html, verdict_html
from helpers.plots.picture import picture_of
from helpers.plots.plot import Axes, Axis, Plot, Words, bar, level
from helpers.plots.style import INK, PALE, REFERENCE, WARNING, Fill, Pen
from helpers.record.page import figure_html
from helpers.studies.cases import begun
from helpers.studies.report import apart, fine, listed, passed
from helpers.studies.sensitivity import TILE_DIGITS, doubts, left_out
from helpers.studies.status import DESIGNER
from helpers.units.said import in_each, shown_apart, with_unit, written_out
from helpers.widgets.controls import UNITS, keys_held
from helpers.widgets.panel import CLASS, Reading

LARKFIELD = "Larkfield House"
DOUBTS = ("What is not known for sure", "Why", "From … to", "Room left", "Door with the least, worse end", "Supply air",
          "How to know better")  # fmt: skip
BAR = (
    "A bar spans the room left at the two ends of what may be, at each end the door with the least room there, the worse end "
    "first. Where the door changes from end to end, both ends may be worse than what the file has. Left of the line at 0 a door is past "
    "its limit."
)
MENDED_BY_NONE = f"{DESIGNER}: no doubt alone mends it"
ROW_PX = 25  # of a doubt, so that ten of them and their scale stand in one small screen
LEFT_OUT = ("Not in the network", "As much as", "What the figure stands for", "What to do")


_PICKERS = Together()  # of the page: that of the doubts is the first


class SiteReading(Reading):
    """Words about a site that is chosen above them; render(path) gives (HTML, plain text). place: a later one on its page goes along with
    the first, unless a path is given."""

    def __init__(self, render, path=None, place=None):
        along = place and not path
        given = _PICKERS.given if along else {Path(path).stem: path} if path else {}
        self.site = SiteChoice("Site", _PICKERS.name(LARKFIELD) if along else next(iter(given), LARKFIELD), first=given, row=True)
        super().__init__(lambda: render(self.site.path))
        self.site.on_change(self._chosen)
        if along:
            _PICKERS.join(place, self.site)
        elif not place:
            _PICKERS.lead(self.site)
        held = HTML(keys_held(CLASS), layout=Layout(display="none"))
        chosen = HBox(
            [self.site.widget, UNITS.switch()],
            layout=Layout(flex_flow="row wrap", justify_content="space-between", align_items="flex-start"),
        )
        self.box = VBox([held, chosen, self.widget]).add_class(CLASS)

    def _chosen(self):
        try:
            self.refresh()
        except ValueError as refusal:
            self.widget.value = verdict_html(Verdict("entry", str(refusal)))

    def _repr_mimebundle_(self, include=None, exclude=None):
        html, words = self.written
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": words}


def doubts_card(path=None):
    """Each doubt about a site moved to both ends, the one that costs most room first. path of a site file; by default Larkfield House.

    Raises SiteFileError, a ValueError, for a file that cannot be used.
    """
    return SiteReading(lambda chosen: _doubts(*_asked(chosen)), path)


def left_out_card(path=None):
    """What the network of a site leaves out, each with its size. path as in `doubts_card`, and so the errors."""
    return SiteReading(lambda chosen: _left_out(*_asked(chosen)[:2]), path, "left out")


@cache
def _asked(path):
    site = read_site(path)
    return site, *doubts(site)


def _doubts(site, answer, found):
    broken = [doubt for doubt in found if not all(end.good for end in doubt.answers)]
    words = f"{site.name}, winter, doors shut, {answer.stair}, the worse of first minute and after an hour: {answer.says()}. "
    mended = [doubt for doubt in found if any(end.good for end in doubt.answers)]
    words += (
        f"It fails as the site file has it; {len(mended)} of {len(found)} doubts, at one end and alone, would bring every door inside."
        if not answer.good
        else f"{len(broken)} of {len(found)} doubts, taken alone and to the end, put a door outside its window or the loop at its limit; "
        f"first: {_small(broken[0].what)}."
        if broken
        else f"None of {len(found)} doubts, taken alone and to the end, puts a door outside its window."
    )
    rows = [
        (
            doubt.what,
            doubt.why,
            " … ".join(doubt.ends),
            " … ".join(fine(end.margin_pa) for end in doubt.answers),
            doubt.worse.nearest.says() if doubt.worse.nearest else "no door has a limit",
            " … ".join(end.supply_says() for end in doubt.answers),
            doubt.remedy,
        )
        for doubt in found
    ]
    states = ["good" if doubt not in broken else "attention" for doubt in found]
    verdict = _verdict(site, answer, broken, mended, found, words)
    table = html_table(DOUBTS, rows, states)
    shown = headline_html(verdict) + f'<p style="font-size:{TEXT}px;line-height:1.4;margin:4px 0">{BAR}</p>'
    told = "\n".join([str(verdict), BAR, *(" | ".join(row) for row in rows)])
    more = folded("All figures, and how to know better", paragraphs_html([words]) + table)
    return shown + doubts_picture(answer.margin_pa, found) + more, told


def _verdict(site, answer, broken, mended, found, words):
    """Which door is nearest to which limit, and what shortens the longest bar; where it fails, how many doubts would mend it alone, and
    whom to ask: to know better is no cure; else how many doubts use the room up."""
    longest = max(found, key=lambda doubt: doubt.length_pa)
    near, room = answer.nearest, answer.margin_pa
    state = "wrong" if not answer.good else "attention" if broken else "good"
    if near is None:
        return Verdict(state, words)
    used = f"{len(broken)} of {len(found)} doubts use that up" if broken else "no single doubt uses that up"
    figure, limit = apart((near.dp_pa, near.limit_pa), "pressure", near.end, TILE_DIGITS)
    tiles = (
        near.tile(begun(near.place)),
        (f"Longest bar: {_small(longest.what)}", fine(longest.length_pa), ""),
        ("Past a limit at an end", f"{len(broken)} of {len(found)} doubts", "")
        if answer.good
        else ("Would mend it alone", f"{len(mended)} of {len(found)} doubts", ""),
    )
    past = passed(near.dp_pa, near.limit_pa, "pressure", f"at {near.place}", TILE_DIGITS)
    head = past if room < 0 else f"{shown_apart(figure, limit)} left; {used}"
    do = (
        f"Do: {longest.remedy}"
        if answer.good
        else MENDED_BY_NONE
        if not mended
        else f"{DESIGNER}; alone would do: {_small(mended[0].what)}"
    )
    case = f"{site.name}, winter, doors shut, {answer.stair}; one doubt at a time: {_at_worst(found)}"
    return Verdict(state, words, head, tiles, case=case, do=do)


def _at_worst(found):
    """What the doubt that leaves least room comes to at its worse end, with its door, in words."""
    worst = min(found, key=lambda doubt: doubt.worst_pa)
    _, end = min(zip(worst.answers, worst.ends, strict=True), key=lambda pair: pair[0].margin_pa)
    where = ", ".join(filter(None, (worst.worse.nearest and worst.worse.nearest.brief, f"{_small(worst.what)}: {end}")))
    if worst.worst_pa < 0:
        return f"up to {with_unit(-worst.worst_pa, 'pressure', (0, 2))} past a limit ({where})"
    return f"{fine(worst.worst_pa)} left at the worst ({where})"


def _small(words):
    """As it stands inside a sentence."""
    return f"{words[0].lower()}{words[1:]}"


def _ends_said(doubt):
    """Both ends of a doubt, the worse first, each with the door with the least room there; one door once."""
    pairs = sorted(zip(doubt.answers, doubt.ends, strict=True), key=lambda pair: pair[0].margin_pa)
    doors = [answer.nearest.brief if answer.nearest else "" for answer, _ in pairs]
    (_, worse), (_, better) = pairs
    if doors[0] == doors[1]:
        return f"{worse} … {better}: {doors[0]}"
    return f"{worse}: {doors[0]} … {better}: {doors[1]}"


@in_each
def doubts_picture(margin_pa, found, *, system):
    """The room that each doubt leaves, from one end of it to the other, as HTML. margin_pa: as the site stands [Pa]; found: of `Doubt`."""
    rows, layers = len(found), [level(0.0, "x", Pen(WARNING, width=1.8)), level(margin_pa, "x", REFERENCE)]
    for row, doubt in enumerate(reversed(found)):
        rooms = [end.margin_pa for end in doubt.answers]
        looks = Fill(PALE, INK, width=1.0) if min(rooms) >= 0 else Fill("#f3c9d3", WARNING, width=1.0)
        left = min(rooms) < 0  # the words go away from the limit, and never over it
        at, across, aside = (min(rooms), "right", -0.008) if left else (max(rooms), "left", 0.008)
        layers += [bar(row, min(rooms), max(rooms), 0.5, looks), Words(_ends_said(doubt), at, row, across, shift=(aside, 0.0), backed=True)]
    names = tuple(doubt.what for doubt in reversed(found))
    low, high = (end([room.margin_pa for doubt in found for room in doubt.answers] + [0.0]) for end in (min, max))
    side = 0.9 * (high - low)  # for the words beside the bars
    ends = low - side * (low < 0), high + (0.05 * (high - low) if low < 0 else side)
    x = Axis("Room left to the nearest limit of any shut door", "pressure", ends=ends)
    y = Axis(ends=(-0.6, rows - 0.4), ticks=(tuple(range(rows)), names), grid=False)
    sides = ("right", "left") if margin_pa >= 0 else ("left", "right")  # away from each other
    layers += [Words(said, at, 1.01, across, "bottom", colour, over="x") for said, at, across, colour in
               (("limit", 0.0, sides[0], WARNING), ("as it stands", margin_pa, sides[1], INK))]  # fmt: skip
    axes = Axes(x, y, tuple(layers), margins_px=(250, 20, 58, 32))
    words = "; ".join(f"{doubt.what}: {fine(doubt.worst_pa)} left at the worse end ({_ends_said(doubt)})" for doubt in found)
    return figure_html(picture_of(written_out(Plot("doubts", "", (axes,), words, height_px=90 + ROW_PX * rows), system)), scale=1)


def _listed(some):
    """Names of what is left out, as they stand inside a sentence."""
    return listed([_small(one.what) for one in some])


def _left_out(site, answer):
    """What the network leaves out, each held against the room that the site has left as it stands."""
    every, room = left_out(site), answer.margin_pa
    counted = [one for one in every if one.on_top]
    most, beyond = max(counted, key=lambda one: one.pressure_pa), [one for one in counted if one.pressure_pa > room]
    rows = [(one.what, fine(one.pressure_pa), one.basis, one.remedy) for one in every]
    states = ["" if not one.on_top else "attention" if one in beyond else "good" for one in every]
    state, near = "wrong" if room < 0 else "attention" if beyond else "good", answer.nearest
    at = f" at {near.place}" if near else ""
    case = f"{site.name}, winter, doors shut, {answer.stair}"
    if room < 0:
        head = passed(near.dp_pa, near.limit_pa, "pressure", at.strip(), TILE_DIGITS)
        case = f"{case}; {_listed(counted)} would come on top"
    else:
        head = f"{len(beyond)} of {len(counted)} exceed the {fine(room)} left{at}"
    words = (
        "The network has none of them in it. Each alone, at a shut door of that building. What comes on top is what the room in the window "
        "is for; a line without a verdict does not count against it, and says why."
    )
    tiles = [(f"Largest on top: {_small(most.what)}", fine(most.pressure_pa), ""),
             ("Fit in the room left", f"{len(counted) - len(beyond)} of {len(counted)}", "")]  # fmt: skip
    if near:
        tiles.insert(0, near.tile(begun(near.place)))
    do = f"{DESIGNER}: how doors get more room" if room < 0 else f"Do: {most.remedy}" if beyond else ""
    verdict = Verdict(state, words, head, tuple(tiles), case=case, do=do)
    html = headline_html(verdict) + paragraphs_html([words]) + html_table(LEFT_OUT, rows, states)
    return html, "\n".join([str(verdict), *(" | ".join(row) for row in rows)])
