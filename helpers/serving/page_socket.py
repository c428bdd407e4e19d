"""The connection between a page and its kernel: what a page may say is a list, each message is bounded before it is parsed, and nobody is
kept waiting by, or holds the server's memory for, a page that talks without end or does not listen.

What goes on to the kernel is written anew from what was understood here, so that the two cannot understand it differently.
"""

import asyncio
import json
import math
import re
import struct
import time
from collections import OrderedDict
from contextlib import suppress
from itertools import pairwise

from tornado.iostream import StreamBufferFullError
from tornado.web import HTTPError
from tornado.websocket import WebSocketClosedError, WebSocketProtocol13
from voila.tornado.kernel_websocket_handler import VoilaKernelWebsocketHandler

from helpers.serving.gate import Pace, PlainErrors

PROTOCOL = "v1.kernel.websocket.jupyter.org"
MOST_MESSAGE, MOST_HEAD = 256_000, 2_000  # bytes of a message and of its head
PLACES = 6  # where the channel, the four parts and the end of a message lie; no page here sends pieces of its own besides
MOST_UNREAD = 32_000_000  # bytes that wait for a page which does not read
MOST_UNANSWERED, UNANSWERED_S = 32, 30.0  # messages a kernel has not done with
FRAMES, MESSAGES, BYTES = (60, 300), (30, 150), (400_000, 2_000_000)  # a second, and at once
STATES_COST = 15  # a question for the states of all widgets costs the kernel as much as so many messages
MOST_SOCKETS = 3  # of one page: it may come back before the server has seen that it was gone
SESSION = re.compile(r"[\w-]{1,64}")
NUMBER = re.compile(r"[\w-]{1,64}")
VERSION, USUAL_VERSION = re.compile(r"5(\.\d{1,3}){0,2}"), "5.3"  # of the protocol: a kernel works out another one, or does not answer
CONTROL = "jupyter.widget.control"
METHODS = ("update", "request_state", "request_states", "custom")
HEAD = ("msg_id", "username", "session", "date", "version", "msg_type")


class StrangeMessageError(ValueError):
    """A message that no page of ours sends."""


def understood(frame):
    """(number, parts) of a message from a page: its own number, and its four parts written anew.

    frame: bytes as they came. Raises StrangeMessageError for all that is not on the list: messages to widgets of the page, questions for
    their states, and who the kernel is. Nothing on the list runs code.
    """
    channel, head, metadata, content = _parts(frame)
    if channel != b"shell":
        raise StrangeMessageError("another channel")
    head, metadata, content = _object(head, MOST_HEAD), _object(metadata, MOST_HEAD), _object(content, MOST_MESSAGE)
    texts = {name: head.get(name, "") for name in HEAD}
    if not all(isinstance(text, str) and len(text) <= 200 for text in texts.values()) or not NUMBER.fullmatch(texts["msg_id"]):
        raise StrangeMessageError("a strange head")
    texts["version"] = texts["version"] or USUAL_VERSION
    if not VERSION.fullmatch(texts["version"]):
        raise StrangeMessageError("another version")
    kind = texts["msg_type"]
    if kind not in CONTENTS:
        raise StrangeMessageError("another kind")
    version = metadata.get("version", "")
    plain = {"version": version} if isinstance(version, str) and 0 < len(version) <= 20 else {}
    parts = [json.dumps(part).encode() for part in (texts, {}, plain, CONTENTS[kind](content))]
    return texts["msg_id"], parts


def _parts(frame):
    """Channel, head, metadata and content. How many places there are is compared with the length before any is read."""
    if not isinstance(frame, bytes) or not 8 * (PLACES + 1) < len(frame) <= MOST_MESSAGE:
        raise StrangeMessageError("another length")
    if int.from_bytes(frame[:8], "little") != PLACES:
        raise StrangeMessageError("another number of parts")
    places = struct.unpack_from(f"<{PLACES}Q", frame, 8)
    if places[0] != 8 * (PLACES + 1) or places[-1] != len(frame) or any(a > b for a, b in pairwise(places)):
        raise StrangeMessageError("parts that do not follow each other")
    channel, head, _, metadata, content = (frame[a:b] for a, b in pairwise(places))
    return channel, head, metadata, content


def _head(message):
    """Head of a message from a kernel, or nothing."""
    if len(message) < 8 * 4:
        return b""
    _, begin, end = struct.unpack_from("<3Q", message, 8)
    return message[begin : min(end, begin + MOST_HEAD)]


def _object(raw, most):
    if len(raw) > most:
        raise StrangeMessageError("a part that is too long")
    try:
        value = json.loads(raw, parse_constant=_number_of, parse_float=_number_of)
    except (ValueError, RecursionError):
        raise StrangeMessageError("what is not JSON") from None
    if not isinstance(value, dict):
        raise StrangeMessageError("another shape")
    return value


def _number_of(text):
    """No page sends what is no number, or larger than any."""
    if not math.isfinite(value := float(text)):
        raise ValueError("no number")
    return value


def _opened(content):
    if content.get("target_name") != CONTROL:
        raise StrangeMessageError("a widget of the page's own making")
    return {"comm_id": _number(content), "target_name": CONTROL, "data": {}}


def _said(content):
    data = content.get("data")
    if not isinstance(data, dict) or data.get("method") not in METHODS:
        raise StrangeMessageError("another method")
    plain = {"method": data["method"]}
    if data["method"] == "update":
        state = data.get("state")
        if not isinstance(state, dict) or data.get("buffer_paths"):
            raise StrangeMessageError("another state")
        plain |= {"state": state, "buffer_paths": []}
    elif data["method"] == "custom":
        plain["content"] = data.get("content")
    return {"comm_id": _number(content), "data": plain}


