"""Desks of a class: a name, a word and a folder of one's own, and a signed cookie that keeps a page open.

Names may be in any script; of a word nothing is kept but its digest.
"""

import asyncio
import hashlib
import hmac
import json
import os
import re
import secrets
import unicodedata
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from math import ceil
from pathlib import Path
from threading import Lock

from jupyter_server.auth.authorizer import Authorizer
from jupyter_server.auth.decorator import allow_unauthenticated
from jupyter_server.auth.identity import IdentityProvider, User
from traitlets import Unicode

from helpers.model.files import page_part
from helpers.serving.gate import Attempts, Paces, PlainPage
from helpers.teaching.record import LearnerRecord

LONGEST_NAME, SHORTEST_WORD, SHORTEST_NEW, LONGEST_WORD = 60, 4, 6, 200  # words of four letters were taken once, and stay
MOST_SIGNS = 4 * LONGEST_WORD  # as it was typed, accents apart: more is not looked at
KEPT = "desk.json"
FULL = "All {most} desks of this class are taken. Ask your instructor for one; nothing of yours is lost."
FULL_ADDRESS = "{most} desks were taken from this computer already, as many as from one. Ask your instructor."
COST = {"n": 2**14, "r": 8, "p": 1}  # 16 MB and some 50 ms for each guess


class Refused(ValueError):
    """Nobody was let in; the sentence says why."""


class WrongWord(Refused):
    """The desk has another word."""


class Desk:
    """One desk: the name as it was typed first, and its folder."""

    def __init__(self, name, folder):
        self.name, self.folder = name, Path(folder)


class Desks:
    """All desks of a class, `most` at the most, in one folder; most_of_one: how many of them may be taken from one address."""

    def __init__(self, folder, most, most_of_one=None):
        self.folder, self.most, self.most_of_one = Path(folder), most, most if most_of_one is None else most_of_one
        self._taking, self._from = Lock(), Counter()  # by address: desks that were taken from there
        self.guessed = Counter()  # by folder: wrong words since the server was started, which the owner is told

    def sit(self, name, word, address=""):
        """The desk of this name; taken by whoever comes first, and from then on only with the same word. Raises Refused, or WrongWord."""
        name, word = named(name), _word(word)
        folder = self.folder / folder_name(name)
        with self._taking:
            if not (folder / KEPT).exists():
                if len(word) < SHORTEST_NEW:
                    raise Refused(f"Your own word must have {SHORTEST_NEW} letters or digits at the least.")
                if len(self.taken()) >= self.most:
                    raise Refused(FULL.format(most=self.most))
                if self._from[address] >= self.most_of_one:
                    raise Refused(FULL_ADDRESS.format(most=self.most_of_one))
                if _take(folder, name, word):
                    self._from[address] += 1
        desk, salt, digest = _kept(folder)
        if not hmac.compare_digest(_digest(word, salt), digest):
            raise WrongWord("This name has a desk, and its word is another one. Is it your desk? Ask your instructor.")
        return desk

    def of(self, key):
        """The desk whose folder is called so, or None."""
        if key == Path(key).name and (self.folder / key / KEPT).is_file():
            return _kept(self.folder / key)[0]
        return None

    def key(self, desk):
        """What a cookie holds of a desk: its folder, and a sign that is another one once the desk has been taken anew."""
        return f"{desk.folder.name}:{_sign(_kept(desk.folder)[1])}"

    def of_key(self, key):
        """The desk of a cookie, or None."""
        folder, _, sign = key.partition(":")
        if folder != Path(folder).name or not (self.folder / folder / KEPT).is_file():
            return None
        desk, salt, _ = _kept(self.folder / folder)
        return desk if hmac.compare_digest(_sign(salt).encode(), sign.encode()) else None

    def taken(self):
        """Folders of the desks that are taken."""
        return sorted(path.parent for path in self.folder.glob(f"*/{KEPT}"))


def named(name):
    """One way of writing for what looks the same: composed letters, one blank between words, nothing that is not seen. Raises Refused.

    Lengths come first: to put accents into their order takes a time that grows with the square of how many there are.
    """
    if len(name) <= MOST_SIGNS:
        seen = "".join(sign for sign in unicodedata.normalize("NFC", name) if unicodedata.category(sign)[0] != "C")
        if 1 <= len(tidy := " ".join(seen.split())) <= LONGEST_NAME:
            return tidy
    raise Refused(f"Your name must have 1 to {LONGEST_NAME} letters.")


def _word(word):
    if len(word) <= MOST_SIGNS and SHORTEST_WORD <= len(plain := unicodedata.normalize("NFC", word)) <= LONGEST_WORD:
        return plain
    raise Refused(f"Your own word must have {SHORTEST_WORD} to {LONGEST_WORD} letters or digits.")


def folder_name(name):
    """A name that every file system takes, told apart by a digest where letters had to go."""
    same = unicodedata.normalize("NFKC", name).casefold()
    plain = re.sub(r"\W+", "-", unicodedata.normalize("NFKD", same).encode("ascii", "ignore").decode()).strip("-")
    return f"{plain[:30] or 'desk'}-{hashlib.sha256(same.encode()).hexdigest()[:8]}"


def _take(folder, name, word):
    """Begin a desk: its record has the name, its file is written whole or not at all. Whether it was this one who took it: where two come
    at the same moment, in two servers even, the file decides."""
    salt, draft = os.urandom(16), folder / f".{KEPT}.{os.getpid()}-{secrets.token_hex(4)}"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        LearnerRecord(folder).name = name
        with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
            file.write(json.dumps({"name": name, "salt": salt.hex(), "digest": _digest(word, salt).hex()}))
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(draft, folder / KEPT)  # unlike a rename it never takes another's place
        finally:
            draft.unlink()
    except FileExistsError:
        return False
    except OSError as trouble:
        raise Refused(f"No desk can be kept on the server: {trouble.strerror}. Tell your instructor.") from None
    return True


