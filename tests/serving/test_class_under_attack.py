"""A class while one learner means harm: each attack is made on a server of the tests' own, over loopback, and ends by itself."""

import asyncio
import os
import re
import signal
import socket
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from pathlib import Path

import pytest
from class_bench import Learner, Server
from tornado.httpclient import HTTPClientError, HTTPRequest
from tornado.websocket import websocket_connect

if sys.platform != "linux":
    pytest.skip("processes and their memory are asked of Linux", allow_module_level=True)
PAGE = "00_start_here.ipynb"
LIMIT_S = 20.0  # an answer takes hundredths of a second, on a slow machine among other tests a second or two; a server that counts, none
HOST = "Host: 127.0.0.1\r\n"


class Visitor(Learner):
    """A learner whose steps wait until they are done."""

    def get(self, path):
        return asyncio.run(self.fetch(path))

    def take_desk(self, word="some word", **fields):
        _, form = self.get("/login")
        address = re.search(r'action="(/login\?[^"]+)"', form)[1]
        return asyncio.run(self.fetch(address, {"name": self.name, "word": word, "class_word": self.server.word} | fields))

    def page(self):
        """Number of the kernel of a new page."""
        code, text = self.get(f"/voila/render/{PAGE}")
        assert code == 200, text[-300:]
        return re.search(r'"kernelId": ?"([^"]+)"', text)[1]

    def waits_s(self):
        begun = time.monotonic()
        assert self.get("/mine/")[0] == 200
        return time.monotonic() - begun


class Warm(Server):
    """As the server of the bench, raw bytes and a few open files besides."""

    def raw(self, data, seconds=20):
        with closing(socket.create_connection(("127.0.0.1", self.port), seconds)) as line:
            line.sendall(data)
            return line.recv(4000)

    def keys(self):
        """Folder of the kernels' keys."""
        return Path(re.search(r"Storing connection files in (\S+)\.\n", (self.folder / "server.log").read_text())[1])

    def memory_of_server_mb(self):
        lines = Path(f"/proc/{self.process.pid}/status").read_text().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with Warm(tmp_path_factory.mktemp("class"), 6) as server:
        asyncio.run(server.up())
        yield server


@pytest.fixture(scope="module")
def ada(server):
    ada = Visitor(server, "Ada")
    assert ada.take_desk()[0] == 302
    return ada


@pytest.fixture(scope="module")
def bob(server):
    bob = Visitor(server, "Bob")
    assert bob.take_desk()[0] == 302
    bob.get("/mine/")
    return bob


@pytest.fixture(scope="module")
def kernel_of_ada(ada):
    return ada.page()


@pytest.fixture(scope="module")
def kernel_of_bob(bob):
    return bob.page()


async def connected(visitor, kernel, session="s1"):
    address = f"{visitor.server.url.replace('http', 'ws', 1)}/api/kernels/{kernel}/channels?session_id={session}"
    visitor.socket = await websocket_connect(
        HTTPRequest(address, headers={"Cookie": visitor.cookies}),
        subprotocols=["v1.kernel.websocket.jupyter.org"],
        max_message_size=1 << 28,
    )
    return visitor.socket


async def ends(line, seconds=30):
    """Whether the server ends this connection."""
    while await asyncio.wait_for(line.read_message(), seconds) is not None:
        pass
    return True


@pytest.mark.parametrize("message", [b"\xff" * 8, b"\xff" * 200_000, b"\x06" + b"\0" * 7 + b"\xff" * 48])
def test_a_message_of_nothing_but_counts_stops_nobody(server, ada, bob, kernel_of_bob, message):
    async def attack():
        line = await connected(bob, kernel_of_bob)
        await line.write_message(message, binary=True)
        return await ends(line)

    assert asyncio.run(attack())
    assert ada.waits_s() < LIMIT_S
    assert server.memory_of_server_mb() < 400


def test_a_question_that_would_run_code_ends_the_connection_and_runs_nothing(server, bob, kernel_of_bob):
    async def attack():
        await connected(bob, kernel_of_bob, "s2")
        await bob.say("execute_request", {"code": "open('ran.txt', 'w').close()", "silent": False})
        return await ends(bob.socket)

    assert asyncio.run(attack())
    assert not list(server.folder.rglob("ran.txt"))


def test_nobody_connects_to_the_page_of_another_nor_otherwise_than_a_page_does(bob, kernel_of_ada, kernel_of_bob):
    for kernel, session, code in ((kernel_of_ada, "s", 403), (kernel_of_bob, "x" * 300, 400), (kernel_of_bob, "", 400)):
        with pytest.raises(HTTPClientError) as refused:
            asyncio.run(connected(bob, kernel, session))
        assert refused.value.code == code


