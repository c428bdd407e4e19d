"""The fault bench in words and tables: what is known on arrival, what a check is, what was seen, how it was judged, the good hand's way.

Nothing here names the hidden fault before there is a judgement: no function but the last three gets one.
"""

from html import escape

from ipywidgets import HTML, Layout

from helpers.plots.markup import CELL, HEAD_LINE, LINE, Verdict, cautions_html, html_table, verdict_html
from helpers.widgets.controls import keys_held

CLASS = "pressure-loop-bench"
# Letters of 12 points everywhere, for a projector; what the keyboard stands on is framed.
STYLE = f"""<style>
.{CLASS} :is(.widget-label, select, input, button, table), .{CLASS} .widget-checkbox label {{ font-size: 16px !important; }}
.{CLASS} .widget-label {{ height: auto; line-height: 34px; }}
.{CLASS} :is(.widget-dropdown, .widget-text, select, button), .{CLASS} .widget-text input {{ height: 34px; }}
.{CLASS} .widget-checkbox {{ height: auto; min-height: 30px; }}
.{CLASS} dl > dt {{ width: auto; }}
.{CLASS} :is(select, input, button):focus-visible {{ outline: 3px solid #0b3c6f; outline-offset: 2px; }}
</style>"""
PLAIN = "font-size:16px;line-height:1.45;max-width:1000px"
NO_LIMIT = "as long as you like"


def look():
    """The style of the bench, to be put into it once; its container has the class CLASS."""
    return HTML(STYLE + keys_held(CLASS), layout=Layout(display="none"))


def heading_html(text):
    """A part's heading."""
    return (
        f'<div role="heading" aria-level="3" style="font-size:18px;line-height:1.4;font-weight:bold;padding-top:8px">{escape(text)}</div>'
    )


def minutes_words(minutes):
    """A price.

    >>> minutes_words(1), minutes_words(2.5)
    ('1 minute', '2.5 minutes')
    """
    return f"{minutes:g} minute{'' if minutes == 1 else 's'}"


def arrival_rows(case, visit):
    """(what, words) of all that is known before any check, and the minutes."""
    return (
        ("Complaint", case.complaint()),
        ("At a door", case.door()),
        ("Where", f"{case.site_name}, {case.mode}"),
        ("Minutes", budget_words(visit)),
    )


def arrival_html(case, visit):
    """The case as one meets it, and the minutes."""
    rows = arrival_rows(case, visit)
    points = "".join(f'<dt><b>{escape(what)}</b></dt><dd style="margin:0">{escape(words)}</dd>' for what, words in rows)
    looks = f"{PLAIN};display:grid;grid-template-columns:112px 1fr;gap:2px 8px;margin:4px 0"
    return f'<dl style="{looks}">{points}</dl>'


def budget_words(visit):
    """Minutes spent and left."""
    left = NO_LIMIT if visit.left_min is None else f"{minutes_words(visit.left_min)} left"
    return f"{minutes_words(visit.spent_min)} spent, {left}"


def check_label(check):
    """A check in the list to choose from."""
    return f"{check.name} ({check.minutes:g} min)"


def check_html(check):
    """How a check is done, and before it its caution."""
    if check is None:
        return f'<p style="{PLAIN}">Choose a check. What it costs stands beside it; the same one taken twice costs twice.</p>'
    caution = cautions_html([check.caution]) if check.caution else ""
    return f'{caution}<p style="{PLAIN}"><b>How it is done:</b> {escape(check.what)}</p>'


def seen_words(number, seen):
    """A row of the log in a sentence."""
    return f"{number}. {seen.words()} ({minutes_words(seen.minutes)})"


def seen_html(number, seen):
    """The row of the log that was written last."""
    return f'<p style="{PLAIN}"><b>Seen:</b> {escape(seen_words(number, seen))}</p>'


