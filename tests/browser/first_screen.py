"""Whether a page's answer stands in the first screen of a small laptop: how long a page is, and where a sheet begins."""

__all__ = ["first_screen"]

SIZE = {"width": 1280, "height": 720}
# By page: most of its whole length [px], all folded as it opens.
LONGEST = {"12_design_record.ipynb": 1500}
SECTION_MOST = 7000  # the same with any one section of the record open
# Pages with sheets: the first row of each stands in the screen that begins with its panel.
SHEETS = ("11_commissioning_checks.ipynb",)
PAGE = "document.querySelector('.jp-NotebookPanel:not(.lm-mod-hidden) .jp-WindowedPanel-{}')"
# As the button that runs a page leaves it, whichever page was open before: without the list of files.
ROOM = "() => window.jupyterapp.shell.collapseLeft()"
LENGTH = f"() => {PAGE.format('inner')}.scrollHeight"
SECTIONS = f"""() => {{
    const length = () => {PAGE.format("inner")}.scrollHeight;
    const behind = [...document.querySelectorAll('.board details')].find(
        one => one.firstElementChild.textContent.startsWith('What stands'));
    behind.open = true;
    const found = [...behind.querySelectorAll(':scope > details')].map(one => {{
        one.open = true;
        const pixels = length();
        one.open = false;
        return [pixels, one.firstElementChild.textContent];
    }});
    behind.open = false;
    return found;
}}"""
ROWS = f"""() => [...document.querySelectorAll('.sheet-grid')].map(grid => {{
    const top = grid.closest('.jp-OutputArea').getBoundingClientRect().top;
    const field = grid.querySelector('input').getBoundingClientRect();
    return field.bottom - top - {PAGE.format("outer")}.clientHeight;
}})"""


def first_screen(page, name):
    """Look at the open page as it is once it has run; nothing where nothing is asked of it."""
    size = page.viewport_size
    page.set_viewport_size(SIZE)
    page.evaluate(ROOM)
    page.wait_for_timeout(300)
    if name in LONGEST:
        length, before = page.evaluate(LENGTH), None
        while length != before:  # a busy machine lays the page out late
            page.wait_for_timeout(300)
            before, length = length, page.evaluate(LENGTH)
        assert length <= LONGEST[name], f"{length} px"
        sections = page.evaluate(SECTIONS)
        assert sections
        assert max(sections)[0] <= SECTION_MOST, max(sections)
    if name in SHEETS:
        below = page.evaluate(ROWS)
        assert below
        assert max(below) <= 0, f"a first row ends {max(below):.0f} px below the first screen"
    page.set_viewport_size(size)
