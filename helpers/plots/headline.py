"""The headline of a panel, a sheet or a result: verdict, which door, by how much, and what to do stay in view while its part is scrolled.

Mark, head and what to do stand in one block that sticks to the top of the page (public CSS, `position: sticky`) as long as the part that it
heads is in view: all that follows it in the same box. So a screen of a long table has its answer on it, and there is no copy to be read out
twice. What it is of
(the case) stands beside a figure as far as it is short; the rest of it and the tiles scroll away.
"""

import re
from html import escape

from ipywidgets import HTML

from helpers.model.files import page_part
from helpers.plots.markup import HEAD, KINDS, SMALL, TEXT, graver_first, judged_html
from helpers.units.said import in_each

HEAD_CLASS, LINE_CLASS, PART_CLASS = "pressure-loop-head", "pressure-loop-line", "pressure-loop-part"
UNDER_CLASS, STRIP_CLASS = "pressure-loop-under", "pressure-loop-strip"
HEADS_STYLE = f"<style>\n{page_part('heads.css')}\n</style>"
# Beside the class, for a page whose style sheet was left out by who shows it: what is not trusted yet.
_STUCK = "position:sticky;top:0;z-index:6;background:var(--jp-layout-color0,#fff)"

_WITH_UNIT = re.compile(r"\d ?(Pa|in\. w\.c\.|N|lbf|Hz|%|s|min|°[CF]|m|ft)(?!\w)")
MOST_CASE = 12  # words of a case beside a head: ours
LETTER_PX = 0.55  # width of a letter by its size, a little more than pages measure (18 px: 8.6, 13 px: 6.4, 15 px: 7.4)
MOST_STUCK = 30  # words of what has no head: more would stand over half of what they are of
_HEARD = ' role="status" aria-live="polite"'  # read out as it changes
_UNSEEN = "position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)"


def headline_html(verdict, key=""):
    """The headline of all that follows it in the same box: its head and what to do, which stay in view, then what it is of and a tile for
    each figure; what has no head is told whole, and does not stay in view. key: as of `headed`."""
    stuck, under = _blocks(verdict)
    stuck += f'<div style="font-size:{SMALL}px;line-height:1.3;padding:0 12px">{escape(key)}</div>' if key else ""
    return f"{_head_html(stuck) if verdict.head else stuck}{under}"


@in_each
def told_in_view(verdict):
    """The headline of what follows it in the same box, of a `Verdict` without a head: its words and what to do stay in view. They are to be
    few."""
    said = graver_first([(verdict.kind, verdict.words), *([verdict.also] if verdict.also else [])])
    return _head_html("".join(judged_html(kind, escape(words), TEXT) for kind, words in said) + _to_do_html(verdict.do))


def headed(verdict, inside, key=""):
    """A part of a page: the headline of a `Verdict` over the HTML that it is of, and no further; key: how its marks are read, in small
    letters that stay in view with a head."""
    return f'<section class="{PART_CLASS}">{headline_html(verdict, key)}{inside}</section>'


@in_each
def _blocks(verdict):
    """The lines that stay in view, and what stands under them (HTML)."""
    if not verdict.head:
        return judged_html(verdict.kind, escape(verdict.words), TEXT), ""
    decides = _deciding(verdict)
    looks = f"flex:1 1 0;border-left:3px solid #d5dbe1;padding:0 8px;font-size:{SMALL}px;line-height:1.2"
    value = f'<b style="font-size:{TEXT}px">'
    tiles = "".join(
        f'<span style="{looks}">{escape(what)}<br>{value}{escape(_bare(figure, limit))}</b>{f" / {escape(limit)}" if limit else ""}</span>'
        for what, figure, limit in (one for one in verdict.tiles if one is not decides)
    )
    beside = _tile_said(decides) if decides else _case_beside(verdict)
    rest = verdict.case if decides else verdict.case.removeprefix(beside).removeprefix("; ")
    case = f'<div style="font-size:{SMALL}px;line-height:1.35;padding:0 12px">{escape(rest)}</div>' if rest else ""
    said = [(verdict.kind, f"{escape(verdict.head)}{_small(beside)}")]
    if verdict.also:
        kind, (also, _, also_case) = verdict.also[0], verdict.also[1].partition("; ")
        said.append((kind, f"{escape(also)}{_small(also_case)}"))
    head = "".join(judged_html(*one, HEAD, 2) for one in graver_first(said))
    return f"{head}{_to_do_html(verdict.do)}", f'{case}<div style="display:flex;gap:8px;padding:2px 0">{tiles}</div>'


