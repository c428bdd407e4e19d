"""Files that somebody names: read only where they are text and not endless, written whole or not at all, under names safe on every system.

No device, no pipe, no folder is read. A TOML reader takes a time that grows with the square of a dotted key's parts, and every mistake is
told in a sentence of its own; a site with each of the most storeys described by itself stays well within all of these limits.
"""

import errno
import json
import os
import re
import secrets
import stat
import time
import tomllib
import unicodedata
from contextlib import suppress
from functools import cache
from pathlib import Path


class FileTextError(ValueError):
    """A file that gives no text; `found` says what it is instead, after the file's name."""

    def __init__(self, path, found):
        self.found = found
        super().__init__(f"{shown_name(path)} {found}")


def named_path(text):
    """The path that somebody typed, "~" for their own folder. Raises FileTextError for the folder of a user who is not there."""
    try:
        return Path(text).expanduser()
    except RuntimeError:
        raise FileTextError(text, "is in the folder of a user who is not there") from None


def text_of(path, most_bytes):
    """Text in UTF-8 of a file of so many bytes at the most, without a byte order mark. Raises FileTextError, with a sentence, for another.

    A link is followed: what it leads to is only read.
    """
    try:
        return bytes_there(path, most_bytes).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileTextError(path, "is no text in UTF-8") from None


def bytes_there(path, most_bytes):
    """As bytes_of, of a file that has to be there. Raises FileTextError, with a sentence, for one that is not or cannot be read."""
    path = Path(path)
    try:
        return bytes_of(path, most_bytes)
    except FileNotFoundError:
        raise FileTextError(path, f"is not there; looked in {shown_name(path.absolute().parent, whole=True)}") from None
    except OSError as trouble:
        raise FileTextError(path, f"cannot be read: {trouble.strerror}") from None


def shown_name(path, whole=False):
    """The name of a file (whole: with its folders) without signs that would break or turn a sentence, cut to sixty letters."""
    name = str(path) if whole else Path(path).name
    plain = "".join(letter if letter.isprintable() else f"\\x{ord(letter):02x}" for letter in name)
    return plain if whole or len(plain) <= 60 else f"{plain[:57]}..."


def bytes_of(path, most_bytes):
    """Bytes of a plain file of so many at the most. Raises FileTextError for another, OSError where it cannot be read."""
    try:
        about = path.stat()
    except ValueError:  # a null, or half a sign of two
        raise FileTextError(path, "is no name that a file can have") from None
    if stat.S_ISDIR(about.st_mode):
        raise FileTextError(path, "is a folder")
    if not stat.S_ISREG(about.st_mode):
        raise FileTextError(path, "is no file but a device or a pipe")
    with open(path, "rb", opener=_at_once) as file:
        raw = file.read(most_bytes + 1)
    if raw is None:
        raise FileTextError(path, "gives nothing to read")
    if len(raw) > most_bytes:
        raise FileTextError(path, f"must be {most_bytes} bytes at the most, got {max(about.st_size, len(raw))}")
    return raw


def _at_once(path, flags):
    """Opens without waiting: some of what the system calls plain files never answers."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


MOST_BYTES, MOST_LINES, MOST_LETTERS, MOST_VALUES = 300_000, 8_000, 3_000, 15_000
MOST_PARTS = 4  # of a dotted key; the deepest that is known has three
MOST_GROUPS, MOST_LAID = 400, 20_000  # of storeys, and levels in all of them together
MOST_TOLD = 60  # mistakes in one refusal
_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
_UNSEEN = re.compile(  # control signs and those that turn a line round, as they are or as TOML writes them
    r"[\x7f-\x9f\u2028-\u202e\u2066-\u2069]"
    r"|\\(?:u|U0000)(?:00(?:0[0-8a-f]|1[0-9a-f]|7f|[89][0-9a-f])|202[89a-e]|206[6-9])",
    re.IGNORECASE,
)
_NO_KEY = re.compile(r"[^\w.\s-]+")
_JOINT = re.compile(r"(?<=\w)\s*\.\s*(?=\w)")


def endless(text):
    """(sentence, line or None) about what in a text is endlessly long or deep; None where nothing is."""
    if len(text) > MOST_BYTES:
        return f"must be {MOST_BYTES} letters at the most, got {len(text)}", None
    lines = text.split("\n")
    if len(lines) > MOST_LINES:
        return f"must be {MOST_LINES} lines at the most, got {len(lines)}", None
    values = text.count("=") + text.count(",")
    if values > MOST_VALUES:
        return f"must hold {MOST_VALUES} values at the most, got some {values}", None
    for number, line in enumerate(lines, start=1):
        if len(line) > MOST_LETTERS:
            return f"must have lines of {MOST_LETTERS} letters at the most, got one of {len(line)}", number
        if unseen := _UNSEEN.search(line):
            return f"must hold no sign that is not seen and breaks or turns a line; got {ascii(unseen[0])[1:-1]}", number
        if line.count(".") >= MOST_PARTS and _parts(line) > MOST_PARTS:
            return f"must have keys of {MOST_PARTS} parts at the most, got a deeper one", number
    return None


def _parts(line):
    """Parts of the longest dotted key a line can hold; what stands in quotation marks is one part, a remark none."""
    bare = _QUOTED.sub("q", line).partition("#")[0]
    return max(len(_JOINT.findall(piece)) + 1 for piece in _NO_KEY.split(bare))


LONGEST, LONGEST_BYTES = 40, 100  # of a name in a file's name; systems allow 255 bytes for all of it
DRAFT, LEFT_S = ".writing-", 3600  # name of a file that is being written; after so long nobody writes it any more
RESERVED = re.compile("(con|prn|aux|nul|conin|conout|clock|com[0-9]|lpt[0-9])", re.IGNORECASE)  # Windows keeps these for its devices


def texts(name):
    """The table of a file of data/texts: words that people read and no code works out. The caller's own, to change as it likes."""
    return json.loads(_read_text(name))


