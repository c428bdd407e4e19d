"""Every page as its reader meets it, one after the other: a worker that waits for a kernel leaves the machine to the other tests."""

import pytest
from jupyter_lab import DONE, open_page
from playwright.sync_api import expect
from reader import PAGES, RUN_MS, TOLD_MS, read_and_move

SHIPPED = "install the workbook anew (pip install -r requirements.txt): it brings settings for JupyterLab"
NEWS = """async () => {
    const { schema } = await window.jupyterapp.serviceManager.settings.fetch('@jupyterlab/apputils-extension:notification');
    return schema.properties.fetchNews.default;
}"""
AT_ITS_TOP = """() => {
    const page = document.querySelector('.jp-NotebookPanel:not(.lm-mod-hidden) .jp-Cell').getBoundingClientRect();
    return page.top > 0 && page.top < window.innerHeight / 3;
}"""


@pytest.mark.browser
def test_a_page_opens_at_its_top_asks_for_no_news_folds_its_code_and_is_run_by_one_button_that_gives_it_room(page, lab):
    open_page(page, lab, "01_pressure_window.ipynb")
    assert page.evaluate(NEWS) == "false", SHIPPED
    assert page.evaluate(AT_ITS_TOP)
    button = page.locator(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-ToolbarButtonComponent-label", has_text="Run the page")
    button.click(timeout=TOLD_MS)
    page.wait_for_function(DONE, polling=100, timeout=RUN_MS)
    page.wait_for_function(AT_ITS_TOP, timeout=TOLD_MS)
    expect(page.locator(".jp-CodeCell .jp-InputPlaceholder").first).to_be_visible()
    expect(page.locator(".jp-CodeCell .jp-InputArea-editor:visible")).to_have_count(1)
    expect(page.locator(".jp-CodeCell .jp-InputArea-editor:visible")).to_contain_text("f.doors.opening_force")
    expect(page.locator(".Toastify__toast")).to_have_count(0)
    assert not page.locator("#filebrowser").is_visible(), SHIPPED  # a page that is run has the room: the letters of its picture need it


@pytest.mark.browser
@pytest.mark.parametrize("name", PAGES)
def test_a_page_runs_and_does_what_its_reader_asks_of_it(page, lab, name):
    read_and_move(page, lab, name)
