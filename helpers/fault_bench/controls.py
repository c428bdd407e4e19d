"""What stands on the fault bench's page, and what is chosen there: words and tables of what is known on arrival, of a check, of what was
seen and how it was judged; the case, the checks, the fault that is named; the good hand's way step by step.

Of the functions that make words none names the hidden fault before there is a judgement: none but the last three gets one.
"""

import re
from functools import partial
from html import escape

from ipywidgets import HTML, Button, Checkbox, Dropdown, HBox, Layout, Text, VBox

from helpers.fault_bench.checks import CHECKS, SHEET, place_words
from helpers.fault_bench.faults import CURES, LEVELS
from helpers.fault_bench.record import NUMBERS
from helpers.plots.markup import CELL, HEAD_LINE, LINE, Verdict, cautions_html, html_table, verdict_html
from helpers.plots.picture import Picture
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS, keys_held

CLASS = "pressure-loop-bench"
# The trend and what is known beside the checks, as wide as they need; one under the other where the page is narrow.
STYLE = f"""<style>
.{CLASS} {{ container-type: inline-size; }} .{CLASS} .widget-html-content {{ height: auto; line-height: 1.35; }}
.{CLASS}, .{CLASS} .widget-box, .{CLASS} .widget-gridbox {{ overflow: visible; }}
.{CLASS} .frame {{ display: grid; grid-template-columns: minmax(0, 620px) 440px; gap: 0 16px; align-items: start; }}
.{CLASS} :is(.widget-label, select, input, .widget-checkbox label) {{ font-size: 14px !important; }}
.{CLASS} .widget-label {{ height: auto; line-height: 26px; }}
.{CLASS} :is(.widget-dropdown, .widget-text, select), .{CLASS} .widget-text input {{ height: 28px; }}
.{CLASS} .widget-checkbox {{ height: auto; margin: 0 12px 0 0; }} .{CLASS} dl > dt {{ width: auto; }}
.{CLASS} .look {{ border-bottom: 1px solid #d5dbe1; align-items: center; }}
.{CLASS} .look > .widget-html {{ flex: 1 1 0; min-width: 0; margin: 0; }}
.{CLASS} .look .jupyter-button {{ height: 22px; line-height: 20px; margin: 0 0 0 4px; padding: 0 6px; flex: none; }}
.{CLASS} :is(select, input, button):focus-visible {{ outline: 3px solid #0b3c6f; outline-offset: 2px; }}
@container (max-width: 759px) {{ .{CLASS} .frame {{ grid-template-columns: minmax(0, 620px); }} }}
</style>"""
PLAIN = "font-size:15px;line-height:1.4;max-width:1000px"
PICTURE_PX = {"width_px": 620, "height_px": 400}
NO_LIMIT = "as long as you like"


def look():
    """The style of the bench, to be put into it once; its container has the class CLASS."""
    return HTML(STYLE + keys_held(CLASS), layout=Layout(display="none"))


def heading_html(text):
    """A part's heading."""
    return f'<div role="heading" aria-level="3" style="font-size:16px;line-height:1.4;font-weight:bold">{escape(text)}</div>'


def minutes_words(minutes):
    """A price.

    >>> minutes_words(1), minutes_words(2.5)
    ('1 minute', '2.5 minutes')
    """
    return f"{minutes:g} minute{'' if minutes == 1 else 's'}"


def arrival_rows(case, visit):
    """(what, words) of all that is known before any check, and the minutes."""
    known = ("Complaint", case.complaint()), ("At a door", case.door()), ("Where", case.where())
    return (*known, ("Minutes", budget_words(visit)))


def arrival_html(case, visit):
    """The case as one meets it; the minutes stand over the checks."""
    rows = arrival_rows(case, visit)[:-1]
    points = "".join(f'<dt><b>{escape(what)}</b></dt><dd style="margin:0">{escape(words)}</dd>' for what, words in rows)
    looks = f"{PLAIN};display:grid;grid-template-columns:max-content 1fr;gap:0 12px;margin:0"
    return f'<dl style="{looks}">{points}</dl>'


