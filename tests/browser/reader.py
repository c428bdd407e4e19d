"""What a reader does with a page: opened in JupyterLab, run from top to bottom, its first slider moved; in a lesson a prediction is kept
and compared, and an exercise answered wrong, then right."""

import time
from pathlib import Path

from first_screen import first_screen
from jupyter_lab import DONE, ERRORS, open_and_run
from panel_fits import panel_fits
from playwright.sync_api import expect

from helpers import units
from helpers.lessons import LESSONS
from helpers.teaching.questions import Measured, exercise_of, title_of
from helpers.teaching.seeds import seed_of

__all__ = ["LESSON_OF", "PAGES", "RUN_MS", "TOLD_MS", "read_and_move"]

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
PAGES = [path.relative_to(NOTEBOOKS).as_posix() for path in sorted(NOTEBOOKS.rglob("*.ipynb")) if ".ipynb_checkpoints" not in path.parts]
LESSON_OF = {lesson.notebook: lesson.key for lesson in LESSONS}
# A strategy judged anew takes some 6 s: three times that on a slow machine, and twice as much again among other tests.
RUN_MS, TOLD_MS, PICTURE_S = 300_000, 45_000, 60
KEYS_A_MOVE = 5  # steps of the slider: a single one may be finer than a pixel

HANDLE = ".widget-slider .noUi-handle"
# The pictures a reader sees, each by a digest of its bytes, in the order of the page; null while one is being replaced. Asked again and
# again while one waits: as long as every picture has the address it had, and every drawing its text, the digests are those of before.
PICTURES = """async () => {
    const digest = async bytes => [...new Uint8Array(await crypto.subtle.digest('SHA-256', await bytes))].slice(0, 8).join('-');
    const bytes = async picture => (await fetch(picture.src)).arrayBuffer(), text = drawing => new TextEncoder().encode(drawing);
    const pictures = [...document.querySelectorAll('.jp-OutputArea img')];
    if (pictures.some(picture => !picture.complete)) return null;
    const seen = pictures.filter(picture => picture.naturalWidth > 100);
    const svgs = [...document.querySelectorAll('.jp-OutputArea .widget-html svg')].map(picture => picture.outerHTML);
    const shown = [...seen.map(picture => picture.src), ...svgs], last = window.lastPictures;
    if (last && last.shown.length === shown.length && last.shown.every((one, place) => one === shown[place])) return last.digests;
    const all = [...seen.map(bytes), ...svgs.map(text)].map(digest);
    const digests = await Promise.all(all).catch(() => null);
    window.lastPictures = digests && { shown, digests };
    return digests;
}"""

# Of each table in view, text's and output's: its left edge, at which side heads of more than a letter stand, the ground of its second row.
TABLES = """() => {
    const page = document.querySelector('.jp-NotebookPanel:not(.lm-mod-hidden)');
    const all = [...page.querySelectorAll(':is(.jp-RenderedMarkdown, .jp-OutputArea) table:not(.sheet-grid *)')];
    return all.filter(one => one.offsetParent && one.tBodies[0]?.rows.length > 1 && !one.closest('.pressure-loop-form')).map(one => ({
        text: !!one.closest('.jp-RenderedMarkdown'), left: Math.round(one.getBoundingClientRect().left),
        heads: [...new Set([...one.querySelectorAll('th')].filter(th => !th.querySelector('[style*="vertical"]'))  // of a matrix
            .map(th => getComputedStyle(th).textAlign))],
        ground: getComputedStyle(one.tBodies[0].rows[1]).backgroundColor, line: getComputedStyle(one.tBodies[0].rows[0]).borderBottomWidth,
        words: one.textContent.trim().slice(0, 40) }));
}"""
SIDES, NO_GROUND = {"left", "-webkit-left", "start", "right", "-webkit-right"}, "rgba(0, 0, 0, 0)"


def read_and_move(page, lab, name):
    """Open, run and use the page of this name as its reader does; fails where something does not come."""
    open_and_run(page, lab, name)
    assert page.evaluate(ERRORS) == []
    first_screen(page, name)
    tables_look_alike(page)
    page.locator(".jp-MarkdownCell:visible").last.click(position={"x": 4, "y": 4})  # its last line is the way on
    expect(page.locator(".jp-cell-toolbar:visible")).to_have_count(0)  # no buttons lie on it
    handles = page.locator(HANDLE)
    if handles.count():
        before = pictures_at_rest(page)
        assert before, "a slider and no picture to follow it"
        move(handles.first, page)
        after = pictures_unlike(before, page)
        assert after != before, "the first slider moved and no picture followed"
        assert len(after) == len(before), "the first slider moved and a picture went away"
        letters_stay_in_the_panel(page)
    if name == "14_your_own_site.ipynb":
        add_straight_after_typing(page)
    if name in LESSON_OF:
        predict_and_compare(page)
        answer_wrong_then_right(page, LESSON_OF[name])
    page.wait_for_function(DONE, polling=100, timeout=RUN_MS)
    panel_fits(page)  # last: it turns the units, and the whole page with them
    assert page.evaluate(ERRORS) == []


