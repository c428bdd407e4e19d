"""What is asked before anybody is: names and lengths; how many connections; how fast; how often a word may be guessed."""

import asyncio

import pytest
from tornado.httputil import HTTPHeaders, RequestStartLine

from helpers.serving import gate as of_gate
from helpers.serving.gate import Attempts, Gate, Pace, Paces


class Clock:
    now = 0.0

    def __call__(self):
        return self.now


class Stream:
    ended = False

    def closed(self):
        return self.ended

    def close(self):
        self.ended = True


@pytest.fixture
def gate():
    return Gate(application=None, known=lambda headers: headers.get("Desk"), names=["class-pc"], most=1000)


def judged(gate, path, host="192.168.0.10:8866", **more):
    return gate.refusal(RequestStartLine("GET", path, "HTTP/1.1"), HTTPHeaders({"Host": host} | more))


@pytest.mark.parametrize("host", ["192.168.0.10:8866", "127.0.0.1", "localhost:8866", "[::1]:8866", "CLASS-PC:8866"])
def test_the_server_answers_to_its_address_and_its_own_names(gate, host):
    assert judged(gate, "/mine/", host) is None


@pytest.mark.parametrize(
    "host", ["", "evil.example", "evil.example:8866", "192.168.0.10.evil.example", "localhost.evil.example", "@127.0.0.1", "[x"]
)
def test_a_name_that_another_server_has_turned_to_this_machine_is_refused(gate, host):
    assert judged(gate, "/mine/", host)[0] == 403


@pytest.mark.parametrize(
    "path",
    [
        "/voila/render/%69nstructor/../x", "/voila/render/./x", "/voila/render//x", "/voila/templates/..", "/%2e%2e/x", "/a%00b", "/a%5cb",
        "/a%252e%252e/..", "/%252e%252e/x", "/x\x07", "x", "http://evil.example/", "*",
    ],
)  # fmt: skip
def test_an_address_that_leads_a_way_around_is_none(gate, path):
    assert judged(gate, path)[0] == 404


def test_an_address_without_end_is_refused(gate):
    assert judged(gate, "/voila/render/00_start_here.ipynb?" + "\\" * 60_000)[0] == 414
    assert judged(gate, "/login", **{"Content-Encoding": "gzip"})[0] == 400


def test_silent_connections_of_one_address_make_room_for_the_next_and_cost_no_other(gate, monkeypatch):
    monkeypatch.setattr(of_gate, "MOST_SILENT", 3)
    other, at_work = Stream(), Stream()
    assert gate.admit(other, "192.168.0.7")
    assert gate.admit(at_work, "192.168.0.66")
    assert gate.pace_of(at_work, {"Desk": "ada"})
    silent = [Stream() for _ in range(10)]
    assert all(gate.admit(stream, "192.168.0.66") for stream in silent)
    assert [stream.ended for stream in silent] == [True] * 7 + [False] * 3
    assert not other.ended
    assert not at_work.ended


def test_all_silent_ones_together_are_bounded_and_so_is_all(gate, monkeypatch):
    monkeypatch.setattr(of_gate, "MOST_SILENT_ALL", 5)
    streams = [Stream() for _ in range(9)]
    assert all(gate.admit(stream, f"192.168.0.{number}") for number, stream in enumerate(streams))
    assert sum(not stream.ended for stream in streams) == 5
    gate.most = 5
    monkeypatch.setattr(of_gate, "MOST_SILENT_ALL", 50)
    assert not gate.admit(Stream(), "192.168.0.200")


def test_one_desk_has_so_many_connections_and_no_more(gate, monkeypatch):
    monkeypatch.setattr(of_gate, "MOST_OF_A_DESK", 4)
    streams = [Stream() for _ in range(5)]
    for stream in streams:
        gate.admit(stream, "192.168.0.66")
    assert [gate.pace_of(stream, {"Desk": "ada"}) is not None for stream in streams] == [True] * 4 + [False]
    streams[0].ended = True
    assert gate.pace_of(streams[4], {"Desk": "ada"}) is not None


def test_desks_behind_one_address_do_not_wait_for_each_other(gate):
    streams = {name: Stream() for name in ("ada", "bob")}
    for stream in streams.values():
        gate.admit(stream, "192.168.0.1")
    for _ in range(5000):
        gate.pace_of(streams["bob"], {"Desk": "bob"}).wait_s()
    assert gate.pace_of(streams["bob"], {"Desk": "bob"}).wait_s() > 10
    assert gate.pace_of(streams["ada"], {"Desk": "ada"}).wait_s() == 0


def test_whoever_is_faster_than_the_pace_waits_and_is_heard():
    pace = Pace(10, 20, clock := Clock())
    assert [pace.wait_s() for _ in range(20)] == [0.0] * 20
    assert pace.wait_s() == pytest.approx(0.1)
    assert pace.wait_s(5) == pytest.approx(0.6)
    clock.now = 100
    assert pace.wait_s() == 0
    assert asyncio.run(Pace(1, 1).turn()) is None


def test_whoever_gives_up_waiting_has_not_put_off_the_next_turn():
    pace = Pace(0.1, 2, clock := Clock())
    told = [asyncio.run(pace.turn_within(5)) for _ in range(200)]
    assert told[:2] == [0.0, 0.0]
    assert told[2:] == [pytest.approx(10.0)] * 198
    clock.now = 10.0
    assert asyncio.run(pace.turn_within(5)) == 0.0


def test_of_many_keys_no_more_are_remembered_than_there_is_room_for():
    paces = Paces(1, 1, most=3)
    first = paces.of(0)
    for key in range(1, 4):
        paces.of(key)
    assert paces.of(0) is not first
    assert len(paces._paces) == 3


def test_a_word_that_is_guessed_costs_twice_the_wait_each_time():
    attempts = Attempts(clock := Clock())
    waits = []
    for _ in range(16):
        clock.now += attempts.wait_s("ada")
        attempts.tried("ada")
        waits.append(attempts.wait_s("ada"))
    assert waits[:6] == [0, 0, 0, 0, 2, 4]
    assert waits[-1] == Attempts.LONGEST_S
    assert attempts.wait_s("bob") == 0
    attempts.right("ada")
    assert attempts.wait_s("ada") == 0


def test_ten_thousand_words_of_four_digits_take_weeks_and_not_minutes():
    attempts = Attempts(clock := Clock())
    for _ in range(10_000):
        clock.now += attempts.wait_s("ada")
        attempts.tried("ada")
    assert clock.now > 30 * 24 * 3600


def test_a_process_asks_for_as_many_files_as_it_may_have(monkeypatch):
    resource = pytest.importorskip("resource", reason="not on Windows")
    asked = []
    monkeypatch.setattr(resource, "getrlimit", lambda what: asked[-1] if asked else (1024, 4096))
    monkeypatch.setattr(resource, "setrlimit", lambda what, limits: asked.append(limits))
    assert of_gate.most_files() == 4096
    assert asked == [(4096, 4096)]