def _kept(folder):
    try:
        kept = json.loads((folder / KEPT).read_text(encoding="utf-8"))
        return Desk(kept["name"], folder), bytes.fromhex(kept["salt"]), bytes.fromhex(kept["digest"])
    except (OSError, ValueError, KeyError, TypeError):
        told = f"The file {folder.name}/{KEPT} of this desk is damaged. Tell your instructor; the record beside it is whole."
        raise Refused(told) from None


def _digest(word, salt):
    return hashlib.scrypt(word.encode(), salt=salt, **COST)


def _sign(salt):
    return hashlib.sha256(b"cookie" + salt).hexdigest()[:20]


COOKIE, DAYS = "pressure-loop-desk", 30
TITLE = "Take a desk"
WRONG_S = 1.0  # whoever guesses waits
WRONG = "That is not the word of this class. Your instructor has it."
WAIT = "Too many words were tried here. Wait {seconds} s, then try again; whoever has the right word is let in."
OFTEN = "You have signed in many times in a short time. Wait {seconds} s, then try again; your desk is as it was."
OF_A_DESK, OF_AN_ADDRESS = (0.2, 10), (2.0, 100)  # words looked at, a second and at once: also a right one takes 50 ms of a core
LONGEST_WAIT_S = 2  # at the door
MOST_WORD, LONGEST_SHOWN = 200, 60
FORM = page_part("sign_in.html")


class DeskIdentity(IdentityProvider):
    """Knows a visitor by the signed cookie of a desk; there is no other way in."""

    class_word = Unicode(config=True, help="The word of the class.")

    @property
    def auth_enabled(self):
        """Always."""
        return True

    def get_user(self, handler):
        """The visitor, or None."""
        desk = self.parent.desk_of_cookie(handler.get_cookie(COOKIE))
        return desk and User(username=desk.folder.name, name=desk.name, display_name=desk.name)

    def get_handlers(self):
        """Way in and way out."""
        return [(r"/login", _SignIn), (r"/logout", _SignOut)]


class OwnKernels(Authorizer):
    """Everybody reaches the kernels of the own desk, and no other's."""

    def is_authorized(self, handler, user, action, resource):
        """Whether this kernel is the visitor's own."""
        number = handler.path_kwargs.get("kernel_id")
        owner = handler.kernel_manager.owner(number) if number else None
        return number is None or (owner is not None and owner.name == user.username)


class _SignIn(PlainPage):
    attempts, seated = Attempts(), set()  # seated: (desk, address) from where its word was typed rightly before
    looking = ThreadPoolExecutor(2)  # a word takes 50 ms of a core to look at
    desk_paces, address_paces = Paces(*OF_A_DESK), Paces(*OF_AN_ADDRESS)

    @allow_unauthenticated
    def get(self):
        self.show(TITLE, FORM, name="")

    @allow_unauthenticated
    async def post(self):
        name, word, class_word = (self.get_body_argument(field, "", strip=False) for field in ("name", "word", "class_word"))
        address = self.request.remote_ip
        try:
            self._is_of_the_class(class_word, address)
            desk = await self._seated(name, word, address)
        except Refused as refusal:
            await asyncio.sleep(WRONG_S)
            return self.show(TITLE, FORM, str(refusal), 403, name=name[:LONGEST_SHOWN])
        kept = self.settings["desks"].key(desk)
        tls = self.request.protocol == "https"
        self.set_signed_cookie(COOKIE, kept, expires_days=DAYS, httponly=True, samesite="Lax", secure=tls)
        return self.redirect(self.settings["first_page"])

    def _is_of_the_class(self, class_word, address):
        """Raises Refused. A try counts for its address before it is looked at, and no more once it was right."""
        key = ("class", address)
        self._may_try(key)
        if not hmac.compare_digest(class_word[:MOST_WORD].strip().encode(), self.identity_provider.class_word.encode()):
            raise Refused(WRONG)
        self.attempts.right(key)

    async def _seated(self, name, word, address):
        """The desk. Whoever guesses at it waits, and so does everybody else who has not sat there from the own address before."""
        folder = folder_name(named(name))
        keys = [("desk", folder, address)] + ([] if (folder, address) in self.seated else [("desk", folder)])
        for pace in (self.desk_paces.of((folder, address)), self.address_paces.of(address)):
            if wait_s := await pace.turn_within(LONGEST_WAIT_S):
                raise Refused(OFTEN.format(seconds=ceil(wait_s)))
        self._may_try(*keys)
        desks = self.settings["desks"]
        try:
            desk = await asyncio.get_running_loop().run_in_executor(self.looking, desks.sit, name, word, address)
        except WrongWord:
            desks.guessed[folder] += 1
            raise
        except Refused:
            self.attempts.right(*keys)  # nobody's word was tried
            raise
        self.attempts.right(*keys)
        self.seated.add((folder, address))
        return desk

    def _may_try(self, *keys):
        if wait_s := self.attempts.wait_s(*keys):
            raise Refused(WAIT.format(seconds=ceil(wait_s)))
        self.attempts.tried(*keys)


class _SignOut(PlainPage):
    @allow_unauthenticated
    def get(self):
        self.clear_cookie(COOKIE)
        self.redirect(self.settings["login_url"])
