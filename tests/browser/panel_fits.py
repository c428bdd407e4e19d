"""Whether a panel fits its page: nothing cut off in either system of units, no scrolling inside or over it on small screens, figures that
can be typed over, and the keyboard from the controls to the tasks."""

from itertools import pairwise

from playwright.sync_api import expect

__all__ = ["panel_fits"]

SIZES = ((1280, 720), (1366, 640), (1920, 1080))
TOLD_MS = 45_000  # on a slow machine among other tests
LEAST_PX = 24  # of what is clicked, WCAG 2.2 (memory)
RIGHT_PX = 16  # from a switch of units to the right edge of what it belongs to
TRACK_PX, VALUE_PX = 32, (72, 28)  # height in which a track is hit; of the field over it
PANEL, BOX = ".pressure-loop-panel:has(> .frame)", ":is(.pressure-loop-box, .pressure-loop-bench, .pressure-loop-panel:not(:has(> .frame)))"
# What is wider than the box it stands in: labels, buttons, the longest option of a list, the hint of an empty field.
CUT_OFF = """panel => {
    const pen = document.createElement('canvas').getContext('2d');
    const wide = (text, style) => {
        pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
        return pen.measureText(text).width;
    };
    const seen = [...panel.querySelectorAll('label, button, select, input[type=text]')].filter(
        one => one.offsetParent && !one.closest('.sheet-grid'));  // a column of a sheet is narrow, its list opens as wide as its words
    return seen.flatMap(one => {
        const style = getComputedStyle(one), room = one.clientWidth - (one.tagName === 'SELECT' ? 24 : 8);
        const texts = one.tagName === 'SELECT' ? [...one.options].map(option => option.textContent)
            : one.tagName === 'INPUT' ? [one.placeholder] : [];
        const cut = texts.filter(text => wide(text, style) > room);
        return one.scrollWidth > one.clientWidth + 1 && one.tagName !== 'INPUT' ? [...cut, one.textContent] : cut;
    });
}"""
FITS = """panel => {
    const page = panel.closest('.jp-NotebookPanel').querySelector('.jp-WindowedPanel-outer');
    const bars = [...panel.querySelectorAll('*')].filter(one => {
        const style = getComputedStyle(one), full = one.scrollHeight > one.clientHeight + 1 || one.scrollWidth > one.clientWidth + 1;
        return full && one.offsetParent && /auto|scroll/.test(style.overflowX + style.overflowY);
    });
    const picture = panel.querySelector('.answer img').getBoundingClientRect(), whole = panel.getBoundingClientRect();
    return { over: whole.height - page.clientHeight, aside: panel.querySelector('.frame').scrollWidth - whole.width,
        bars: bars.map(one => one.className), shape: picture.width / picture.height };
}"""
# Of each slider in view: in how many rows of pixels its track is hit, where its thumb is not; its field; the figures at its ends.
SLIDERS = """panel => [...panel.querySelectorAll('.pressure-loop-control:has(.noUi-target)')].filter(one => one.offsetParent).map(one => {
    one.scrollIntoView({ block: 'center' });
    const box = one.getBoundingClientRect(), thumb = one.querySelector('.noUi-handle').getBoundingClientRect();
    const x = thumb.left - box.left > box.width / 2 ? box.left + box.width / 4 : box.left + box.width * 3 / 4;
    const rows = [...Array(Math.ceil(box.height) + 20).keys()].map(row => document.elementFromPoint(x, box.top - 10 + row));
    const field = one.querySelector('.pressure-loop-value input').getBoundingClientRect();
    const ends = one.querySelectorAll('.pressure-loop-ends span');
    const hit = rows.filter(found => found && one.querySelector('.noUi-target').contains(found)).length;
    return [hit, field.width, field.height, [...ends].map(end => end.textContent)];
})"""
ASIDE = "all => all.map(one => one.parentElement.getBoundingClientRect().right - one.getBoundingClientRect().right)"
# Where the keyboard goes, one place after the other.
WHERE = """() => {
    const one = document.activeElement, box = one.closest('.hand, .answer, .foot')?.className || '';
    return [/hand|answer|foot/.exec(box)?.[0] || '', one.getBoundingClientRect().top, one.getAttribute('aria-label') || one.title
        || one.labels?.[0]?.textContent || one.textContent, getComputedStyle(one).outlineWidth];
}"""


