"""The pages of a desk: a notebook as a page of the class, and the files of the desk.

Nothing is fetched from elsewhere, a bar leads to the files, and a page whose kernel is gone says so instead of standing still. Files: what
pages have written, to take home; an exported record or a site file, to bring in.
"""

import asyncio
import os
import re
import unicodedata
from collections import Counter
from contextlib import contextmanager, suppress
from html import escape
from math import ceil
from pathlib import Path
from typing import ClassVar
from urllib.parse import quote

import tornado.web
from jupyter_server.base.handlers import JupyterHandler
from tornado.httputil import HTTPInputError, parse_body_arguments
from voila.shutdown_kernel_handler import VoilaShutdownKernelHandler
from voila.tornado.handler import TornadoVoilaHandler

from helpers.model.files import page_part, printable
from helpers.serving import kernel_process
from helpers.serving.gate import Paces, PlainErrors, PlainPage
from helpers.teaching.record import MOST_BYTES, LearnerRecord

WORKBOOK = Path(__file__).parents[2]
NOTEBOOKS = WORKBOOK / "notebooks"
PAGES = 0.1, 8  # a second, and at once, of one desk: each takes seconds of a core
LONGEST_WAIT_S = 15  # that a browser stands still; whoever would wait longer is told so at once
MANY_PAGES = "You have loaded many pages in a short time. Wait {seconds} s, then load this one again; what you did is kept."
NO_PAGE = "There is no page of this name."
TEXTS = r"/voila/(data/sites/\w+\.toml|tests/published/README\.md)"  # where links of the pages lead, beside the notebooks
FROM_ELSEWHERE = re.compile(r'<link[^>]*href="https?://[^>]*>')  # letters that no page uses; without a network each waits for its time-out
GONE = "This page has been put to sleep, or its part of the server was started anew. What you did is kept: load the page again."
AWAY = "The server cannot be reached. What you did is kept; this line goes away when it answers again."
LOOK_MS = 5_000
BAR = page_part("desk_bar.html")


def handlers_beside_lessons():
    """Addresses that the lessons' pages use besides their own."""
    written = (r"/voila/render/(records/.+)", tornado.web.RedirectHandler, {"url": "/mine/{0}", "permanent": False})
    return [(r"/alive/([^/]*)", _Alive), (r"/voila/api/shutdown/(.*)", _Closed), (TEXTS, _TextFile), written]


class LessonPage(PlainErrors, TornadoVoilaHandler):
    """A notebook as a page: one of those for learners, by its very name. Keys and marks lie in a folder beside them, and are not served."""

    paces = Paces(*PAGES)

    async def get(self, path=None):
        """The page, and the bar after it."""
        if path not in {notebook.name for notebook in NOTEBOOKS.glob("*.ipynb")}:
            raise tornado.web.HTTPError(404, NO_PAGE)
        folder = self.settings["desks"].of(self.current_user.username).folder
        if wait_s := await self.paces.of(folder.name).turn_within(LONGEST_WAIT_S):
            raise tornado.web.HTTPError(503, MANY_PAGES.format(seconds=ceil(wait_s)))
        if self.request.connection.stream.closed():
            return  # gone while it waited: nobody would see the page
        if told := self.kernel_manager.desk_is_full(folder):  # before the page is made, which takes the server longer than to say so
            raise tornado.web.HTTPError(503, told)
        await super().get(path)
        if not self._finished:
            self.write(BAR.format(name=escape(self.current_user.name), gone=GONE, away=AWAY, every=LOOK_MS))

    def write(self, chunk):
        """Without what would be fetched from another server."""
        super().write(FROM_ELSEWHERE.sub("", chunk) if isinstance(chunk, str) else chunk)


class _Alive(PlainErrors, JupyterHandler):
    """Whether the kernel of a page is there, and the visitor's."""

    async def get(self, number):
        self.set_status(204 if _own(self, number) and await self.kernel_manager.lives(number) else 404)


class _Closed(PlainErrors, VoilaShutdownKernelHandler):
    """A page was closed, and its kernel goes; nobody sends another's away."""

    async def post(self, kernel_id):
        if not _own(self, kernel_id):
            raise tornado.web.HTTPError(404)
        await super().post(kernel_id)


def _own(handler, number):
    owner = handler.kernel_manager.owner(number)
    return owner is not None and owner.name == handler.current_user.username


class _TextFile(PlainPage):
    """A file of the workbook to read: a demo site to copy and change, the table of published figures."""

    def get(self, name):
        path = WORKBOOK / name
        if not path.is_file():
            raise tornado.web.HTTPError(404)
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(path.read_bytes())


