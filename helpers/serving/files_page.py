"""The files of a desk: what its pages have written, to take home; an exported record or a site file, to bring in."""

import unicodedata
from html import escape
from pathlib import Path
from urllib.parse import quote

import tornado.web
from tornado.httputil import HTTPInputError, parse_body_arguments

from helpers.lessons.class_files import printable
from helpers.lessons.progress import LearnerRecord
from helpers.serving.page import PlainPage

__all__ = ["MOST_BYTES", "handlers_of_files"]

MOST_BYTES, MOST_SENT = 20_000_000, 2_000_000_000  # what is kept; what is let pass unkept, so that the sentence reaches the sender
MOST_DESK_BYTES, LONGEST_NAME = 10 * MOST_BYTES, 100  # of all a desk holds; of a name, in bytes: systems allow 255
TOO_LARGE = f"This file has more than {MOST_BYTES // 1_000_000} MB and is no record. Nothing was changed."
KINDS = (".json", ".html", ".pdf", ".png", ".xlsx", ".toml", ".csv", ".txt")  # of files that are shown
BODY = """<h1>Files of {name}</h1>{told}
<p>What your pages have written. To take a file home, save it from here.</p>{files}
<form method="post" action="/mine/record?{ticket}"><button>Write my record to a file</button></form>
<h2>Bring in a file</h2>
<form method="post" action="/mine/?{ticket}" enctype="multipart/form-data">
<p><label>A record that was written elsewhere (.json), or a site file (.toml)
<input type="file" name="file" required></label> <button>Bring in</button></p></form>
<p><a href="/">To the start page</a> · <a href="/logout">Leave my desk</a></p>"""


def handlers_of_files():
    """The addresses of these pages."""
    return [(r"/mine/?", _Files), (r"/mine/record", _WrittenRecord), (r"/mine/(.+)", _File)]


class _OwnPage(PlainPage):
    @property
    def desk(self):
        return self.settings["desks"].of(self.current_user.username)

    def show_files(self, told="", status=200):
        self.show("My files", BODY, told, status, {"files": _listed(self.desk.folder)}, name=self.desk.name)


@tornado.web.stream_request_body
class _Files(_OwnPage):
    """The list; and a file that comes in, of which no more is held than may be kept."""

    async def prepare(self):
        self.size, self.held = 0, bytearray()
        self.request.connection.set_max_body_size(MOST_SENT)
        await super().prepare()

    def data_received(self, chunk):
        self.size += len(chunk)
        if self.size <= MOST_BYTES:
            self.held += chunk

    def get(self):
        self.show_files()

    def post(self):
        if self.size > MOST_BYTES:
            return self.show_files(TOO_LARGE, 413)
        try:
            parse_body_arguments(self.request.headers.get("Content-Type", ""), bytes(self.held), {}, files := {}, self.request.headers)
            if not files.get("file"):
                raise ValueError("Choose a file first.")
            return self.show_files(_bring_in(self.desk, files["file"][0]))
        except HTTPInputError:  # such as a control character in the file's name
            return self.show_files("What was sent cannot be read. Give the file a plain name; nothing was changed.", 400)
        except ValueError as refusal:
            return self.show_files(str(refusal), 400)


class _WrittenRecord(_OwnPage):
    def post(self):
        record, number = LearnerRecord(self.desk.folder), 1
        while (path := self.desk.folder / f"my-record-{number}.json").exists():
            number += 1
        try:
            self.show_files(f"Written: {record.export(path).name}, {len(record.events())} entries.")
        except ValueError as refusal:
            self.show_files(str(refusal), 500)


class _File(_OwnPage):
    def get(self, name):
        path = next((path for path in _files(self.desk.folder) if path.relative_to(self.desk.folder).as_posix() == name), None)
        if path is None:
            self.show_files(f"There is no file {printable(Path(name).name)} here.", 404)
            return
        self.set_header("Content-Disposition", f"attachment; filename*=UTF-8''{quote(path.name)}")
        self.set_header("Content-Type", "application/octet-stream")
        self.finish(path.read_bytes())


def _bring_in(desk, given):
    """Take in what was sent; returns what happened, in a sentence. Raises ValueError."""
    path = desk.folder / _taken_name(given["filename"])
    name = path.name
    held = sum(one.stat().st_size for one in desk.folder.rglob("*") if one.is_file())
    if held + len(given["body"]) > MOST_DESK_BYTES:
        raise ValueError(f"Your desk holds {MOST_DESK_BYTES // 1_000_000} MB at the most, and has no room for {name}. Nothing was changed.")
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
    shown = [path for path in shown if path.resolve().is_relative_to(folder.resolve())]  # a link may lead to another desk
    return sorted(shown, key=lambda path: -path.stat().st_mtime)


def _listed(folder):
    names = [path.relative_to(folder).as_posix() for path in _files(folder)]
    rows = "".join(f'<li><a href="/mine/{quote(name)}">{escape(name)}</a></li>' for name in names)
    return f"<ul>{rows}</ul>" if rows else "<p>None yet.</p>"