def panel_fits(page):
    """Look at the first panel of the open page; nothing where there is none."""
    size = page.viewport_size
    page.set_viewport_size(dict(zip(("width", "height"), SIZES[0], strict=True)))  # the narrowest: there a list is cut off first
    page.wait_for_timeout(100)
    cut = [words for box in page.locator(BOX).all() for words in box.evaluate(CUT_OFF)]
    page.set_viewport_size(size)
    assert cut == [], f"cut off in a box: {cut}"
    aside = page.locator(".units:visible").evaluate_all(ASIDE)
    assert all(abs(px) <= RIGHT_PX for px in aside), f"switches of units from the right edge of what they belong to: {aside} px"
    panel = page.locator(PANEL).first
    if not panel.count():
        return
    more = panel.get_by_role("button", name="More")
    for wide, high in SIZES:
        page.set_viewport_size({"width": wide, "height": high})
        page.wait_for_timeout(100)
        fits = panel.evaluate(FITS)
        assert fits["over"] <= 0, f"{wide} x {high}: {fits['over']:.0f} px too high"
        assert (fits["aside"], fits["bars"]) == (0, []), f"{wide} x {high}"
        assert abs(fits["shape"] - 796 / 400) < 0.03, f"{wide} x {high}: the picture is out of shape"
    sliders = panel.evaluate(SLIDERS)
    assert all(hit >= TRACK_PX and wide >= VALUE_PX[0] and high >= VALUE_PX[1] for hit, wide, high, _ in sliders), sliders
    assert all(float(least) < float(most) for *_, (least, most) in sliders), sliders
    _a_figure_is_typed_over(panel)
    _the_keyboard_goes_from_the_controls_to_the_tasks(page, panel)
    if more.count():
        more.click()
    pressures = panel.locator("label", has_text="[Pa]").count()
    for system in ("in. w.c.", "Pa"):
        panel.locator(".units").get_by_role("button", name=system).click()
        if pressures:
            expect(panel.locator("label", has_text=f"[{system}]")).to_have_count(pressures, timeout=TOLD_MS)
        cut = panel.evaluate(CUT_OFF)
        assert cut == [], f"cut off in {system}: {cut}"
    if more.count():
        more.click()
    _a_later_switch_turns_all_of_them_by_keyboard(page, panel)
    page.set_viewport_size(size)


def _a_later_switch_turns_all_of_them_by_keyboard(page, panel):
    """The switch of a page's last panel or box is reached by Tab, has a ring, is turned by the space bar, and the first panel follows; all
    of them look alike and stand at the right."""
    switches = page.locator(".units:visible")
    looks = switches.evaluate_all("all => all.map(one => getComputedStyle(one.querySelector('button')).fontSize)")
    assert len(set(looks)) == 1, looks
    link = switches.last.get_by_role("button", name="in. w.c.")
    for _ in range(5):  # a panel that still writes takes the focus along
        link.focus()
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Tab")
        found = link.evaluate("one => [document.activeElement === one, getComputedStyle(one).outlineWidth]")
        box = link.bounding_box()  # none of a link that is just written anew
        if found == [True, "2px"] and box:
            break
        page.wait_for_timeout(400)
    assert found == [True, "2px"]
    assert box["height"] >= LEAST_PX
    for system in ("in. w.c.", "Pa"):
        button = switches.last.get_by_role("button", name=system)
        for _ in range(5):  # a panel that still writes takes the focus along before the key is heard
            button.focus()
            page.keyboard.press("Space")
            page.wait_for_timeout(400)
            if system in (panel.locator(".units .mod-active").text_content() or ""):
                break
        expect(panel.locator(".units .mod-active")).to_contain_text(system, timeout=TOLD_MS)


def _a_figure_is_typed_over(panel):
    """What is no number is told, and the figure of before puts it right again."""
    field = panel.locator(".pressure-loop-value input:visible").first
    if not field.count():
        return
    before = field.input_value()
    for text, told in (("much", 1), (before, 0)):
        field.fill(text)
        field.press("Enter")
        expect(panel.locator("[role=status]").get_by_text("NOT USED")).to_have_count(told, timeout=TOLD_MS)


def _the_keyboard_goes_from_the_controls_to_the_tasks(page, panel):
    """Tab: the left column from top to bottom, then the tasks; each stop has a name and a ring."""
    panel.locator(".hand :is(select, input, .noUi-handle, button):visible").first.focus()
    stops = []
    for _ in range(60):
        page.keyboard.press("Tab")
        stops.append(page.evaluate(WHERE))
        if stops[-1][0] not in ("hand", "foot"):
            break
    kept = [stop for stop in stops if stop[0] in ("hand", "foot")]
    hand = [top for where, top, *_ in kept if where == "hand"]
    assert [where for where, *_ in kept] == sorted((where for where, *_ in kept), key=("hand", "foot").index), kept
    assert all(later > earlier - 40 for earlier, later in pairwise(hand)), hand
    assert all(name.strip() and ring == "2px" for *_, name, ring in kept), kept
    assert len(kept) >= 3, stops