@in_each
def two_lines_in(verdict, width_px):
    """Whether what stays in view of a `Verdict` has one line for its head and one for what to do in a page so wide [px]; estimated by its
    letters, on the safe side.

    >>> from helpers.plots.markup import Verdict
    >>> [two_lines_in(Verdict("open", "w", "2 of 9 doors measured", do=f"Do: {'measure on ' * many}"), 900) for many in (3, 12)]
    [True, False]
    """
    if not verdict.head or verdict.also:
        return False
    decides = _deciding(verdict)
    beside = _tile_said(decides) if decides else _case_beside(verdict)
    mark = len(KINDS[verdict.kind].word) + 4
    lines = ((len(verdict.head) + mark) * HEAD + len(beside) * SMALL, len(verdict.do) * TEXT)
    return max(lines) * LETTER_PX <= width_px


def _small(words):
    """What stands beside a head in small letters, broken as a whole where the line is too short; nothing for no words."""
    return words and f' <span style="font-size:{SMALL}px;display:inline-block">{escape(words)}</span>'


def _case_beside(verdict):
    """The case of a head with a figure, as far as it stands beside it: two pages may have two figures of one door, each of its own case.

    >>> from helpers.plots.markup import Verdict
    >>> _case_beside(Verdict("wrong", "w", "25 Pa over 35 Pa at door 0", case="winter, doors shut; 2 more"))
    'winter, doors shut'
    """
    case = verdict.case.partition("; ")[0]
    return case if _WITH_UNIT.search(verdict.head) and not verdict.also and len(case.split()) <= MOST_CASE else ""


def _deciding(verdict):
    """The tile that says by how much, beside a head without a figure that stands alone; "" for none.

    >>> from helpers.plots.markup import Verdict
    >>> _deciding(Verdict("wrong", "w", "4 of 9 doors fail", (("Done", "0 of 9", ""), ("Worst", "60 Pa", "max. 35 Pa")), do=""))
    ('Worst', '60 Pa', 'max. 35 Pa')
    >>> _deciding(Verdict("wrong", "w", "25 Pa over 35 Pa at door 0", (("Worst", "60 Pa", "max. 35 Pa"),)))
    ''
    """
    if verdict.also or _WITH_UNIT.search(verdict.head):
        return ""
    return next((one for one in verdict.tiles if one[2].startswith(("max. ", "min. "))), "")


def _tile_said(tile):
    """A tile in a line."""
    what, figure, limit = tile
    return f"{what} {_bare(figure, limit)} / {limit}"


def _head_html(inside, more=""):
    """The block that stays in view; more: attributes."""
    return f'<div class="{HEAD_CLASS}" style="{_STUCK}"{more}>{inside}</div>'


def _bare(figure, limit):
    """A figure without its unit where its limit beside it has the same; a per cent keeps its sign, without which it is read as a count.

    >>> _bare("60 Pa", "max. 61 Pa"), _bare("25.0 Pa", ""), _bare("0.35 %/%", "1.41 largest"), _bare("8.6 %", "FAIL under 50 %")
    ('60', '25.0 Pa', '0.35 %/%', '8.6 %')
    """
    number, _, unit = figure.partition(" ")
    return number if unit not in ("", "%") and limit.endswith(f" {unit}") and number.lstrip("-−+±").replace(".", "").isdigit() else figure


def _to_do_html(do):
    """What to do, the word for it bold; nothing where nothing is."""
    word, _, told = do.partition(" ")
    return do and f'<div class="do" style="padding:1px 12px 0;font-size:{TEXT}px;line-height:1.35"><b>{word}</b> {escape(told)}</div>'


class VerdictLine:
    """The verdict over a live picture or sheet. Screen readers hear it as it changes, and with it the picture in words.

    Its boxes are those of its parent (`heads.css`), which it heads: it stays in view as long as that is scrolled through. strip: the same
    lines for what stands under a panel: put before it into one box with both, they have no height, lie behind the panel, and come into view
    as it goes; not read out, since they say nothing new.
    """

    def __init__(self):
        self.verdict = None
        self.widget, self.strip = HTML().add_class(LINE_CLASS), HTML().add_class(STRIP_CLASS)

    def say(self, verdict, picture_words=""):
        """Show a verdict; picture_words are read out and not shown."""
        self.verdict = verdict
        stuck, under = _blocks(verdict)
        self.strip.value = f'<div aria-hidden="true">{stuck}</div>' if verdict.head else ""
        read_out = f'{stuck}<span style="{_UNSEEN}">{escape(picture_words)}</span>'
        long = not verdict.head and len(verdict.words.split()) > MOST_STUCK
        head = f"<div{_HEARD}>{read_out}</div>" if long else _head_html(read_out, _HEARD)
        self.widget.value = head + (under and f'<div class="{UNDER_CLASS}"{_HEARD}>{under}</div>')
