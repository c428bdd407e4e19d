"""A browser that is asked over a pipe and does not do as asked: whatever it says, the page is printed in the other way or it is told."""

import json
import os
import signal
import sys

import pytest

from helpers.plots import printer

pytestmark = pytest.mark.skipif(not hasattr(os, "posix_spawn"), reason="here each page has a browser of its own")
PAGE = "<h1>Door 7</h1>"
# Speaks the protocol of `printer` at the pipes 3 and 4: answers is {method: result, or a text that is sent as it is}.
PROGRAM = """#!{python}
import base64, json, os, sys
answers, folder = json.loads({answers!r}), {folder!r}
alone = next((one.partition("=")[2] for one in sys.argv if one.startswith("--print-to-pdf=")), "")
if alone:
    if {prints!r}:
        open(alone, "w").write("%PDF alone")
    sys.exit()
heard = b""
while True:
    more = os.read(3, 65536)
    if not more:
        sys.exit()
    heard += more
    while b"\\0" in heard:
        one, _, heard = heard.partition(b"\\0")
        asked = json.loads(one)
        if asked["method"] == "Browser.close":
            sys.exit()
        said = answers.get(asked["method"], {{}})
        if isinstance(said, str):
            os.write(4, said.encode() + b"\\0")
            continue
        os.write(4, json.dumps({{"id": asked["id"], "result": said}}).encode() + b"\\0")
        if asked["method"] == "Page.navigate":
            open(folder + "/opened", "a").write(asked["params"]["url"] + "\\n")
            os.write(4, json.dumps({{"method": "Page.loadEventFired"}}).encode() + b"\\0")
"""
SOUND = {
    "Target.createTarget": {"targetId": "1"},
    "Target.attachToTarget": {"sessionId": "2"},
    "Page.printToPDF": {"data": "JVBERiBwaXBl"},  # "%PDF pipe"
}


@pytest.fixture
def asked(tmp_path, monkeypatch):
    """A printer of a browser that answers so."""

    def of(prints=True, **answers):
        program = tmp_path / "answers"
        said = json.dumps(SOUND | {name.replace("_", "."): value for name, value in answers.items()})
        program.write_text(PROGRAM.format(python=sys.executable, answers=said, folder=str(tmp_path), prints=prints), encoding="utf-8")
        program.chmod(0o755)
        monkeypatch.setattr(printer, "browser", lambda: str(program))
        return printer.Printer()

    return of


def test_what_a_sound_one_prints_is_the_file_and_no_page_is_left_lying(asked, tmp_path):
    with asked() as one:
        for name in ("first.pdf", "second.pdf"):
            assert one.write(PAGE, tmp_path / name).read_bytes() == b"%PDF pipe"
        opened = (tmp_path / "opened").read_text(encoding="utf-8").split()
        assert len(opened) == 2
        assert not any(os.path.exists(page.removeprefix("file://")) for page in opened)


def test_a_page_that_says_that_it_could_not_be_opened_is_no_paper(asked, tmp_path):
    with asked(Page_navigate={"errorText": "net::ERR_FILE_NOT_FOUND"}) as one:
        assert one.write(PAGE, tmp_path / "page.pdf").read_bytes() == b"%PDF alone"
        assert not one.running


@pytest.mark.parametrize(
    ("method", "said"), [("Page_navigate", "not a message"), ("Page_navigate", "[]"), ("Page_printToPDF", {"data": "not base 64!"})]
)
def test_what_is_no_message_is_no_end(asked, tmp_path, method, said):
    with asked(**{method: said}) as one:
        assert one.write(PAGE, tmp_path / "page.pdf").read_bytes() == b"%PDF alone"


def test_where_neither_way_prints_both_are_told(asked, tmp_path):
    with (
        asked(prints=False, Page_navigate={"errorText": "net::ERR_FILE_NOT_FOUND"}) as one,
        pytest.raises(printer.PrintingError, match=r"printed nothing.*asked over a pipe before: .*ERR_FILE_NOT_FOUND"),
    ):
        one.write(PAGE, tmp_path / "page.pdf")


def test_a_file_that_cannot_be_written_is_told_and_the_browser_goes_on(asked, tmp_path):
    (tmp_path / "page.pdf").mkdir()
    with asked() as one:
        with pytest.raises(ValueError, match=r"page.pdf could not be written"):
            one.write(PAGE, tmp_path / "page.pdf")
        assert one.running
        assert one.write(PAGE, tmp_path / "another.pdf").read_bytes() == b"%PDF pipe"


def test_a_browser_that_was_waited_for_already_ends_without_a_fault(asked, tmp_path):
    handles = set(os.listdir("/dev/fd"))
    with asked() as one:
        one.write(PAGE, tmp_path / "page.pdf")
        os.kill(one.running, signal.SIGKILL)
        os.waitpid(one.running, 0)
    assert set(os.listdir("/dev/fd")) <= handles
