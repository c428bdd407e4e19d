"""What is asked before anybody is: how large, how many, how fast, by what name of the server, for what address; and the few plain pages
that say so.

All of it is decided on bytes that were counted, before anything is parsed at length and before any page is called.
"""

import asyncio
import ipaddress
import re
import time
from collections import OrderedDict
from contextlib import suppress
from html import escape
from http.client import responses
from urllib.parse import unquote

from jupyter_server.base.handlers import JupyterHandler
from tornado.httpserver import HTTPServer
from tornado.httputil import HTTPHeaders, HTTPMessageDelegate, HTTPServerConnectionDelegate, ResponseStartLine


class Pace:
    """So many a second, and so many at once before that counts. Nothing is refused: whoever is faster is heard later."""

    def __init__(self, a_second, at_once, clock=time.monotonic):
        self.a_second, self.at_once, self._clock = a_second, at_once, clock
        self._left, self._seen = float(at_once), clock()

    def wait_s(self, cost=1.0):
        """Take so much, and say how long to wait for it [s]."""
        now = self._clock()
        self._left = min(self.at_once, self._left + (now - self._seen) * self.a_second) - cost
        self._seen = now
        return max(0.0, -self._left / self.a_second)

    async def turn(self, cost=1.0):
        """Wait for one's turn."""
        if wait_s := self.wait_s(cost):
            await asyncio.sleep(wait_s)

    async def turn_within(self, most_s, cost=1.0):
        """Wait for one's turn, where that takes most_s [s] at the most. Otherwise nothing is taken, and the wait [s] is returned: whoever
        asks again and again, and gives up each time, has not put the own next turn off by hours."""
        wait_s = self.wait_s(cost)
        if wait_s > most_s:
            self._left += cost
            return wait_s
        await asyncio.sleep(wait_s)
        return 0.0


class Paces:
    """A `Pace` for each key: a desk, or an address. Of the keys seen longest ago nothing is remembered."""

    def __init__(self, a_second, at_once, most=5_000):
        self._make, self._most, self._paces = lambda: Pace(a_second, at_once), most, OrderedDict()

    def of(self, key):
        """The pace of this key."""
        pace = self._paces.setdefault(key, self._make())
        self._paces.move_to_end(key)
        if len(self._paces) > self._most:
            self._paces.popitem(last=False)
        return pace


class Attempts:
    """Wrong words by key: the first few are free, then each next try has to wait twice as long as the one before.

    A try is counted before it is looked at, so that many at the same moment are many tries; `right` takes them back.
    """

    FREE, FIRST_S, LONGEST_S, MOST_KEYS = 5, 2.0, 300.0, 10_000

    def __init__(self, clock=time.monotonic):
        self._clock, self._tries = clock, OrderedDict()  # by key: how many, and when the last was

    def wait_s(self, *keys):
        """How long these keys have to wait before the next try [s]."""
        return max((self._wait_s(*self._tries[key]) for key in keys if key in self._tries), default=0.0)

    def tried(self, *keys):
        """Count a try for each key."""
        for key in keys:
            count, _ = self._tries.pop(key, (0, 0.0))
            self._tries[key] = count + 1, self._clock()
        while len(self._tries) > self.MOST_KEYS:
            self._tries.popitem(last=False)

    def right(self, *keys):
        """The word was right: nothing is held against these keys."""
        for key in keys:
            self._tries.pop(key, None)

    def count(self, key):
        """How many tries this key has had since the last right one."""
        return self._tries.get(key, (0, 0.0))[0]

    def _wait_s(self, count, last):
        if count < self.FREE:
            return 0.0
        pause_s = min(self.FIRST_S * 2.0 ** min(count - self.FREE, 20), self.LONGEST_S)
        return max(0.0, last + pause_s - self._clock())


HEAD = """<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>{title}</title><style>body{{font:17px/1.5 sans-serif;max-width:44em;margin:2em auto;padding:0 1em;color:#1b2733}}
input,button{{font:inherit;padding:.2em .5em}} [role=alert]{{border:2px solid #0b3c6f;padding:.5em 1em}}
a{{color:#0b4f94}}</style></head><body><main>{body}</main></body></html>"""
TROUBLE = """<h1>{title}</h1>{told}<p><a href="">Try again</a> · <a href="/">To the start page</a></p>"""
OWN_FAULT = "The server has a fault of its own here; what you did is kept. Tell your instructor, and load the page again."


