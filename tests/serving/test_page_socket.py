"""What a page may say to its kernel is a list: all else is refused before it is parsed, and what goes on is written anew."""

import asyncio
import gc
import json
import logging
import os
import struct
from types import SimpleNamespace

import pytest
from jupyter_server.services.kernels.connection.base import serialize_binary_message
from tornado.iostream import StreamBufferFullError
from tornado.websocket import WebSocketClosedError
from voila.tornado import kernel_websocket_handler

from helpers.serving.page_socket import MOST_MESSAGE, MOST_UNREAD, PageSocket, StrangeMessageError, understood

HEAD = {"msg_id": "a1", "username": "", "session": "s", "date": "2026-01-01T00:00:00Z", "version": "5.3"}
UPDATE = {"comm_id": "c" * 32, "data": {"method": "update", "state": {"value": 3}, "buffer_paths": []}}


def frame(kind, content, channel=b"shell", head=None, metadata=None, more=()):
    texts = (json.dumps(part).encode() for part in (HEAD | {"msg_type": kind} | (head or {}), {}, metadata or {}, content))
    parts = [channel, *texts, *more]
    places = [8 * (len(parts) + 2)]
    for part in parts:
        places.append(places[-1] + len(part))
    return struct.pack(f"<{len(places) + 1}Q", len(places), *places) + b"".join(parts)


def refused(message):
    with pytest.raises(StrangeMessageError):
        understood(message)


@pytest.mark.parametrize(
    ("kind", "content"),
    [
        ("comm_msg", UPDATE),
        ("comm_msg", {"comm_id": "c", "data": {"method": "custom", "content": {"event": "click"}}}),
        ("comm_msg", {"comm_id": "c", "data": {"method": "request_states"}}),
        ("comm_open", {"comm_id": "c", "target_name": "jupyter.widget.control", "data": {}}),
        ("comm_close", {"comm_id": "c", "data": {}}),
        ("comm_info_request", {"target_name": "jupyter.widget"}),
        ("kernel_info_request", {}),
    ],
)
def test_what_a_page_of_the_workbook_says_goes_on_as_it_was(kind, content):
    number, parts = understood(frame(kind, content, metadata={"version": "2.1.0"}))
    head, parent, metadata, kept = map(json.loads, parts)
    assert (number, head["msg_type"], parent, metadata, kept) == ("a1", kind, {}, {"version": "2.1.0"}, content)


@pytest.mark.parametrize(
    ("kind", "content"),
    [
        ("execute_request", {"code": "print(1)", "silent": False}),
        ("shutdown_request", {"restart": False}),
        ("complete_request", {"code": "os.", "cursor_pos": 3}),
        ("inspect_request", {"code": "os", "cursor_pos": 2}),
        ("input_reply", {"value": "x"}),
        ("debug_request", {}),
        ("create_subshell_request", {}),
        ("comm_open", {"comm_id": "c", "target_name": "jupyter.widget", "data": {"state": {"value": "x" * 1000}}}),
        ("comm_msg", {"comm_id": "c", "data": {"method": "backbone"}}),
        ("comm_msg", {"comm_id": ["c"], "data": {"method": "request_state"}}),
        ("comm_msg", {"comm_id": "c", "data": {"method": "update", "state": {}, "buffer_paths": [["x"]]}}),
        ("comm_msg", {"comm_id": "c" * 65, "data": {"method": "request_state"}}),
    ],
)
def test_no_code_and_no_widget_of_ones_own_is_handed_on(kind, content):
    refused(frame(kind, content))


def test_a_second_meaning_of_a_message_does_not_reach_the_kernel():
    twice = frame("comm_msg", UPDATE)
    one = b'"msg_type": "comm_msg"'
    other = twice.replace(one, b'"msg_type": "execute_request", ' + one)
    grown = len(other) - len(twice)
    count, *places = struct.unpack_from("<7Q", twice, 0)
    moved = [place + grown * (index > 1) for index, place in enumerate(places)]
    _, parts = understood(struct.pack("<7Q", count, *moved) + other[56:])
    assert b"execute_request" not in b"".join(parts)
    _, parts = understood(frame("comm_msg", UPDATE, head={"subshell_id": "x", "code": "y"}))
    assert set(json.loads(parts[0])) == {"msg_id", "username", "session", "date", "version", "msg_type"}


@pytest.mark.parametrize("channel", [b"control", b"stdin", b"iopub", b"", b"\xff"])
def test_a_page_speaks_on_one_channel(channel):
    refused(frame("comm_msg", UPDATE, channel))


@pytest.mark.parametrize(
    "message",
    [
        b"\xff" * 8,
        b"\xff" * 4000,
        struct.pack("<Q", 2**64 - 1) + b"x" * 200,
        struct.pack("<7Q", 6, *[2**63] * 6) + b"x" * 100,
        struct.pack("<7Q", 6, 56, 300, 100, 200, 250, 156) + b"x" * 100,
        b"",
        "text",
        frame("comm_msg", UPDATE, more=[b"bytes"]),
        frame("comm_msg", UPDATE)[:-1],
        frame("comm_msg", UPDATE | {"more": "x" * MOST_MESSAGE}),
        frame("comm_msg", UPDATE, head={"msg_id": "x" * 5000}),
        frame("comm_msg", UPDATE, head={"msg_id": 5}),
        frame("comm_msg", UPDATE, head={"username": ["x"]}),
        frame("comm_msg", [1]),
    ],
)
def test_what_is_no_message_is_refused_before_it_is_read(message):
    refused(message)