def _asked(content):
    target = content.get("target_name", "")
    return {"target_name": target} if isinstance(target, str) and 0 < len(target) <= 100 else {}


def _number(content):
    number = content.get("comm_id")
    if not isinstance(number, str) or not NUMBER.fullmatch(number):
        raise StrangeMessageError("another number of a widget")
    return number


CONTENTS = {
    "comm_open": _opened,
    "comm_msg": _said,
    "comm_close": lambda content: {"comm_id": _number(content), "data": {}},
    "comm_info_request": _asked,
    "kernel_info_request": lambda content: {},
}


class _Paced(WebSocketProtocol13):
    """Frames of any kind, also those that carry nothing, come at a pace."""

    async def _receive_frame(self):
        await self.handler.frames.turn()
        await super()._receive_frame()


def _heard(sent):
    """Of a page that went away before all had been sent: nothing to tell, and twenty lines of the log for each message if nobody asks."""
    if not sent.cancelled() and not isinstance(trouble := sent.exception(), WebSocketClosedError | None):
        raise trouble


class PageSocket(PlainErrors, VoilaKernelWebsocketHandler):
    """The connection of one page."""

    def initialize(self, **more):
        """As the app's, with paces."""
        super().initialize(**more)
        self.frames, self.messages, self.bytes = (Pace(*limits) for limits in (FRAMES, MESSAGES, BYTES))
        self._waiting = OrderedDict()  # number of a message that the kernel has not done with -> since when
        self._answered = asyncio.Event()

    @property
    def max_message_size(self):
        """Bytes of one message."""
        return MOST_MESSAGE

    async def pre_get(self):
        """As the app's, where the page is one of ours and has not too many connections."""
        kernels, number = self.kernel_manager, self.kernel_id
        if number not in kernels or kernels.owner(number) is None or kernels.owner(number).name != self.current_user.username:
            raise HTTPError(403)
        session = self.get_argument("session_id", "")
        offered = [name.strip() for name in self.request.headers.get("Sec-WebSocket-Protocol", "").split(",")]
        if not SESSION.fullmatch(session) or PROTOCOL not in offered:
            raise HTTPError(400, "A page of this server connects otherwise.")
        if kernels.connected(number) >= MOST_SOCKETS:
            raise HTTPError(503, "This page is connected already.")
        await super().pre_get()

    def get_websocket_protocol(self):
        """Tornado's, paced."""
        given = super().get_websocket_protocol()
        return given and _Paced(self, False, given.params)

    async def open(self, kernel_id):
        """As the app's; what waits for the page is bounded."""
        self.ws_connection.stream.max_write_buffer_size = MOST_UNREAD
        await super().open(kernel_id)
        if self.kernel_manager.connected(kernel_id) > MOST_SOCKETS:
            self.close(1013, "this page is connected already")

    async def on_message(self, message):
        """Hand on what is on the list, at a pace; whoever says anything else is not one of our pages, and is cut off."""
        await self.messages.turn()
        await self.bytes.turn(len(message))
        try:
            number, parts = understood(message)
        except StrangeMessageError as strange:
            self.log.warning("A page of desk %s sent %s; its connection was ended.", self.current_user.username, strange)
            return self.close(1008, "not a message of this page")
        if b'"method": "request_states"' in parts[3]:
            await self.messages.turn(STATES_COST)
        await self._room(number)
        stream = self.connection and self.connection.channels.get("shell")
        if stream is not None and not stream.closed():
            self.connection.session.send_raw(stream, parts)
        return None

    def write_message(self, message, binary=False):
        """Send what the kernel says, but no code; a page that does not read is cut off, and finds all of it again when it loads.

        Not the app's: once a page has gone, jupyter_server 2.21.1 writes for it in another form, and voila 0.5.13 takes four bytes of that
        for a count of parts, and counts them. One page that was closed while a picture was on its way then stops the whole class.
        """
        if self.ws_connection is None or not isinstance(message, bytes) or b'"execute_input"' in _head(message):
            return None
        self._note_answer(message)
        try:
            sent = super(VoilaKernelWebsocketHandler, self).write_message(message, binary)
        except StreamBufferFullError:
            self.log.warning("A page of desk %s does not read; its connection was ended.", self.current_user.username)
            if self.ws_connection is not None:
                self.ws_connection.stream.close()
        except WebSocketClosedError:
            return None  # it went away while its kernel was answering; what it did is kept
        else:
            if sent is not None:
                sent.add_done_callback(_heard)
        return None

    def on_close(self):
        """As the app's, also where the connection never came about."""
        self._answered.set()
        if getattr(self, "connection", None) is not None:
            super().on_close()

    def send_ping(self):
        """As the app's; a connection that has just ended is none to ping."""
        with suppress(WebSocketClosedError):
            super().send_ping()

    async def _room(self, number):
        """Wait until the kernel has few enough messages before it; one of which nothing is heard counts for half a minute."""
        while len(self._waiting) >= MOST_UNANSWERED and self.ws_connection is not None:
            oldest = next(iter(self._waiting))
            left_s = self._waiting[oldest] + UNANSWERED_S - time.monotonic()
            if left_s <= 0:
                del self._waiting[oldest]
                continue
            self._answered.clear()
            try:
                await asyncio.wait_for(self._answered.wait(), left_s)
            except TimeoutError:
                continue
        self._waiting[number] = time.monotonic()

    def _note_answer(self, message):
        """A kernel says that it is idle again after each message, and after which."""
        if self._waiting and isinstance(message, bytes) and b'"idle"' in message[-200:]:
            for number in list(self._waiting):
                if number.encode() in message:
                    del self._waiting[number]
                    self._answered.set()
