"""Who is at a page: a name, a word of one's own and the word of the class open it; a signed cookie keeps it open."""

import asyncio
import hmac
from concurrent.futures import ThreadPoolExecutor
from math import ceil

from jupyter_server.auth.authorizer import Authorizer
from jupyter_server.auth.decorator import allow_unauthenticated
from jupyter_server.auth.identity import IdentityProvider, User
from traitlets import Unicode

from helpers.serving.desks import Refused, WrongWord, folder_name, named
from helpers.serving.pace import Attempts, Paces
from helpers.serving.page import PlainPage

__all__ = ["COOKIE", "DAYS", "DeskIdentity", "OwnKernels"]

COOKIE, DAYS = "pressure-loop-desk", 30
TITLE = "Take a desk"
WRONG_S = 1.0  # whoever guesses waits
WRONG = "That is not the word of this class. Your instructor has it."
WAIT = "Too many words were tried here. Wait {seconds} s, then try again; whoever has the right word is let in."
OFTEN = "You have signed in many times in a short time. Wait {seconds} s, then try again; your desk is as it was."
OF_A_DESK, OF_AN_ADDRESS = (0.2, 10), (2.0, 100)  # words looked at, a second and at once: also a right one takes 50 ms of a core
LONGEST_WAIT_S = 2  # at the door
MOST_WORD, LONGEST_SHOWN = 200, 60
FORM = """
<h1>The pressure-loop workbook</h1>
<p>Everybody has a desk: a name, and a word of your own that you choose now and need again when you come back. What you predict and answer
is kept in your desk, on this class's computer. Do not use a password you have elsewhere.</p>
{told}
<form method="post" action="/login?{ticket}">
<p><label>Your name <input name="name" required maxlength="60" autocomplete="username" autofocus value="{name}"></label></p>
<p><label>Your own word <input name="word" type="password" required minlength="4" maxlength="200"></label></p>
<p><label>Word of the class <input name="class_word" type="password" required maxlength="200"></label></p>
<p><button>Take my desk</button></p>
</form>"""


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