@cache
def _read_text(name):
    # Once for a process, and kept as a text that is soon made tables again: the folder of papers asks for the same words a hundred times.
    path = Path(__file__).parents[2] / "data" / "texts" / f"{name}.toml"
    return json.dumps(tomllib.loads(path.read_text(encoding="utf-8")))


def page_part(name):
    """The text of a file of data/pages: style, script or form of a page, without its last line end."""
    return (Path(__file__).parents[2] / "data" / "pages" / name).read_text(encoding="utf-8").removesuffix("\n")


def safe_name(text):
    r"""A name as part of a file's name: letters and digits of any script stay, all else becomes one "_".

    >>> safe_name("José Ñandú"), safe_name("../../etc/passwd"), safe_name("山田 花子"), safe_name("con"), safe_name("\U0001f6aa")
    ('José_Ñandú', 'etc_passwd', '山田_花子', 'con_', 'no_name')
    """
    plain = unicodedata.normalize("NFC", str(text)[: 20 * LONGEST])
    kept = "".join(sign if unicodedata.category(sign)[0] in "LMN" else "_" for sign in plain)
    kept = re.sub("_+", "_", kept).strip("_")
    while kept and unicodedata.category(kept[0])[0] == "M":
        kept = kept[1:]  # an accent with nothing under it
    kept = kept[:LONGEST].encode()[:LONGEST_BYTES].decode(errors="ignore").strip("_") or "no_name"
    return f"{kept}_" if RESERVED.fullmatch(unicodedata.normalize("NFKC", kept)) else kept


def write_whole(path, content):
    """Write bytes or a text into a file, all of it or nothing: what was there before stays till the new is on the disk.

    A link of that name is replaced by the file; what it leads to stays as it is. Returns the path. Raises ValueError, with a sentence,
    where it cannot be written.
    """
    path, made = Path(path), None
    data = content if isinstance(content, bytes) else content.encode("utf-8")
    try:
        # without what processes that were killed had begun to write here: what is being written is younger
        with suppress(OSError):
            for left in path.parent.glob(f"{DRAFT}*.part"):
                if time.time() - left.lstat().st_mtime > LEFT_S:
                    left.unlink()
        draft = path.with_name(f"{DRAFT}{os.getpid()}-{secrets.token_hex(6)}.part")
        with draft.open("xb") as file:  # readable by whom the account's own files are, as of any program
            made = draft
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(made, path)
    except (OSError, ValueError) as trouble:  # ValueError: a null in the path
        if made:
            with suppress(OSError):
                os.unlink(made)
        no_space = getattr(trouble, "errno", None) in (errno.ENOSPC, errno.EDQUOT)
        why = "the disk is full" if no_space else getattr(trouble, "strerror", None) or "no file can have this name"
        raise ValueError(f"{shown_name(path)} could not be written: {why}. What was there before is as it was.") from None
    return path


def write_new(path, data):
    """Write bytes into a file that was not there, all of them or nothing: also a process that is killed leaves no half of it under this
    name (an empty file at the most, on a file system without links), and of two that write one alone has it. Raises FileExistsError for
    a name that is taken, OSError where it cannot be written, ValueError for no name."""
    path = Path(path)
    draft = path.with_name(f"{DRAFT}{secrets.token_hex(16)}.part")
    if os.path.lexists(path):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
    try:
        with draft.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if not _linked(draft, path):
            with path.open("xb"):  # the name is taken first, or one of two who write now would be lost
                pass
            try:
                os.replace(draft, path)
            except OSError:
                with suppress(OSError):
                    path.unlink()
                raise
    finally:
        with suppress(OSError, ValueError):
            draft.unlink()


def _linked(draft, path):
    """Give the draft its name too, never over another file; False where this system (a browser's has no such call) or its disk cannot."""
    try:
        os.link(draft, path)
    except FileExistsError:
        raise
    except (OSError, AttributeError):
        return False
    return True


TURNING = "\\u2028-\\u202e\\u2066-\\u2069"  # signs that are not seen and turn the letters after them round, or end a line
UNPRINTABLE = re.compile(f"[\\x00-\\x1f\\x7f-\\x9f\\ud800-\\udfff\\ufffe\\uffff{TURNING}]")


def free_path(path):
    """The path, or the next with a number where a file is there already: what somebody has written into it stays."""
    path, number = Path(path), 2
    free = path
    while os.path.lexists(free):
        free, number = path.with_name(f"{path.stem}_{number}{path.suffix}"), number + 1
    return free


def changed_s(path):
    """When a file was changed last [s after 1970], 0 for one that is gone meanwhile, a link to nothing, or not for everybody."""
    try:
        return Path(path).stat().st_mtime
    except OSError:
        return 0.0


def made_folder(path):
    """The folder; one that is made is its owner's alone, for keys and marks are nobody else's. Raises ValueError with a sentence."""
    folder = named_path(path)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as trouble:
        raise ValueError(f"folder {folder.name!r:.80} cannot be made: {trouble.strerror}") from None
    return folder


def printable(text):
    r"""A text as pages and sheets can hold it: what stands for no sign (control characters, half a sign of two) becomes a mark for that,
    and so does what would turn a line round.

    >>> printable("Ada"), printable("A\x07da\ud83d\uffff")
    ('Ada', 'A�da��')
    """
    return UNPRINTABLE.sub("\ufffd", text)