def tables_look_alike(page):
    """Every table of text begins where all others do; no table has centred heads, rows of another ground or no line under a row."""
    tables = page.evaluate(TABLES)
    odd = [one for one in tables if not set(one["heads"]) <= SIDES or one["ground"] != NO_GROUND or one["line"] != "1px"]
    assert odd == []
    assert len({one["left"] for one in tables if one["text"]}) <= 1, tables


def letters_stay_in_the_panel(page):
    """A letter typed on a control is no command of the notebook: "a" would put in a cell, "r" would take the panel out of its own."""
    cells = page.locator(".jp-Notebook .jp-Cell").count()
    page.locator(".pressure-loop-panel :is(select, .noUi-handle)").first.focus()
    for letter in "ar":
        page.keyboard.press(letter)
    expect(page.locator(".jp-Notebook .jp-Cell")).to_have_count(cells)
    expect(page.locator(".pressure-loop-panel").first).to_be_visible()


def add_straight_after_typing(page):
    """A press on Add that takes the focus from an entry just typed: the entry is taken, a column comes, and no table goes."""
    form = page.locator(".pressure-loop-form")
    form.get_by_role("button", name="Kinds of doors").or_(form.get_by_role("button", name="Doors")).first.click()
    block = form.locator(".block").filter(has=page.get_by_role("button", name="Add door"))
    expect(block).to_be_visible(timeout=TOLD_MS)
    columns, tables = block.locator(".band > .widget-vbox"), form.locator(".block:visible")
    count, all_tables = columns.count(), tables.count()
    for number in range(3):
        entry = columns.nth(1).locator("input").nth(1)
        entry.fill(f"{91 + number} cm")
        block.get_by_role("button", name="Add door").click()  # the entry has not been left before
        expect(columns).to_have_count(count + number + 1 + (count + number - 1) // 4 - (count - 1) // 4, timeout=TOLD_MS)
        expect(tables).to_have_count(all_tables)
        expect(entry).to_have_value(f"{91 + number} cm")
    expect(form.get_by_role("button", name="Undo")).to_be_enabled()


def predict_and_compare(page):
    """Keep the first prediction of the page; what the model says to it stands below at once, and not before."""
    box = page.locator(".widget-vbox").filter(has=page.get_by_role("button", name="Keep my prediction")).first
    comparison = page.locator(".jp-OutputArea .widget-html").filter(has_text="Predict first: choose or type").first
    expect(comparison).to_be_visible(timeout=TOLD_MS)
    told = page.locator(".jp-OutputArea .widget-html").filter(has_text="You said")
    expect(told).to_have_count(0)
    options = box.get_by_role("radio")
    if options.count():
        options.first.check()
    else:
        box.get_by_role("textbox").fill("25")
    box.get_by_role("button", name="Keep my prediction").click()
    expect(box).to_contain_text("Kept", timeout=TOLD_MS)
    expect(told.filter(visible=True).first).to_be_visible(timeout=TOLD_MS)  # the box has its own words, folded till the model answers


def answer_wrong_then_right(page, key):
    """Answer the first exercise that asks for a figure: with a slip and the button, then right and with the Enter key."""
    number, make = next(
        (number, make) for number, make in enumerate(LESSONS.of(key).makers, 1) if isinstance(exercise_of(make, 0).answer, Measured)
    )
    exercise = exercise_of(make, seed_of("", key, make.__name__, 0))  # nobody's name, solved never: as in an empty record
    box = page.locator(".widget-vbox").filter(has_text=f"{number}. {title_of(make)}.").last
    field, slip = box.get_by_role("textbox"), exercise.slips[0]
    field.fill(typed(exercise, slip.gives))
    box.get_by_role("button", name="Check").click()
    expect(box).to_contain_text(slip.hint, timeout=TOLD_MS)
    expect(box).not_to_contain_text("The way there")
    field.fill(typed(exercise, exercise.answer.value))
    page.wait_for_timeout(1200)  # longer than two messages that belong together may lie apart
    field.press("Enter")
    expect(box).to_contain_text("The way there", timeout=TOLD_MS)
    expect(box).not_to_contain_text(slip.hint)


def typed(exercise, value):
    """A value as a reader types it who has a pocket calculator."""
    dimension = exercise.answer.dimension
    return f"{float(value if dimension == 'number' else units.to_display(value, dimension, exercise.system)):.6g}"


def move(handle, page):
    """Move a slider by keyboard some steps up, or down where it stands at its upper end."""
    handle.focus()
    room = float(handle.get_attribute("aria-valuemax")) > float(handle.get_attribute("aria-valuenow"))
    for _ in range(KEYS_A_MOVE):
        page.keyboard.press("ArrowRight" if room else "ArrowLeft")


def pictures_at_rest(page):
    """The pictures once all of them are there: the same for half a second, or none when time is up."""
    end, last = time.monotonic() + PICTURE_S, None
    while (now := page.evaluate(PICTURES)) != last or not now:
        if time.monotonic() > end:
            return []
        last = now
        page.wait_for_timeout(500)
    return now


def pictures_unlike(before, page):
    """The pictures as soon as they differ from those before and none is being replaced, or what is there when time is up."""
    end = time.monotonic() + PICTURE_S
    while ((after := page.evaluate(PICTURES)) is None or after == before) and time.monotonic() < end:
        page.wait_for_timeout(50)
    return after or []