def log_html(taken):
    """All that was seen, the last in the last row."""
    if not taken:
        return f'<p style="{PLAIN}">Nothing yet. What you see is written down here, row by row, and stays.</p>'
    head = "".join(f'<th scope="col" style="{CELL}">{text}</th>' for text in ("No.", "Check", "Where", "What was seen", "Minutes"))
    body = "".join(_row(number, seen) for number, seen in enumerate(taken, 1))
    caption = '<caption style="text-align:left;font-weight:bold;padding:6px 0">What was seen</caption>'
    looks = "border-collapse:collapse;width:100%;line-height:1.4"
    table = f'<table style="{looks}">{caption}<thead>{HEAD_LINE}{head}</tr></thead><tbody>{body}</tbody></table>'
    return f'<div style="overflow-x:auto">{table}</div>'


def _row(number, seen):
    cells = str(number), escape(seen.check.name), escape(seen.place or ""), lines_html(seen), f"{seen.minutes:g}"
    widths = "", ";width:24%", "", ";width:62%", ""
    inside = "".join(f'<td style="{CELL}{width}">{cell}</td>' for cell, width in zip(cells, widths, strict=True))
    return f"{LINE}{inside}</tr>"


def lines_html(seen):
    """What a check showed, figure under figure; a long sheet in columns, so that two can be laid side by side."""
    lines = "".join(
        f'<div style="break-inside:avoid">{escape(label)}: <b style="white-space:nowrap">{escape(value)}</b></div>'
        for label, value in seen.lines()
    )
    return f'<div style="columns:225px;column-gap:16px">{lines}</div>'


def verdict_of(judgement):
    """The judgement as a `Verdict`."""
    proved = judgement.fault_right and judgement.cure_right and judgement.evidence_right
    kind = "right" if proved else "open" if judgement.fault_right else "missed"
    return Verdict(kind, judgement.words())


def judgement_html(judgement):
    """Verdict, the score's reckoning, needless checks, and what would still have looked the same."""
    rows = [(words, f"{points:+g}") for words, points in judgement.reckoning] + [("Score", f"{judgement.score:g} of 100")]
    reckoning = html_table(("What for", "Points"), rows, title="The score")
    return f"{verdict_html(verdict_of(judgement))}{reckoning}{paragraphs(left_words(judgement))}"


def left_words(judgement):
    """What the checks taken could not tell apart, and what they told twice, in a sentence each."""
    names = [fault.name for fault in judgement.left]
    if len(names) < 2:
        yield "What you looked at leaves nothing else: no other fault of the list would have shown you the same."
    else:
        yield f"What still looked the same after all you looked at: {', '.join(names)}."
    if judgement.needless:
        yield f"Told nothing that the others did not tell: {', '.join(seen.title for seen in judgement.needless)}."


def paragraphs(texts):
    """A paragraph for each text."""
    return "".join(f'<p style="{PLAIN}">{escape(text)}</p>' for text in texts)


def step_words(number, step):
    """A step of the good hand's way in a sentence or two."""
    return f"{number}. ({_price(step)}) {step.words()}"


def steps_html(steps, shown):
    """The good hand's way as far as it is shown, the newest step marked."""
    points = ""
    for number, step in enumerate(steps[:shown], 1):
        newest = "border-left:5px solid #0b3c6f;padding-left:8px" if number == shown else "padding-left:13px"
        points += f'<div style="margin:8px 0;{newest}">{_step_html(number, step)}</div>'
    return f'<div style="{PLAIN}">{points}</div>'


def _step_html(number, step):
    """What is looked at and seen, what comes of laying it beside something else, and who is left."""
    title = step.seen.title if step.seen else "what is known on arrival"
    head = f"<b>{number}. {escape(title[0].upper() + title[1:])}</b> ({_price(step)})"
    seen = lines_html(step.seen) if step.seen else ""
    told = "".join(f"<div>▸ {escape(what[0].upper() + what[1:])}: <b>{escape(outcome)}</b></div>" for what, outcome in step.told)
    return f"{head}{seen}{told}<div>{escape(step.left_words)}</div>"


def _price(step):
    return minutes_words(step.minutes) if step.minutes else "free"