def budget_words(visit):
    """Minutes spent and left."""
    left = NO_LIMIT if visit.left_min is None else f"{minutes_words(visit.left_min)} left"
    return f"{minutes_words(visit.spent_min)} spent, {left}"


def look_html(check):
    """A check in the list, how it is done where one points at it, and its price where its button has no room for it."""
    looks = "display:flex;justify-content:space-between;gap:6px;font-size:14px;line-height:22px"
    price = f'<span style="white-space:nowrap">{check.minutes:g} min</span>' if check.places else ""
    return f'<div style="{looks}" title="{escape(check.what)}"><span>{escape(check.name)}</span>{price}</div>'


def check_html(check):
    """How a check is done, and before it its cautions."""
    return f'{cautions_html(check.cautions)}<p style="{PLAIN}"><b>How it is done:</b> {escape(check.what)}</p>'


def seen_words(number, seen):
    """A row of the log in a sentence."""
    return f"{number}. {seen.words()} ({minutes_words(seen.minutes)})"


def seen_html(number, seen):
    """The row of the log that was written last."""
    return f'<div style="{PLAIN}"><b>Seen:</b> {escape(seen_words(number, seen))}</div>'


def log_html(taken):
    """All that was seen, the last in the last row."""
    if not taken:
        return f'<p style="{PLAIN}">Nothing yet. What you see is written down here, row by row, and stays.</p>'
    head = "".join(f'<th scope="col" style="{CELL}">{text}</th>' for text in ("No.", "Check", "Where", "What was seen", "Minutes"))
    body = "".join(_row(number, seen) for number, seen in enumerate(taken, 1))
    caption = '<caption style="text-align:left;font-weight:bold;padding:6px 0">What was seen</caption>'
    looks = "border-collapse:collapse;width:100%;font-size:14px;line-height:1.4"
    table = f'<table style="{looks}">{caption}<thead>{HEAD_LINE}{head}</tr></thead><tbody>{body}</tbody></table>'
    return f'<div style="overflow-x:auto">{table}</div>'


def _row(number, seen):
    cells = str(number), escape(seen.check.name), escape(place_words(seen.place)), lines_html(seen), f"{seen.minutes:g}"
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


LABEL_WIDTH = "70px"
NOT_CHOSEN = ""  # and not None, which a list shows as an empty field


class CaseChooser:
    """Level and number of a case. Called back: on_open(level, number), on_level(level), on_new(), on_again(), on_refusal(ValueError)."""

    def __init__(self, on_open, on_level, on_new, on_again, on_refusal):
        self._on_open, self._on_level, self._on_refusal, self._quiet = on_open, on_level, on_refusal, False
        levels = [(f"{level.number}: {level.name}", level.number) for level in LEVELS]
        self.level = Dropdown(description="Level", options=levels, layout=Layout(width="210px"))
        self.number = Text(description="Case number", placeholder="such as 42", continuous_update=False, layout=Layout(width="200px"))
        for field, width in ((self.level, "42px"), (self.number, "104px")):
            field.style.description_width, field.tooltip = width, field.description
            field.observe(self._changed, "value")
        buttons = button("New case", on_new, "auto"), button("This case again", on_again, "auto")
        self.new_button, self.again_button = buttons
        self.told = HTML()
        self.box = VBox([row(self.level, self.number, *buttons, UNITS.switch()), self.told])

    def show(self, level, number):
        """Show which case is open, without calling anybody."""
        self._quiet = True
        self.level.value, self.number.value = level, str(number)
        self._quiet = False

    def _changed(self, change):
        if self._quiet:
            return
        if change["owner"] is self.level:
            self._on_level(self.level.value)
            return
        text = self.number.value.strip()
        if re.fullmatch(r"[0-9]{1,4}", text):
            self._on_open(self.level.value, int(text))
        else:
            self._on_refusal(ValueError(f"Case number must be a whole number from 0 to {NUMBERS - 1}; got {text!r:.60}."))


