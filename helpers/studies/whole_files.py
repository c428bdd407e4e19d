"""Writing that leaves a file whole or as it was, and names that are safe on every system whatever somebody or something is called."""

import errno
import os
import re
import secrets
import time
import unicodedata
from contextlib import suppress
from pathlib import Path

from helpers.model.file_text import shown_name

__all__ = ["safe_name", "write_whole"]

LONGEST, LONGEST_BYTES = 40, 100  # of a name in a file's name; systems allow 255 bytes for all of it
DRAFT, LEFT_S = ".writing-", 3600  # name of a file that is being written; after so long nobody writes it any more
RESERVED = re.compile("(con|prn|aux|nul|conin|conout|clock|com[0-9]|lpt[0-9])", re.IGNORECASE)  # Windows keeps these for its devices


def safe_name(text):
    """A name as part of a file's name: letters and digits of any script stay, all else becomes one "_".

    >>> safe_name("José Ñandú"), safe_name("../../etc/passwd"), safe_name("山田 花子"), safe_name("con"), safe_name("\\U0001f6aa")
    ('José_Ñandú', 'etc_passwd', '山田_花子', 'con_', 'no_name')
    """
    plain = unicodedata.normalize("NFC", str(text)[: 20 * LONGEST])
    kept = "".join(sign if unicodedata.category(sign)[0] in "LMN" else "_" for sign in plain)
    kept = re.sub("_+", "_", kept).strip("_")
    while kept and unicodedata.category(kept[0])[0] == "M":
        kept = kept[1:]  # an accent with nothing under it
    kept = kept[:LONGEST].encode()[:LONGEST_BYTES].decode(errors="ignore").strip("_") or "no_name"
    return f"{kept}_" if RESERVED.fullmatch(unicodedata.normalize("NFKC", kept)) else kept


def _sweep(folder):
    """Without what processes that were killed had begun to write here: what is being written is younger."""
    with suppress(OSError):
        for left in folder.glob(f"{DRAFT}*.part"):
            if time.time() - left.lstat().st_mtime > LEFT_S:
                left.unlink()


def write_whole(path, content):
    """Write bytes or a text into a file, all of it or nothing: what was there before stays till the new is on the disk.

    A link of that name is replaced by the file; what it leads to stays as it is. Returns the path. Raises ValueError, with a sentence,
    where it cannot be written.
    """
    path, made = Path(path), None
    data = content if isinstance(content, bytes) else content.encode("utf-8")
    try:
        _sweep(path.parent)
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
