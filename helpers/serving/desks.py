"""Desks of a class: a name, a word and a folder of one's own. Names may be in any script; of a word nothing is kept but its digest."""

import hashlib
import hmac
import json
import os
import re
import unicodedata
from pathlib import Path
from threading import Lock

from helpers.lessons.progress import LearnerRecord

__all__ = ["FULL", "Desk", "Desks", "Refused"]

LONGEST_NAME, SHORTEST_WORD, LONGEST_WORD = 60, 4, 200
KEPT = "desk.json"
FULL = "All {most} desks of this class are taken. Ask your instructor for one; nothing of yours is lost."
COST = {"n": 2**14, "r": 8, "p": 1}  # 16 MB and some 50 ms for each guess


class Refused(ValueError):
    """Nobody was let in; the sentence says why."""


class Desk:
    """One desk: the name as it was typed first, and its folder."""

    def __init__(self, name, folder):
        self.name, self.folder = name, Path(folder)


class Desks:
    """All desks of a class, `most` at the most, in one folder."""

    def __init__(self, folder, most):
        self.folder, self.most, self._taking = Path(folder), most, Lock()

    def sit(self, name, word):
        """The desk of this name; taken by whoever comes first, and from then on only with the same word. Raises Refused."""
        name, word = _tidy(name), unicodedata.normalize("NFC", word)
        if not 1 <= len(name) <= LONGEST_NAME:
            raise Refused(f"Your name must have 1 to {LONGEST_NAME} letters.")
        if not SHORTEST_WORD <= len(word) <= LONGEST_WORD:
            raise Refused(f"Your own word must have {SHORTEST_WORD} to {LONGEST_WORD} letters or digits.")
        folder = self.folder / _folder_name(name)
        with self._taking:
            if not (folder / KEPT).exists():
                if len(self.taken()) >= self.most:
                    raise Refused(FULL.format(most=self.most))
                _take(folder, name, word)
        desk, salt, digest = _kept(folder)
        if not hmac.compare_digest(_digest(word, salt), digest):
            raise Refused("This name has a desk, and its word is another one. Is it your desk? Ask your instructor.")
        return desk

    def of(self, key):
        """The desk whose folder is called so, or None."""
        if key == Path(key).name and (self.folder / key / KEPT).is_file():
            return _kept(self.folder / key)[0]
        return None

    def taken(self):
        """Folders of the desks that are taken."""
        return sorted(path.parent for path in self.folder.glob(f"*/{KEPT}"))


def _tidy(name):
    """One way of writing for what looks the same: composed letters, one blank between words, nothing that is not seen."""
    seen = "".join(sign for sign in unicodedata.normalize("NFC", name) if unicodedata.category(sign)[0] != "C")
    return " ".join(seen.split())


def _folder_name(name):
    """A name that every file system takes, told apart by a digest where letters had to go."""
    same = unicodedata.normalize("NFKC", name).casefold()
    plain = re.sub(r"\W+", "-", unicodedata.normalize("NFKD", same).encode("ascii", "ignore").decode()).strip("-")
    return f"{plain[:30] or 'desk'}-{hashlib.sha256(same.encode()).hexdigest()[:8]}"


def _take(folder, name, word):
    """Begin a desk: its record has the name, its file is written whole or not at all."""
    salt, draft = os.urandom(16), folder / f"{KEPT}.draft"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        LearnerRecord(folder).name = name
        draft.write_text(json.dumps({"name": name, "salt": salt.hex(), "digest": _digest(word, salt).hex()}), encoding="utf-8")
        draft.replace(folder / KEPT)
    except OSError as trouble:
        raise Refused(f"No desk can be kept on the server: {trouble.strerror}. Tell your instructor.") from None


def _kept(folder):
    try:
        kept = json.loads((folder / KEPT).read_text(encoding="utf-8"))
        return Desk(kept["name"], folder), bytes.fromhex(kept["salt"]), bytes.fromhex(kept["digest"])
    except (OSError, ValueError, KeyError, TypeError):
        told = f"The file {folder.name}/{KEPT} of this desk is damaged. Tell your instructor; the record beside it is whole."
        raise Refused(told) from None


def _digest(word, salt):
    return hashlib.scrypt(word.encode(), salt=salt, **COST)
