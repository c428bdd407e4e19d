"""Who is at a page: a name, a word of one's own and the word of the class open it; a signed cookie keeps it open."""

import asyncio
import hmac

from jupyter_server.auth.authorizer import Authorizer
from jupyter_server.auth.decorator import allow_unauthenticated
from jupyter_server.auth.identity import IdentityProvider, User
from traitlets import Unicode

from helpers.serving.desks import Refused
from helpers.serving.page import PlainPage

__all__ = ["DeskIdentity", "OwnKernels"]

COOKIE, DAYS = "pressure-loop-desk", 30
TITLE = "Take a desk"
WRONG_S = 1.0  # whoever guesses waits
WRONG = "That is not the word of this class. Your instructor has it."
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
        key = handler.get_signed_cookie(COOKIE, max_age_days=DAYS)
        desk = self.parent.desks.of(key.decode()) if key else None
        return desk and User(username=key.decode(), name=desk.name, display_name=desk.name)

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
    @allow_unauthenticated
    def get(self):
        self.show(TITLE, FORM, name="")

    @allow_unauthenticated
    async def post(self):
        name, word, class_word = (self.get_body_argument(field, "", strip=False) for field in ("name", "word", "class_word"))
        try:
            if not hmac.compare_digest(class_word.strip().encode(), self.identity_provider.class_word.encode()):
                raise Refused(WRONG)
            desk = await asyncio.to_thread(self.settings["desks"].sit, name, word)
        except Refused as refusal:
            await asyncio.sleep(WRONG_S)
            return self.show(TITLE, FORM, str(refusal), 403, name=name)
        self.set_signed_cookie(COOKIE, desk.folder.name, expires_days=DAYS, httponly=True, samesite="Lax")
        return self.redirect(self.settings["first_page"])


class _SignOut(PlainPage):
    @allow_unauthenticated
    def get(self):
        self.clear_cookie(COOKIE)
        self.redirect(self.settings["login_url"])
