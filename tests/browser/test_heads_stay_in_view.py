"""Whoever has scrolled into a long panel, sheet or result still reads its verdict and what to do, in JupyterLab as a learner has it."""

import pytest
from jupyter_lab import ERRORS, open_and_run, running_lab

# By page: how many parts of it are longer than the window, at the least.
LONG = {
    "08_tuning_and_door_events.ipynb": 2,
    "11_commissioning_checks.ipynb": 3,
    "13_strategy_review.ipynb": 2,
    "17_test_day.ipynb": 2,
    "18_building_as_found.ipynb": 1,
}
SIZE, MOST_PX = {"width": 1280, "height": 720}, 84  # of a head: what to do may take a second line
CONTROLS = 12  # of a part that are gone to, spread over it
PARTS = """() => {
    const outer = document.querySelector('.jp-NotebookPanel:not(.lm-mod-hidden) .jp-WindowedPanel-outer');
    const boxed = one => {
        while (getComputedStyle(one).display === 'contents' || one.matches('.pressure-loop-strip')) one = one.parentElement;
        return one;
    };
    const every = outer.querySelectorAll('.pressure-loop-head, .pressure-loop-strip > .widget-html-content');
    const heads = [...every].filter(one => one.offsetParent);
    window.heads = heads.filter(one => boxed(one.parentElement).clientHeight > 1.3 * outer.clientHeight);
    window.parts = window.heads.map(one => boxed(one.parentElement));
    window.outer = outer;
    return window.heads.map(one => one.textContent.slice(0, 60));
}"""
# With the middle of the part in the middle of the window: where its head is, what lies on it, what is cut off in it.
IN_VIEW = """async number => {
    const head = window.heads[number], part = window.parts[number], still = () => new Promise(done => setTimeout(done, 250));
    const range = one => {  // of a strip what stands under the panel that it lies behind
        const box = one.getBoundingClientRect(), strip = head.parentElement.matches('.pressure-loop-strip');
        const panel = strip && one.querySelector(':scope > .pressure-loop-panel');
        const top = panel ? panel.getBoundingClientRect().bottom : box.top;
        return { top, height: box.bottom - top };
    };
    for (let turn = 0; turn < 4; turn += 1) {  // a cell that was not drawn yet is as long as it is guessed to be
        if (!turn) head.closest('.jp-Cell').scrollIntoView({ block: 'start' });
        await still();
        const box = range(part), room = window.outer.getBoundingClientRect();
        window.outer.scrollTop += box.top + box.height / 2 - room.top - room.height / 2;
    }
    await still();
    const scrolling = () => window.outer.querySelector('[data-is-scrolling="true"]');  // nothing is hit meanwhile
    for (let turn = 0; turn < 20 && scrolling(); turn += 1) await still();
    const room = window.outer.getBoundingClientRect(), box = head.getBoundingClientRect(), lines = [...head.children];
    const seen = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
    const under = head.nextElementSibling?.getBoundingClientRect();
    return { top: box.top - room.top, height: box.height, aside: box.right - room.right, seen: head.contains(seen),
        cut: lines.filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.textContent),
        words: head.textContent, again: !!under && under.bottom > room.top && head.nextElementSibling.matches('.pressure-loop-under') };
}"""
# Of controls that the keyboard goes to: those that lie under the head of their part, or outside the window.
COVERED = """async ([number, count]) => {
    const head = window.heads[number], part = window.parts[number], found = [];
    const every = [...part.querySelectorAll('input, select, button, summary, [tabindex="0"]')];
    const all = every.filter(one => one.offsetParent && !one.disabled);
    const some = all.filter((_, place) => place % Math.max(1, Math.floor(all.length / count)) === 0);
    for (const control of some.reverse()) {  // upwards: towards the head
        control.focus();
        await new Promise(done => setTimeout(done, 60));
        const box = control.getBoundingClientRect(), middle = box.left + box.width / 2;
        const hit = [box.top + 2, box.top + box.height / 2].map(y => document.elementFromPoint(middle, y));
        const covers = hit.some(one => one && head.contains(one));
        if (document.activeElement === control && covers) found.push(control.getAttribute('aria-label') || control.outerHTML.slice(0, 90));
    }
    return [found, all.length];
}"""


@pytest.fixture(scope="module")
def learner(tmp_path_factory):
    """JupyterLab with the workbook's own settings and no others."""
    with running_lab(tmp_path_factory.mktemp("learner"), {}) as lab:
        yield lab


@pytest.fixture(scope="module")
def small(chromium):
    """The window of a small laptop."""
    page = chromium.new_page(viewport=SIZE)
    yield page
    page.close()


@pytest.mark.browser
@pytest.mark.parametrize("name", LONG)
def test_in_the_middle_of_every_long_part_its_verdict_and_what_to_do_are_in_view_and_cover_no_control(small, learner, name):
    open_and_run(small, learner, name)
    small.wait_for_timeout(1500)
    heads = small.evaluate(PARTS)
    assert len(heads) >= LONG[name], heads
    gone_to = 0
    for number in range(len(heads)):
        found = small.evaluate(IN_VIEW, number)
        assert abs(found["top"]) <= 2, found
        assert found["height"] <= MOST_PX, found
        assert found["aside"] <= 0, found
        assert found["seen"], "something lies on it"
        assert found["cut"] == [], found
        assert not found["again"], "the rest of its headline is in view as well"
        assert any(word in found["words"] for word in ("FAIL", "CHECK", "NOT YET", "PASS")), found
        covered, count = small.evaluate(COVERED, [number, CONTROLS])
        assert covered == []
        gone_to += count
    assert gone_to
    assert small.evaluate(ERRORS) == []


@pytest.mark.browser
def test_no_words_of_a_head_are_cut_off_in_the_other_system_of_units(small, learner):
    open_and_run(small, learner, "11_commissioning_checks.ipynb")
    small.locator(".units:visible").first.get_by_role("button", name="in. w.c.").click()
    small.wait_for_timeout(3000)
    heads = small.evaluate(PARTS)
    assert len(heads) >= LONG["11_commissioning_checks.ipynb"]
    told = [small.evaluate(IN_VIEW, number) for number in range(len(heads))]
    assert any("in. w.c." in one["words"] for one in told), told
    assert all(one["cut"] == [] and one["aside"] <= 0 and one["height"] <= MOST_PX for one in told), told