class CheckChooser:
    """The checks, with a button for each place; one that can hurt says its cautions first, and is taken from there. Called back:
    on_take(key of the check, place or None)."""

    def __init__(self, on_take):
        self._on_take, self.buttons = on_take, {}
        self.minutes, self.about, self.told = HTML(), HTML(), HTML()
        self.take_button, leave = button("Take it", self._take, "auto"), button("Leave it", self.put_off, "auto")
        self.asked = VBox([self.about, row(self.take_button, leave)])
        self.box = VBox([self.minutes, *map(self._line, CHECKS)])
        self.put_off()

    def _line(self, check):
        for place in check.places or (None,):
            made = button(place or f"Take: {check.minutes:g} min", partial(self.choose, check, place), "auto")
            made.tooltip = f"Take: {', '.join(filter(None, (check.name, place_words(place), minutes_words(check.minutes))))}"
            self.buttons[check.key, place] = made
        made = [made for (key, _), made in self.buttons.items() if key == check.key]
        return HBox([HTML(look_html(check)), *made]).add_class("look")

    def choose(self, check, place):
        """Take a check, or ask first where it has a caution."""
        self.put_off()
        if not check.caution:
            self._on_take(check.key, place)
            return
        self.chosen, self.about.value = (check.key, place), check_html(check)
        self.take_button.description = f"Take it: {minutes_words(check.minutes)}"
        self.asked.layout.display = None

    def put_off(self):
        """Nothing is asked any more."""
        self.chosen, self.asked.layout.display = None, "none"

    def _take(self):
        if chosen := self.chosen:
            self.put_off()
            self._on_take(*chosen)


def dropdown(label, options, prompt):
    """A labelled list to choose from, with nothing chosen at first."""
    field = Dropdown(
        description=label, options=[(f"({prompt})", NOT_CHOSEN), *options], layout=Layout(flex="1 1 300px", width="auto", min_width="0")
    )
    field.style.description_width, field.tooltip = LABEL_WIDTH, label
    return field


def button(label, work, width):
    """A button that does some work."""
    made = Button(description=label, layout=Layout(width=width))
    made.on_click(lambda _: work())
    return made


def row(*widgets):
    """Widgets beside each other, on several lines where the page is narrow."""
    return HBox(widgets, layout=Layout(flex_flow="row wrap", align_items="center", overflow="visible"))


NO_EVIDENCE = f'<div style="{PLAIN}">Name it: fault, cure and, as evidence, the checks you took; they can be ticked here.</div>'
EVIDENCE = f'<div style="{PLAIN}">Evidence: tick the checks that prove it, and only those.</div>'