MOST_SENT, SENDING_S = 200_000_000, 300  # what is let pass unkept, so that the sentence reaches the sender; how long that may take
LONGEST_NAME = 100  # of a name, in bytes: systems allow 255
MOST_AT_ONCE = 4  # files that come in or are written, of the whole class: each takes memory while it is looked at
MOST_COMING, MOST_COMING_ALL = 2, 12  # files on their way, of one desk and of all: each is held until it is whole
ASKED = 3, 20  # a second, and at once, of one desk's list, which takes a look at every file of it
PIECE = 256_000  # bytes of a file that goes out, at a time
TOO_LARGE = f"This file has more than {MOST_BYTES // 1_000_000} MB and is no record. Nothing was changed."
BUSY = "Another file is being looked at just now. Wait a moment and try again; nothing was changed."
KINDS = (".json", ".html", ".pdf", ".png", ".xlsx", ".toml", ".csv", ".txt")  # of files that are shown
GUESSED = "<p>Wrong words were tried at your desk since the server was started: {count}. If that was not you, tell your instructor.</p>"
BODY = page_part("desk_files.html")


def handlers_of_files():
    """The addresses of these pages."""
    return [(r"/mine/?", _Files), (r"/mine/record", _WrittenRecord), (r"/mine/(.+)", _File)]


class _OwnPage(PlainPage):
    under_way: ClassVar[Counter] = Counter()  # desks whose file is being looked at
    paces: ClassVar[Paces] = Paces(*ASKED)

    async def prepare(self):
        await super().prepare()
        if self.current_user:
            await self.paces.of(self.current_user.username).turn()

    @property
    def desk(self):
        return self.settings["desks"].of(self.current_user.username)

    async def show_files(self, told="", status=200):
        listed = await asyncio.to_thread(_listed, self.desk.folder)
        guessed = self.settings["desks"].guessed[self.desk.folder.name]
        warned = GUESSED.format(count=guessed) if guessed else ""
        self.show("My files", BODY, told, status, {"files": listed, "warned": warned}, name=self.desk.name)

    @contextmanager
    def one_at_a_time(self):
        """Work on one file of this desk. Raises ValueError where there is one already, or the class has enough of them."""
        key = self.current_user.username
        if self.under_way[key] or self.under_way.total() >= MOST_AT_ONCE:
            raise ValueError(BUSY)
        self.under_way[key] += 1
        try:
            yield
        finally:
            del self.under_way[key]


@tornado.web.stream_request_body
class _Files(_OwnPage):
    """The list; and a file that comes in, of which no more is held than may be kept, and nothing before it is known who sends it."""

    coming: ClassVar[Counter] = Counter()  # desks from which a file is on its way

    async def prepare(self):
        self.size, self.held, self.comes = 0, bytearray(), False
        await super().prepare()
        if self.current_user and not self._finished and self.request.method == "POST":
            if self.coming[self.current_user.username] >= MOST_COMING or self.coming.total() >= MOST_COMING_ALL:
                raise tornado.web.HTTPError(503, BUSY)
            self.comes = True
            self.coming[self.current_user.username] += 1
            self.request.connection.set_max_body_size(MOST_SENT)
            self.request.connection.set_body_timeout(SENDING_S)

    def data_received(self, chunk):
        self.size += len(chunk)
        if self.size <= MOST_BYTES:
            self.held += chunk
        else:
            self.held.clear()

    def on_finish(self):
        self._came()

    def on_connection_close(self):
        self._came()
        super().on_connection_close()

    def _came(self):
        if self.comes:
            self.comes = False
            self.coming[self.current_user.username] -= 1
            self.held.clear()

    async def get(self):
        await self.show_files()

    async def post(self):
        if self.size > MOST_BYTES:
            return await self.show_files(TOO_LARGE, 413)
        try:
            with self.one_at_a_time():
                told, status = await asyncio.to_thread(self._taken_in), 200
        except HTTPInputError:  # such as a control character in the file's name
            told, status = "What was sent cannot be read. Give the file a plain name; nothing was changed.", 400
        except ValueError as refusal:
            told, status = str(refusal), 503 if str(refusal) == BUSY else 400
        return await self.show_files(told, status)

    def _taken_in(self):
        parse_body_arguments(self.request.headers.get("Content-Type", ""), bytes(self.held), {}, files := {}, self.request.headers)
        if not files.get("file"):
            raise ValueError("Choose a file first.")
        return _bring_in(self.desk, files["file"][0])