def page(title, body, told="", markup=None, **texts):
    """A whole page of HTML. told: a sentence that must be seen; markup and texts fill the places of the body by name, the texts escaped."""
    alert = f'<p role="alert">{escape(told)}</p>' if told else ""
    filled = body.format(title=escape(title), told=alert, **(markup or {}), **{name: escape(text) for name, text in texts.items()})
    return HEAD.format(title=escape(title), body=filled)


class PlainErrors:
    """Mixed into a handler: what goes wrong is told in a sentence."""

    def write_error(self, status_code, exc_info=(None, None, None), **more):
        """The sentence that was raised; for a fault of our own, one that says so."""
        told = getattr(exc_info[1], "log_message", None) or (OWN_FAULT if status_code >= 500 else responses.get(status_code, ""))
        self.finish(page("Not now" if status_code == 503 else "This did not work", TROUBLE, told))


class PlainPage(PlainErrors, JupyterHandler):
    """Answers with plain pages."""

    def show(self, title, body, told="", status=200, markup=None, **texts):
        """Answer with a page; its forms know the visitor by {ticket} in their address."""
        self.set_status(status)
        self.finish(page(title, body, told, (markup or {}) | {"ticket": f"_xsrf={self.xsrf_token.decode()}"}, **texts))


HEADER_BYTES, ADDRESS_BYTES, BODY_BYTES = 16_000, 2_000, 64_000  # of one question; a file that comes in has a limit of its own
BUFFER_BYTES = 512_000  # that have come and were not read: two of the longest messages of a page
BODY_S, IDLE_S = 20, 60  # for a body that is on its way; for a connection on which nothing is asked
A_SECOND, AT_ONCE = 100, 800  # questions of one desk, or of one address where there is no desk: a page asks for some forty files at once
MOST_SILENT, MOST_SILENT_ALL = 100, 400  # connections that have not shown a desk: of one address, and of all
MOST_OF_A_DESK = 80  # four pages with seven connections each, twice over
SPARE_FILES = 150  # that the server has open for itself
STRANGE = re.compile(r"[\x00-\x1f\x7f\\]|//|(^|/)\.\.?(/|$)")
TOO_LONG = "This address is too long."
NO_ADDRESS = "There is no page of this address."
OTHER_NAME = "This server is not called so. Use the address that your instructor gave you."
TITLES = {400: "Bad Request", 403: "Forbidden", 404: "Not Found", 414: "URI Too Long"}