@pytest.mark.parametrize("letters", ["\\", '"', "%ff", "a"])
def test_a_long_address_ends_no_page(ada, kernel_of_ada, bob, letters):
    for length in (1_900, 60_000):
        line = f"GET /voila/render/x?{letters * (length // len(letters))} HTTP/1.1\r\n{HOST}Cookie: {bob.cookies}\r\n\r\n"
        assert b"404" in (answer := ada.server.raw(line.encode())[:20]) or b"414" in answer or answer == b""
    assert ada.get(f"/alive/{kernel_of_ada}")[0] == 204


@pytest.mark.parametrize(
    "path",
    [
        "instructor/",
        "%69nstructor/",
        "./instructor/",
        "/instructor/",
        "x/../instructor/",
        "instructor%2f",
        "%2e/instructor/",
        "instructor/./",
    ],
)
def test_the_instructors_pages_are_not_served_in_any_spelling(server, bob, path):
    for kind in ("render", "files"):
        line = f"GET /voila/{kind}/{path}23_class_sets.ipynb HTTP/1.1\r\n{HOST}Cookie: {bob.cookies}\r\n\r\n"
        assert server.raw(line.encode()).startswith(b"HTTP/1.1 404")


def test_nothing_that_lies_beside_the_notebooks_is_served_without_a_desk(server):
    for path in (
        "/voila/files/pictures/pressure_profile.png",
        "/voila/files/instructor/x.png",
        "/voila/templates/..",
        "/voila/templates/x",
    ):
        assert server.raw(f"GET {path} HTTP/1.1\r\n{HOST}\r\n".encode()).split()[1] in (b"302", b"403", b"404")


def test_anothers_page_is_not_closed_however_its_number_is_spelt(ada, bob, kernel_of_ada):
    spelt = f"%{ord(kernel_of_ada[0]):02x}{kernel_of_ada[1:]}"
    for number in (kernel_of_ada, spelt, f"{spelt}/", f"x/{spelt}"):
        code, _ = asyncio.run(bob.fetch(f"/voila/api/shutdown/{number}?_xsrf={bob.jar['_xsrf']}", {"x": "1"}))
        assert code == 404
    assert ada.get(f"/alive/{kernel_of_ada}")[0] == 204


def test_bodies_of_nobody_are_not_held(server, ada):
    before, lines = server.memory_of_server_mb(), []
    for _ in range(12):
        line = socket.create_connection(("127.0.0.1", server.port), 3)
        lines.append(line)
        line.sendall(f"POST /login HTTP/1.1\r\n{HOST}Content-Length: 95000001\r\n\r\n".encode())
        try:
            for _ in range(40):
                line.sendall(b"a" * 1_000_000)
        except OSError:
            pass  # it hung up
    assert ada.waits_s() < LIMIT_S
    assert server.memory_of_server_mb() - before < 50
    for line in lines:
        line.close()


def test_a_file_of_somebody_without_a_desk_is_not_taken_in(server):
    line = f"POST /mine/ HTTP/1.1\r\n{HOST}Content-Length: 19000000\r\n\r\n".encode()
    with suppress(ConnectionError):  # hung up before all of it was sent
        assert b" 40" in server.raw(line + b"a" * 2_000_000)[:14]


def test_of_files_on_their_way_no_more_are_held_than_two_of_a_desk(server, ada, bob):
    before, lines = server.memory_of_server_mb(), []
    for _ in range(10):
        line = socket.create_connection(("127.0.0.1", server.port), 5)
        lines.append(line)
        with suppress(OSError):  # it was hung up
            head = f"POST /mine/?_xsrf={bob.jar['_xsrf']} HTTP/1.1\r\n{HOST}Cookie: {bob.cookies}\r\nContent-Length: 9999999\r\n\r\n"
            line.sendall(head.encode())
            line.sendall(b"a" * 9_000_000)
    assert ada.waits_s() < LIMIT_S
    assert server.memory_of_server_mb() - before < 60
    for line in lines:
        line.close()
    end, told = time.monotonic() + LIMIT_S, ""
    while "Choose a file first." not in told and time.monotonic() < end:  # until the server has seen that they are closed
        time.sleep(0.1)
        _, told = asyncio.run(bob.fetch(f"/mine/?_xsrf={bob.jar['_xsrf']}", {"x": "1"}))
    assert "Choose a file first." in told  # those that ended no longer count