def test_a_message_of_brackets_alone_is_refused():
    deep = frame("comm_msg", UPDATE).replace(json.dumps(UPDATE).encode(), b"")
    count, *places = struct.unpack_from("<7Q", deep, 0)
    refused(struct.pack("<7Q", count, *places[:-1], places[-2] + 200_000) + deep[56 : places[-2]] + b"[" * 200_000)


@pytest.mark.parametrize("value", ["NaN", "Infinity", "-Infinity", "1e400", "-1e999", "9" * 5000])
def test_what_is_no_number_is_not_handed_on(value):
    whole = frame("comm_msg", {"comm_id": "c", "data": {"method": "update", "state": {"value": "HERE"}}})
    grown = len(value) - len('"HERE"')
    count, *places = struct.unpack_from("<7Q", whole, 0)
    refused(struct.pack("<7Q", count, *places[:-1], places[-1] + grown) + whole[56:].replace(b'"HERE"', value.encode()))


def test_bytes_at_random_are_refused_and_nothing_else_happens():
    for length in (8, 60, 300, 5000):
        for _ in range(200):
            refused(struct.pack("<Q", 6) + os.urandom(length))


def test_a_page_that_does_not_read_is_cut_off(monkeypatch):
    """Of what waits for a page there is a most; the connection then ends, and the page finds all of it when it loads again."""

    class Stream:
        max_write_buffer_size, ended = None, False

        def close(self):
            self.ended = True

    def full(self, message, binary):
        raise StreamBufferFullError

    async def connected(self, kernel_id):
        return None

    stream = Stream()
    page = object.__new__(PageSocket)
    page.ws_connection, page._waiting, page.current_user = SimpleNamespace(stream=stream), {}, SimpleNamespace(username="bob")
    monkeypatch.setattr(PageSocket, "log", logging.getLogger("test"), raising=False)
    monkeypatch.setattr(PageSocket, "kernel_manager", SimpleNamespace(connected=lambda number: 1), raising=False)
    for kind in PageSocket.__mro__[1:]:
        if "open" in vars(kind):
            monkeypatch.setattr(kind, "open", connected)
        if "write_message" in vars(kind):
            monkeypatch.setattr(kind, "write_message", full)
    asyncio.run(page.open("a-kernel"))
    assert stream.max_write_buffer_size == MOST_UNREAD
    assert page.write_message(b"a picture", binary=True) is None
    assert stream.ended


def sent(monkeypatch, page, message):
    """Whether a message from the kernel goes out to a page."""
    out = []
    for kind in PageSocket.__mro__[1:]:
        if "write_message" in vars(kind):
            monkeypatch.setattr(kind, "write_message", lambda self, message, binary: out.append(message))
    page._waiting = {}
    page.write_message(message, binary=True)
    return bool(out)


def test_a_picture_for_a_page_that_was_closed_is_not_counted_through(monkeypatch):
    """It comes in the older form: its first bytes are no count of parts, and whoever takes them for one never ends."""
    older = serialize_binary_message({"header": {}, "parent_header": {}, "metadata": {}, "content": {}, "buffers": [b"picture", b"more"]})
    assert int.from_bytes(older[:8], "little") > 2**50
    monkeypatch.setattr(kernel_websocket_handler, "read_header_from_binary_message", lambda message: pytest.fail("it is counted"))
    page = object.__new__(PageSocket)
    page.ws_connection = None
    assert not sent(monkeypatch, page, older)
    page.ws_connection = SimpleNamespace()
    assert sent(monkeypatch, page, frame("status", {"execution_state": "busy"}))


@pytest.mark.parametrize("version", ["a.b", "4.1", "5.", "99", "5.3.1.1", "5.1000", "-5"])
def test_a_version_that_no_kernel_answers_is_not_handed_on(version):
    refused(frame("kernel_info_request", {}, head={"version": version}))


def test_what_a_page_that_went_away_does_not_hear_is_no_fault_of_the_server(monkeypatch):
    """Else the log has a fault of twenty lines for each message that its kernel was still sending."""
    faults = []

    async def gone(self, message, binary):
        raise WebSocketClosedError

    async def send():
        asyncio.get_running_loop().set_exception_handler(lambda loop, about: faults.append(about))
        page = object.__new__(PageSocket)
        page.ws_connection, page._waiting = SimpleNamespace(), {}
        page.write_message(frame("status", {"execution_state": "busy"}), binary=True)
        await asyncio.sleep(0.01)
        gc.collect()

    for kind in PageSocket.__mro__[1:]:
        if "write_message" in vars(kind):
            monkeypatch.setattr(kind, "write_message", lambda *what: asyncio.ensure_future(gone(*what)))
    asyncio.run(send())
    assert faults == []


def test_a_page_is_sent_no_code(monkeypatch):
    page = object.__new__(PageSocket)
    page.ws_connection = SimpleNamespace()
    assert not sent(monkeypatch, page, frame("execute_input", {"code": "x = 1"}))
    assert sent(monkeypatch, page, frame("comm_msg", {"said": '"execute_input"'}))