class Gate(HTTPServerConnectionDelegate):
    """Stands before an application. names: what this server may be called besides an address in figures; known: the desk of the signed
    cookie among these headers, or None; most: connections at the most."""

    def __init__(self, application, known, names=(), most=1000):
        self.application, self.known, self.most = application, known, most
        self.names = {"localhost", *(name.lower() for name in names)}
        self._paces, self._open = Paces(A_SECOND, AT_ONCE), {}  # stream -> (address, desk or None, since)

    def start_request(self, server_conn, request_conn):
        """The judge of one question."""
        return _Request(self, server_conn, request_conn)

    def on_close(self, server_conn):
        """Nothing is kept of a connection that has ended but what `admit` sweeps."""

    def admit(self, stream, address):
        """Whether this connection may stay; room is made by ending the one of those without a desk that has been silent longest."""
        self._open = {one: about for one, about in self._open.items() if not one.closed()}
        silent = [(about[2], one) for one, about in self._open.items() if about[1] is None]
        own = [(since, one) for since, one in silent if self._open[one][0] == address]
        for group, most in ((own, MOST_SILENT), (silent, MOST_SILENT_ALL)):
            if len(group) >= most:
                oldest = min(group, key=lambda pair: pair[0])[1]
                self._open.pop(oldest, None)
                oldest.close()
        if len(self._open) >= self.most:
            return False
        self._open[stream] = address, None, time.monotonic()
        return True

    def refusal(self, start_line, headers):
        """(status, sentence) for a question that no page is asked, or None."""
        target = start_line.path
        if len(target) > ADDRESS_BYTES:
            return 414, TOO_LONG
        if not self._is_called(headers.get("Host", "")):
            return 403, OTHER_NAME
        path = unquote(target.partition("?")[0])
        if not path.startswith("/") or STRANGE.search(path) or STRANGE.search(unquote(path)):
            return 404, NO_ADDRESS
        if "Content-Encoding" in headers:
            return 400, "A body must come as it is, not packed."
        return None

    def pace_of(self, stream, headers):
        """The pace of who asks; the connection of a desk is remembered as such. None where the desk has too many."""
        desk = self.known(headers)
        address = self._open.get(stream, ("",))[0]
        if desk is not None and stream in self._open and self._open[stream][1] != desk:
            if sum(about[1] == desk for one, about in self._open.items() if not one.closed()) >= MOST_OF_A_DESK:
                return None
            self._open[stream] = address, desk, time.monotonic()
        return self._paces.of(("desk", desk) if desk is not None else ("address", address))

    def _is_called(self, host):
        """An address in figures, or a name of ours: a page of another server that has turned its own name to this machine asks by that."""
        name = host.lower()
        name = name[1:].partition("]")[0] if name.startswith("[") else name.partition(":")[0]
        with suppress(ValueError):
            return bool(ipaddress.ip_address(name))
        return name in self.names


class _Request(HTTPMessageDelegate):
    """One question: judged by its head, then handed on, or answered here in a sentence."""

    def __init__(self, gate, server_conn, request_conn):
        self.gate, self.server_conn, self.connection, self.inner = gate, server_conn, request_conn, None

    async def headers_received(self, start_line, headers):
        stream = self.connection.stream
        pace = self.gate.pace_of(stream, headers)
        if pace is None:
            return self._answer(403, "This desk has too many connections open. Close some pages.")
        await pace.turn()
        if stream.closed():
            return None
        if refused := self.gate.refusal(start_line, headers):
            return self._answer(*refused)
        self.inner = self.gate.application.start_request(self.server_conn, self.connection)
        ready = self.inner.headers_received(start_line, headers)
        if ready is not None:
            await ready
        return None

    def data_received(self, chunk):
        return self.inner.data_received(chunk) if self.inner else None

    def finish(self):
        if self.inner:
            self.inner.finish()

    def on_connection_close(self):
        if self.inner:
            self.inner.on_connection_close()

    def _answer(self, status, told):
        body = page("This did not work", "<h1>{title}</h1>{told}<p><a href='/'>To the start page</a></p>", told).encode()
        headers = HTTPHeaders({"Content-Type": "text/html; charset=utf-8", "Content-Length": str(len(body))})
        headers["Connection"] = "close"
        self.connection.write_headers(ResponseStartLine("HTTP/1.1", status, TITLES[status]), headers, body)
        self.connection.finish()


class GuardedServer(HTTPServer):
    """A server with a gate before its application."""

    def initialize(self, gate, ssl_options=None):
        """As the server's, with limits."""
        self.gate = gate
        super().initialize(
            gate, ssl_options=ssl_options, max_header_size=HEADER_BYTES, max_body_size=BODY_BYTES, body_timeout=BODY_S,
            idle_connection_timeout=IDLE_S, max_buffer_size=BUFFER_BYTES,
        )  # fmt: skip

    def handle_stream(self, stream, address):
        """One connection more, if there may be one."""
        if self.gate.admit(stream, address[0]):
            super().handle_stream(stream, address)
        else:
            stream.close()


def most_files():
    """How many files this process may have open, after as many as may be were asked for."""
    try:
        import resource  # not on Windows
    except ImportError:
        return 512
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = 65_536 if hard == resource.RLIM_INFINITY else min(hard, 65_536)
    if soft == resource.RLIM_INFINITY or soft >= wanted:
        return 65_536 if soft == resource.RLIM_INFINITY else soft
    with suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
    return resource.getrlimit(resource.RLIMIT_NOFILE)[0]