@pytest.mark.parametrize("field", ["name", "word"])
def test_a_name_of_accents_without_end_is_refused_and_the_next_one_served(server, ada, field):
    code, _ = Visitor(server, "Eve").take_desk(**{field: "a" + "\u0301\u0323" * 5_000})
    assert code in (400, 403)
    assert ada.waits_s() < LIMIT_S


def test_whoever_signs_in_again_and_again_is_told_to_wait_and_keeps_nobody_else_out(server):
    """A right word costs the server as much as a wrong one: 70 connections that went on with it kept others 5 s at the door."""
    cat, dan = Visitor(server, "Cat"), Visitor(server, "Dan")
    assert cat.take_desk()[0] == 302
    with ThreadPoolExecutor(24) as hands:  # at once: a slow machine would let one after the other in
        answers = list(hands.map(lambda _: Visitor(server, "Cat").take_desk(), range(24)))
    assert 302 in [code for code, _ in answers]
    refused = [text for code, text in answers if code == 403]
    assert refused
    assert any("You have signed in many times in a short time. Wait " in text for text in refused)
    assert dan.take_desk()[0] == 302


def test_whoever_loads_a_page_again_and_again_is_told_how_long_to_wait(server):
    """Every load that was given up counted: after sixty of them a desk had no page for ten minutes, and no sentence."""
    eve = Visitor(server, "Eve")
    assert eve.take_desk()[0] == 302
    for _ in range(30):
        with suppress(OSError), closing(socket.create_connection(("127.0.0.1", server.port), 3)) as line:
            line.sendall(f"GET /voila/render/{PAGE} HTTP/1.1\r\n{HOST}Cookie: {eve.cookies}\r\n\r\n".encode())
    begun = time.monotonic()
    code, text = eve.get(f"/voila/render/{PAGE}")
    assert time.monotonic() - begun < 60  # fifteen at most when nothing else runs; nobody looks at an empty page for a minute
    assert code == 503
    wait_s = int(re.search(r"Wait (\d+) s, then load this one again", text)[1])
    assert wait_s < 40


def test_a_word_that_is_guessed_is_slowed_and_its_owner_told(server, ada):
    for number in range(5):
        assert "its word is another one" in Visitor(server, "Ada").take_desk(word=f"guess {number}")[1]
    eve = Visitor(server, "Ada")
    assert "Too many words were tried here. Wait" in eve.take_desk(word="guess 6")[1]
    assert "Wrong words were tried at your desk since the server was started: 5." in ada.get("/mine/")[1]


def test_only_its_owner_reads_what_lies_in_a_class(server, ada, bob):
    loose = [path for path in server.folder.rglob("*") if path.name != "server.log" and path.stat().st_mode & 0o077]
    assert loose == []


def test_a_second_server_does_not_take_the_same_class(server):
    second = Server(server.folder, 6)
    second.command[-2] = f"--port={second.port}"
    told = subprocess.run(second.command, capture_output=True, text=True, timeout=60)
    assert told.returncode == 1
    assert told.stderr.startswith("Another server has the class in ")


def test_many_silent_connections_lock_nobody_out(server, ada):
    lines = [socket.create_connection(("127.0.0.1", server.port), 3) for _ in range(250)]
    assert ada.waits_s() < LIMIT_S
    for line in lines:
        line.close()


@pytest.fixture
def _heard_when_a_terminal_closes():
    """Tests that are themselves run by nohup hand on that nobody listens."""
    before = signal.signal(signal.SIGHUP, signal.SIG_DFL)
    yield
    signal.signal(signal.SIGHUP, before)


@pytest.mark.usefixtures("_heard_when_a_terminal_closes")
def test_a_server_whose_terminal_is_closed_ends_as_it_does_otherwise(tmp_path):
    with Warm(tmp_path, 2, cold=True) as server:
        asyncio.run(server.up())
        assert (keys := server.keys()).exists()
        os.kill(server.process.pid, signal.SIGHUP)
        assert server.process.wait(30) == 0
        assert not keys.exists()


def test_kernels_end_with_a_server_that_was_killed_and_leave_no_keys(server, kernel_of_ada, kernel_of_bob):
    """The last one here: the server is gone after it."""
    there, keys = server.processes(), server.keys()
    assert len(server.kernels()) >= 2
    assert list(keys.rglob("kernel-*.json"))
    server.process.kill()
    server.process.wait(30)
    end = time.monotonic() + 20
    while (any(Path(f"/proc/{number}").exists() for number in there) or keys.exists()) and time.monotonic() < end:
        time.sleep(0.1)
    assert [number for number in there if Path(f"/proc/{number}").exists()] == []
    assert not keys.exists()
