"""Text of a file that somebody names: no device, no pipe, no folder, nothing endless; and a name as it can be shown in a sentence."""

import os
import stat
from pathlib import Path

__all__ = ["FileTextError", "bytes_of", "named_path", "shown_name", "text_of"]


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
    path = Path(path)
    try:
        raw = bytes_of(path, most_bytes)
    except FileNotFoundError:
        raise FileTextError(path, f"is not there; looked in {shown_name(path.absolute().parent, whole=True)}") from None
    except OSError as trouble:
        raise FileTextError(path, f"cannot be read: {trouble.strerror}") from None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileTextError(path, "is no text in UTF-8") from None


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
