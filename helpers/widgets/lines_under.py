"""Words under a row of a sheet that is filled in, as HTML, and the names that stand in its blanks while nothing is typed."""

import re
from html import escape

from ipywidgets import Dropdown

from helpers.plots.markup import KINDS, LISTS, TEXT
from helpers.plots.style import INK, MUTED
from helpers.studies.commissioning.hand_back import ALARM_BEGINS

SIDE_BY_SIDE = "display:grid;grid-template-columns:repeat(auto-fill,minmax(380px,1fr));gap:0 14px"  # lines under a row
# How lines begin that are dark, those that are long, the one that makes them a step.
READ_FIRST, WIDE, DONE_HERE = ("Who:", "▲", "Do:", "Limit:", "When it fails:"), ("▲", "Do:", "When it fails:"), "Do:"
LONG_DO, LISTED = 60, 4  # words of what is done, from which it stands in lines, and pieces of a sentence from which they are a list
WHOLE = "Who:"  # takes a line by itself
ALARM_BOX = f"border:2px solid {KINDS['wrong'].ink};color:{INK};font-size:{TEXT}px;padding:4px 8px;margin:4px 0;flex:1 1 100%"
BESIDE_STEP = "display:flex;flex-wrap:wrap;gap:0 14px"


def _alarm_html(words):
    """What is done in a real alarm, in a box of its own, a line for each step, and under it for each person who has one of their own."""
    steps = (step.split("; ") for step in re.split(r"; (?=\d )", words))
    lines = "".join(
        f"<div>{escape(step)}</div>" + "".join(f'<div style="padding-left:22px">{escape(one)}</div>' for one in persons)
        for step, *persons in steps
    )
    return f'<div style="{ALARM_BOX}"><b>▲ REAL ALARM</b>{lines}</div>'


def grey_lines(lines):
    """Lines side by side where there is room, "" for none: in grey, but what is done, allowed or dangerous as dark and large as text. What
    is done, and its caution, take two thirds of a line, what is expected of it the rest."""
    lines = [line for line in lines.split("\n") if line]
    steps = any(line.startswith(DONE_HERE) for line in lines)
    told = ""
    for line in lines:
        looks = f"color:{INK};font-size:{TEXT}px;" * line.startswith(READ_FIRST)
        share = "1 1 100%" if line.startswith(WHOLE) else "2 1 60%" if line.startswith(WIDE) else "1 1 28%"
        looks += f"flex:{share};min-width:190px" * steps
        line, alarm, steps_of_it = line.partition(ALARM_BEGINS)
        told += f'<div style="{looks}">{_in_steps(line) if line.startswith(DONE_HERE) else escape(line)}</div>'
        told += _alarm_html(steps_of_it) if alarm else ""
    return told and f'<div style="color:{MUTED};{BESIDE_STEP if steps else SIDE_BY_SIDE}">{told}</div>'


def _in_steps(do):
    """HTML of what is done: a line a sentence where it is long, and what a sentence lists under it, numbered where its order matters.

    >>> _in_steps("Do: one thing.")
    'Do: one thing.'
    """
    if len(do.split()) <= LONG_DO:
        return escape(do)
    return points_html(do.removeprefix(DONE_HERE).lstrip(), f"<b>{DONE_HERE}</b> ")


def points_html(text, begins=""):
    """HTML of sentences, a line each, and what one lists under it, numbered where its order matters; begins: HTML before the first.

    >>> points_html("Tell all. Some: a; b; c; d.", "<b>A</b> ").count("<li>")
    4
    """
    made = ""
    for sentence in re.split(r"(?<=\.)\s+(?=[A-Z])", text):
        head, _, listed = sentence.partition(": ")
        items = [item.removeprefix("then ") for item in LISTS.split(listed.rstrip("."))]
        if len(items) < LISTED:
            made, begins = f"{made}<div>{begins}{escape(sentence)}</div>", ""
            continue
        points = "".join(f"<li>{escape(item)}</li>" for item in items)
        kind = "ol" if "order" in head else "ul"
        made += f'<div>{begins}{escape(head)}:</div><{kind} style="margin:0;padding-left:22px">{points}</{kind}>'
        begins = ""
    return made


def short_head(head, asked):
    """A head as short as a blank has room for; asked: with the mark of a question, in a list, where it may not look like a choice.

    >>> short_head("Minutes, fan after it", False), short_head("Shuts, latches", True)
    ('Minutes', 'Shuts?')
    """
    return re.split("[,:]", head)[0] + "?" * bool(head and asked)


def hint_in(widget, words):
    """Show words in a blank while nothing is typed; in a list they stand for nothing chosen."""
    if not isinstance(widget, Dropdown):
        widget.placeholder = words
        return
    chosen, kept = widget.value, [one if isinstance(one, str) else one[1] for one in widget.options]
    options = ((words, ""), *((word, word) for word in kept if word))
    if tuple(widget.options) != options:
        widget.options = options  # which chooses the first
        widget.value = chosen
