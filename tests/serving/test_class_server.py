"""The class server as learners meet it, without a browser: who gets in, what a desk sees, what too much of anything is answered with."""

import asyncio
import base64
import json
import re
import sys
from html import escape
from pathlib import Path

import pytest
from class_bench import Learner, Server
from tornado.httpclient import AsyncHTTPClient, HTTPRequest
from tornado.web import create_signed_value

from helpers.serving import kernel_process, pages
from helpers.serving.class_server import _secret
from helpers.serving.desks import Desk, Desks
from helpers.teaching.record import LearnerRecord

if sys.platform == "win32":
    pytest.skip("a server of this kind runs on Linux and macOS", allow_module_level=True)
LESSON = "/voila/render/01_pressure_window.ipynb"
NASTY = "\"Bob'&<script>alert(1)</script>"
PARTS = "multipart/form-data; boundary=part"


class Visitor(Learner):
    """A learner whose steps wait until they are done."""

    def get(self, path):
        return asyncio.run(self.fetch(path))

    def take_desk(self, name=None, class_word=None):
        self.name = name or self.name
        _, form = self.get("/login")
        address = re.search(r'action="(/login\?[^"]+)"', form)[1]
        return asyncio.run(self.fetch(address, {"name": self.name, "word": "some word", "class_word": class_word or self.server.word}))

    def bring_in(self, name, size_or_body):
        """Send a file as the form of the page does."""
        _, page = self.get("/mine/")
        address = re.search(r'action="(/mine/\?[^"]+)"', page)[1]
        head = f'--part\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'.encode()
        body = b" " * size_or_body if isinstance(size_or_body, int) else size_or_body
        return asyncio.run(self._send(address, head + body + b"\r\n--part--\r\n"))

    async def _send(self, address, body):
        headers = {"Cookie": self.cookies, "Content-Type": PARTS}
        request = HTTPRequest(f"{self.server.url}{address}", "POST", headers, body, request_timeout=60)
        answer = await AsyncHTTPClient().fetch(request, raise_error=False)
        return answer.code, answer.body.decode()

    @property
    def own(self):
        """Folder of this desk, by the key in its cookie."""
        key = re.search(r"\|\d+:([\w=-]+)\|[0-9a-f]{64}", self.jar["pressure-loop-desk"])[1]
        return self.server.folder / "desks" / base64.b64decode(key).decode().partition(":")[0]

    @property
    def folder(self):
        return next(path.parent for path in self.server.folder.glob("desks/*/desk.json") if self.name in path.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """A server with four desks and no room for a page: nothing here needs a kernel."""
    server = Server(tmp_path_factory.mktemp("class"), 4, cold=True)
    server.command += ["--pages=0"]
    with server:
        asyncio.run(server.up())
        yield server


@pytest.fixture(scope="module")
def ada(server):
    visitor = Visitor(server, "Ada")
    assert visitor.take_desk()[0] == 302
    return visitor


@pytest.mark.parametrize("path", ["/", LESSON, "/mine/", "/mine/learner.sqlite", "/voila/tree", "/voila/data/sites/larkfield_house.toml"])
def test_without_a_desk_there_is_nothing_but_the_way_in(server, path):
    code, told = Visitor(server, "nobody").get(path)
    assert code in (302, 404)
    assert "class=" not in told
    if path in (LESSON, "/mine/"):
        assert code == 302


def test_a_wrong_word_of_the_class_is_told_and_takes_no_desk(server):
    code, told = Visitor(server, f"{NASTY} Eve").take_desk(class_word="guessed")
    assert "<script>alert" not in told
    assert f'value="{escape(NASTY)} Eve"' in told
    assert (code, "That is not the word of this class. Your instructor has it." in told) == (403, True)
    assert not [path for path in server.folder.glob("desks/*/desk.json") if "Eve" in path.read_text()]


def test_a_cookie_that_somebody_made_up_opens_no_desk(server, ada):
    forger = Visitor(server, "Eve", {**ada.jar, "pressure-loop-desk": ada.jar["pressure-loop-desk"][:-3] + 'abc"'})
    assert forger.get("/mine/")[0] == 302


@pytest.mark.skipif(sys.platform != "linux", reason="who listens where is asked of Linux")
def test_the_server_listens_on_this_machine_alone_unless_told(server):
    port = f"{server.port:04X}"
    lines = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    assert [line[1] for line in lines if line[1].endswith(f":{port}") and line[3] == "0A"] == [f"0100007F:{port}"]


def test_a_machine_without_room_says_so_in_a_sentence(ada):
    code, told = ada.get(LESSON)
    assert code == 503
    assert "This machine has no room for another page just now. Wait a minute and load it again: nothing of yours is lost." in told


def test_the_instructors_pages_are_not_served(ada):
    assert ada.get("/voila/render/instructor/23_class_sets.ipynb")[0] == 404


def test_a_desk_sees_its_own_files_and_no_other(server, ada):
    bob = Visitor(server, NASTY)
    bob.take_desk()
    assert f"Files of {escape(NASTY)}" in bob.get("/mine/")[1]
    (ada.folder / "records").mkdir(exist_ok=True)
    (ada.folder / "records" / "larkfield.html").write_text("Ada's record")
    assert "larkfield.html" in ada.get("/mine/")[1]
    assert ada.get("/mine/records/larkfield.html") == (200, "Ada's record")
    assert ada.get("/voila/render/records/larkfield.html")[0] == 302  # where a page's own link leads, and on to the file
    assert "larkfield.html" not in bob.get("/mine/")[1]
    (bob.own / "there.json").symlink_to(ada.folder / "records" / "larkfield.html")
    assert "there.json" not in bob.get("/mine/")[1]
    there = ada.folder.name
    for path in (
        "records/larkfield.html",
        f"../{there}/records/larkfield.html",
        f"%2e%2e/{there}/learner.sqlite",
        "desk.json",
        "there.json",
        "%00",
    ):
        assert bob.get(f"/mine/{path}")[0] == 404


def test_a_record_comes_in_from_elsewhere_and_twice_is_once(ada, tmp_path):
    other = LearnerRecord(tmp_path)
    other.predicted("pressure_window", "top door", "60", "Pa")
    body = other.export(tmp_path / "out.json").read_bytes()
    assert "from-home.json: 1 entries are new" in ada.bring_in("from-home.json", body)[1]
    assert "from-home-again.json: 0 entries are new" in ada.bring_in("from-home-again.json", body)[1]
    assert "You have a file from-home.json already" in ada.bring_in("from-home.json", body)[1]
    assert LearnerRecord(ada.folder).prediction("pressure_window", "top door") == ("60", "Pa")


@pytest.mark.parametrize(
    "name",
    ["../../evil.json", "C:\\desks\\evil.json", "evil.exe", "desk.json", ".json", "<script>.exe", "e\x1bvil.json", "e" * 300 + ".json"],
)
def test_a_file_that_comes_in_lies_in_the_desks_folder_or_nowhere(server, ada, name):
    before = {path for path in server.folder.rglob("*") if path.is_file()}
    code, told = ada.bring_in(name, b"{}")
    assert (code, "<script>." in told, "\x1b" in told) == (400, False, False)
    assert re.search(r'<p role="alert">[^<]*\.</p>', told)
    assert {path for path in server.folder.rglob("*") if path.is_file()} == before


def test_a_file_of_100_mb_is_refused_in_a_sentence_and_takes_no_memory(server, ada):
    before = server.memory_mb()
    code, told = ada.bring_in("huge.json", 100_000_000)
    assert (code, "This file has more than 10 MB and is no record. Nothing was changed." in told) == (413, True)
    assert server.memory_mb() - before < 60
    assert not (ada.folder / "huge.json").exists()


def test_ones_record_is_written_to_a_file_to_take_home(ada):
    _, page = ada.get("/mine/")
    address = re.search(r'action="(/mine/record\?[^"]+)"', page)[1]
    assert "Written: my-record.json" in asyncio.run(ada.fetch(address, {"x": "1"}))[1]
    assert json.loads(ada.get("/mine/my-record.json")[1])["format"] == "pressure-loop learner record"


def test_who_comes_after_the_last_desk_is_told(server, ada):
    codes = [Visitor(server, name).take_desk() for name in (NASTY, "Cem", "Dan", "Eli")]
    assert [code for code, _ in codes] == [302, 302, 302, 403]
    assert "All 4 desks of this class are taken. Ask your instructor for one; nothing of yours is lost." in codes[-1][1]


def test_a_server_that_is_started_anew_knows_its_visitors(server, ada):
    """Cookies are signed with a secret that lies in the class's folder, and is read from there again; nothing else is remembered."""
    kept = server.folder / "cookie_secret"
    assert _secret(kept) == kept.read_bytes()
    assert kept.stat().st_mode & 0o077 == 0
    cookie = create_signed_value(
        _secret(kept), "pressure-loop-desk", Desks(server.folder / "desks", 4).key(Desk("Ada", ada.folder))
    ).decode()
    assert "Files of Ada" in Visitor(server, "later", {"pressure-loop-desk": cookie}).get("/mine/")[1]


def test_a_desk_that_is_full_takes_no_more(tmp_path, monkeypatch):
    monkeypatch.setattr(kernel_process, "MOST_BYTES", 1_000_000)
    (tmp_path / "plan.toml").write_bytes(b" " * 999_000)
    with pytest.raises(ValueError, match=r"Your desk holds 1 MB in 500 files at the most, and has no room for site\.toml\."):
        pages._bring_in(Desk("Ada", tmp_path), {"filename": "site.toml", "body": b" " * 1_001})
    assert not (tmp_path / "site.toml").exists()
    assert "site.toml is here" in pages._bring_in(Desk("Ada", tmp_path), {"filename": "site.toml", "body": b" " * 1_000})


def test_what_a_page_links_to_beside_the_notebooks_is_served_and_nothing_else_there(ada):
    assert "Northgate" in ada.get("/voila/data/sites/northgate_tower.toml")[1]
    assert ada.get("/voila/tests/published/README.md")[0] == 200
    for path in ("tests/conftest.py", "data/sites/..%2f..%2fREADME.md", "README.md"):
        assert ada.get(f"/voila/{path}")[0] == 404