class NameIt:
    """The fields. on_done is called, without arguments, when the learner says that is it."""

    def __init__(self, on_done):
        self.fault = dropdown("The fault", (), "choose what is wrong, or nothing")
        self.cure = dropdown("The cure", (), "choose what to do about it")
        self.asked, self.evidence, self.ticks = HTML(NO_EVIDENCE), row(), {}
        self.done_button, self.told = button("That is it", on_done, "auto"), HTML()
        # A cure is a sentence: it has a row of its own, or half of it would be cut off.
        self.box = VBox([row(self.fault), row(self.cure), self.asked, row(self.evidence, self.done_button), self.told])

    def begin(self, case):
        """Another case, or the same anew: nothing chosen, nothing ticked."""
        self.fault.options = [self.fault.options[0], *((fault.name, fault.key) for fault in case.faults)]
        cures = {fault.cure for fault in case.faults}
        self.cure.options = [self.cure.options[0], *((cure.name, cure.key) for cure in CURES if cure.key in cures)]
        self.fault.value = self.cure.value = NOT_CHOSEN
        ticks, self.ticks = self.ticks, {}
        self.offer(())
        for tick in ticks.values():
            tick.close()

    def offer(self, taken):
        """The checks taken so far, each kind once, to be ticked; what is ticked stays."""
        rows = {}
        for number, seen in enumerate(taken, 1):
            rows.setdefault((seen.check.key, seen.check.name), []).append(str(number))
        for (key, name), numbers in rows.items():
            if key not in self.ticks:
                self.ticks[key] = Checkbox(value=False, indent=False, layout=Layout(width="auto"))
            self.ticks[key].description = f"{name} (row {', '.join(numbers)})"
        if self.evidence.children != tuple(self.ticks.values()):
            self.evidence.children = tuple(self.ticks.values())
        self.asked.value = EVIDENCE if rows else NO_EVIDENCE

    @property
    def answer(self):
        """(fault, evidence, cure) by their keys. Raises ValueError where one is not chosen."""
        for field, what in ((self.fault, "a fault"), (self.cure, "a cure")):
            if field.value == NOT_CHOSEN:
                raise ValueError(f"Choose {what} first.")
        return self.fault.value, tuple(key for key, tick in self.ticks.items() if tick.value), self.cure.value

    def put(self, fault, evidence, cure):
        """Fill in an answer, as a hand would. Raises ValueError for what is not there."""
        for field, key in ((self.fault, fault), (self.cure, cure)):
            if key not in [value for _, value in field.options]:
                raise ValueError(f"{field.description} must be one of the list; got {key!r:.60}")
            field.value = key
        if strange := set(evidence) - set(self.ticks):
            raise ValueError(f"Evidence must be checks that were taken; got {', '.join(sorted(strange)):.60}")
        for key, tick in self.ticks.items():
            tick.value = key in evidence


class Replay:
    """The way of a judgement. `next()` and `back()` are what its buttons do; `picture` and `words` show the step for any other page."""

    def __init__(self, case, judgement):
        self.case, self.steps, self.minutes, self.shown = case, judgement.replay, judgement.replay_min, 1
        self.told = HTML()
        self.back_button, self.next_button = button("◀ Back", self.back, "150px"), button("Next step ▶", self.next, "150px")
        self.box = VBox([HTML(heading_html("A good hand's way")), self.told, row(self.back_button, self.next_button)])
        self.refresh()

    @property
    def step(self):
        """The step shown last."""
        return self.steps[self.shown - 1]

    @property
    def words(self):
        """The step in plain text."""
        return written_out(step_words(self.shown, self.step), UNITS.system)

    @property
    def picture(self):
        """The trend that belongs to the step, its own or that of the arrival, with the sheet's set point once a step fetched it."""
        sheet = any(step.seen and step.seen.check.key == SHEET for step in self.steps[: self.shown])
        own = self.step.seen and self.step.seen.trend(sheet)
        return Picture(**PICTURE_PX).show(written_out(own or self.case.trend(sheet), UNITS.system))

    def next(self):
        """One step more; nothing after the last."""
        self._go(self.shown + 1)

    def back(self):
        """One step less; nothing before the first."""
        self._go(self.shown - 1)

    def refresh(self):
        """Write the steps anew, in the units of the moment."""
        end = (
            f"That is all: {minutes_words(self.minutes)}." if self.shown == len(self.steps) else f"Step {self.shown} of {len(self.steps)}."
        )
        inside = f'{steps_html(self.steps, self.shown)}<p style="{PLAIN}"><b>{end}</b></p>'
        self.told.value = f'<div role="status" aria-live="polite">{written_out(inside, UNITS.system)}</div>'

    def _go(self, shown):
        if 0 < shown <= len(self.steps):
            self.shown = shown
            self.refresh()


def picture_html(picture):
    """A picture inside a page's HTML, with its words."""
    return f'<img src="{picture.source(scale=1)}" alt="{escape(picture.words)}" style="max-width:100%">'