class _WrittenRecord(_OwnPage):
    async def post(self):
        try:
            with self.one_at_a_time():
                told, status = await asyncio.to_thread(_write_out, self.desk), 200
        except ValueError as refusal:
            told, status = str(refusal), 503 if str(refusal) == BUSY else 500
        await self.show_files(told, status)


class _File(_OwnPage):
    async def get(self, name):
        found = await asyncio.to_thread(_files, self.desk.folder)
        path = next((path for path in found if path.relative_to(self.desk.folder).as_posix() == name), None)
        if path is None:
            return await self.show_files(f"There is no file {printable(Path(name).name[:LONGEST_NAME])} here.", 404)
        self.set_header("Content-Disposition", f"attachment; filename*=UTF-8''{quote(path.name)}")
        self.set_header("Content-Type", "application/octet-stream")
        self.set_header("X-Content-Type-Options", "nosniff")
        with path.open("rb") as file:
            while piece := file.read(PIECE):
                self.write(piece)
                await self.flush()  # until the reader has it: of a file nobody reads no more than a piece is held
        return None


def _write_out(desk):
    """Write the record to a file, in place of the one that was written last."""
    _room(desk, 0, "a record")
    path, record = desk.folder / "my-record.json", LearnerRecord(desk.folder)
    draft = desk.folder / f".record-{os.getpid()}.json"
    with suppress(OSError):
        draft.unlink()
    try:
        record.export(draft)
        draft.replace(path)
    except OSError as trouble:
        raise ValueError(f"{path.name} could not be written: {trouble.strerror}. The one before is as it was.") from None
    return f"Written: {path.name}, {len(record.events())} entries."


def _room(desk, size, what):
    """Raises ValueError where a desk has no room for so many bytes more."""
    bytes_held, files = kernel_process.held(desk.folder)
    if bytes_held + size > kernel_process.MOST_BYTES or files >= kernel_process.MOST_FILES:
        most = f"{kernel_process.MOST_BYTES // 1_000_000} MB in {kernel_process.MOST_FILES} files"
        raise ValueError(f"Your desk holds {most} at the most, and has no room for {what}. Nothing was changed.")


def _bring_in(desk, given):
    """Take in what was sent; returns what happened, in a sentence. Raises ValueError."""
    path = desk.folder / _taken_name(given["filename"])
    name = path.name
    _room(desk, len(given["body"]), name)
    try:
        with path.open("xb") as file:
            file.write(given["body"])
    except FileExistsError:
        raise ValueError(f"You have a file {name} already. Give the new one another name; nothing was changed.") from None
    except OSError as trouble:
        path.unlink(missing_ok=True)
        raise ValueError(f"{name} could not be kept on the server: {trouble.strerror}. Nothing was changed.") from None
    if name.endswith(".toml"):
        return f"{name} is here. Type its name into a field for a site file."
    try:
        return f"{name}: {LearnerRecord(desk.folder).read(path)} entries are new; what was here already stays as it was."
    except ValueError as refusal:
        path.unlink(missing_ok=True)
        raise ValueError(f"{refusal}. Nothing was changed.") from None


def _taken_name(sent):
    """The name of a file that was sent, without the folders before it. Raises ValueError for one that no file here may have."""
    name = Path(unicodedata.normalize("NFC", sent).replace("\\", "/")).name
    if not name.endswith((".json", ".toml")):
        raise ValueError(f"{printable(name)} is neither a record (.json) nor a site file (.toml). Nothing was changed.")
    if name.startswith(".") or len(name.encode()) > LONGEST_NAME or not name.isprintable():
        raise ValueError(f"A file's name must have letters that can be seen, {LONGEST_NAME} at the most. Nothing was changed.")
    return name


def _files(folder):
    """Files of a desk that are shown, the newest first."""
    shown = [path for path in folder.rglob("*") if path.suffix in KINDS and path.is_file() and path.name != "desk.json"]
    shown = [path for path in shown if not any(part.startswith(".") for part in path.relative_to(folder).parts)]
    shown = [path for path in shown if path.resolve().is_relative_to(folder.resolve())]  # a link may lead to another desk
    return sorted(shown, key=lambda path: -path.lstat().st_mtime)


def _listed(folder):
    names = [path.relative_to(folder).as_posix() for path in _files(folder)]
    rows = "".join(f'<li><a href="/mine/{quote(name)}">{escape(printable(name))}</a></li>' for name in names)
    return f"<ul>{rows}</ul>" if rows else "<p>None yet.</p>"
