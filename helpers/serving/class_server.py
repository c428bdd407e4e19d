"""The server of a class: every notebook as a page without code, desks, limits."""

import hashlib
import os
import shutil
import signal
import sys
import tempfile
from contextlib import suppress
from http.cookies import CookieError, SimpleCookie
from pathlib import Path

import tornado.ioloop
import tornado.web
from traitlets import Any, Bool, Float, Integer, List, Unicode
from traitlets.config import Config
from voila.app import Voila
from voila.static_file_handler import TemplateStaticFileHandler
from voila.tornado.handler import TornadoVoilaHandler
from voila.tornado.kernel_websocket_handler import VoilaKernelWebsocketHandler

from helpers.serving.desks import COOKIE, DAYS, DeskIdentity, Desks, OwnKernels, Refused
from helpers.serving.gate import SPARE_FILES, Gate, GuardedServer, PlainPage, most_files
from helpers.serving.kernel_process import OWN_TEMPORARY
from helpers.serving.page_socket import PageSocket
from helpers.serving.pages import LessonPage, handlers_beside_lessons, handlers_of_files
from helpers.serving.warm_kernels import DESK, ClassKernelManager, ClassKernels, WarmParent

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
FIRST = "/voila/render/00_start_here.ipynb"
LOOK_S = 30
PATIENCE_S = 180  # when a whole class opens its pages at once, the last one gives nothing up
CLOSED = ("/voila/tree", "/voila/api/contents", "/voila/files")  # of what the app would answer: nobody needs it here
FILES_A_PAGE = 16  # that the server has open for a page
SECRET_BYTES = 32
KEYS = ".kernels"  # folder of the kernels' keys and sockets
LONGEST_SOCKET = 107 - 66  # letters that systems let a socket's name have, less what the app and a kernel add


class ClassServer(Voila):
    """Voila with desks. All that belongs to the class lies in `folder`, and nothing is written elsewhere."""

    folder = Unicode(help="Folder of the class.")
    class_word = Unicode(help="What everybody of the class knows.")
    most_desks = Integer(40)
    most_desks_of_one = Integer(40, help="Desks that may be taken from one address.")
    most_pages = Integer(80, help="Pages open at once, all desks together; no more than this process may have files open for.")
    names = List(Unicode(), help="What this machine is called on the class network, besides its address in figures.")
    tls = Any(None, help="An ssl.SSLContext, or None for a server without encryption.")
    warm = Bool(sys.platform == "linux", help="Kernels are born of a warm parent. Elsewhere a fork of this kind is unsafe, or not there.")
    idle_s = Float(40 * 60, help="After so long without a touch a page is closed.")

    def initialize(self, argv=None):
        """Settings of the class, and none of this person's own."""
        self.config_file_paths = []
        self.most_connections = most_files() - SPARE_FILES
        self.most_pages = max(0, min(self.most_pages, self.most_connections // 2 // FILES_A_PAGE))
        self.most_connections -= self.most_pages * FILES_A_PAGE
        self.update_config(self._own_settings())
        super().initialize(argv or [])
        self.desks = Desks(Path(self.folder) / "desks", self.most_desks, self.most_desks_of_one)
        self.desks.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self.cookie_secret = _secret(Path(self.folder) / "cookie_secret")
        _of_its_owner_alone(Path(self.folder))
        _swept(self.desks.folder)
        self.connection_dir_root = _for_keys(Path(self.folder))
        if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
            signal.signal(signal.SIGHUP, self._handle_signal_stop)  # the terminal was closed

    def init_settings(self):
        """As the app's, with the desks; the warm parent is up before the first visitor comes."""
        ours = {"desks": self.desks, "first_page": FIRST, "xsrf_cookie_kwargs": {"samesite": "Lax", "secure": self.tls is not None}}
        settings = super().init_settings() | ours
        if self.warm:
            self.kernel_manager.warm = WarmParent(self.connection_dir_root)
            self.kernel_manager.warm.start()
        return settings

    def desk_of_cookie(self, cookie):
        """The desk of a signed cookie, or None; without anything being asked of whoever shows it."""
        if not cookie or len(cookie) > 500:
            return None
        key = tornado.web.decode_signed_value(self.cookie_secret, COOKIE, cookie, max_age_days=DAYS)
        try:
            return key and self.desks.of_key(key.decode())
        except (Refused, UnicodeDecodeError, OSError, ValueError):
            return None

    def listen(self):
        """Behind the gate. What cannot be listened at is said, and ends the server."""
        gate = Gate(self.app, self._known, [self.ip, *self.names], self.most_connections)
        server = GuardedServer(gate, ssl_options=self.tls)
        try:
            server.listen(self.port, self.ip)
        except OSError as trouble:
            print(f"Nobody can listen at {self.ip}, port {self.port}: {trouble.strerror}.", file=sys.stderr)
            self.stop()
            self.exit(1)
        self.ioloop = tornado.ioloop.IOLoop.current()
        try:
            self.ioloop.start()
        except KeyboardInterrupt:
            self.log.info("Stopping...")
        finally:
            self.stop()

    def _known(self, headers):
        """Key of the desk whose cookie is among these headers."""
        try:
            found = SimpleCookie(headers.get("Cookie", "")).get(COOKIE)
        except CookieError:
            return None
        desk = self.desk_of_cookie(found.value if found else "")
        return desk and desk.folder.name

    def init_handlers(self):
        """The app's, less what only lists folders, and those of the desks."""
        own = [("/", tornado.web.RedirectHandler, {"url": FIRST, "permanent": False}), *handlers_of_files(), *handlers_beside_lessons()]
        kept = [(path, *rest) for path, *rest in super().init_handlers() if path != "/" and not path.startswith(CLOSED)]
        ours = {TornadoVoilaHandler: LessonPage, VoilaKernelWebsocketHandler: PageSocket, TemplateStaticFileHandler: _Template}
        return [*own, *((path, ours.get(kind, kind), *rest) for path, kind, *rest in kept), (r".*", _Nothing)]

    def stop(self):
        """End all kernels, then their parent."""
        super().stop()
        if self.kernel_manager.warm:
            self.kernel_manager.warm.stop()
        shutil.rmtree(self.connection_dir_root, ignore_errors=True)

    def _own_settings(self):
        app = {"identity_provider_class": DeskIdentity, "authorizer_class": OwnKernels, "root_dir": str(NOTEBOOKS), "open_browser": False}
        pages = {
            "multi_kernel_manager_class": ClassKernels,
            "prelaunch_hook": _desk_first,
            "allow_template_override": "NO",
            "allow_theme_override": "NO",
        }
        kernels = {
            "cull_idle_timeout": int(self.idle_s),
            "cull_interval": LOOK_S,
            "cull_connected": True,  # a page that is open and forgotten holds as much memory as one that is used
            "kernel_manager_class": f"{ClassKernelManager.__module__}.{ClassKernelManager.__qualname__}",
            "most_pages": self.most_pages,
        }
        patience = {"startup_timeout": PATIENCE_S, "iopub_timeout": PATIENCE_S}
        kernel = {"autorestart": False, "transport": "ipc"}
        return Config(
            Voila=app | {"port_retries": 0}, DeskIdentity={"class_word": self.class_word},
            VoilaConfiguration=pages, VoilaExecutor=patience, ClassKernels=kernels, ClassKernelManager=kernel,
        )  # fmt: skip


class _Template(TemplateStaticFileHandler):
    """A file of a template; the app's own (voila 0.5.13) answers an address of another shape with a fault."""

    def parse_url_path(self, path):
        try:
            return super().parse_url_path(path)
        except (ValueError, AssertionError):
            raise tornado.web.HTTPError(404) from None


class _Nothing(PlainPage):
    """An address where nothing is."""

    def get(self):
        self.show("Nothing is here", "<h1>{title}</h1><p><a href='/'>To the start page</a></p>", status=404)


def _desk_first(request, notebook, cwd):
    """Before a kernel is started: whose it will be."""
    DESK.set(request.settings["desks"].of(request.current_user.username))


def _secret(path):
    """The secret that signs the cookies: kept, so that a server that was started anew knows its visitors."""
    if not path.exists():
        draft = path.with_suffix(f".{os.getpid()}")
        with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(os.urandom(SECRET_BYTES))
        draft.replace(path)
    secret = path.read_bytes()
    if len(secret) < SECRET_BYTES:
        raise ValueError(
            f"{path.name} must hold {SECRET_BYTES} bytes, got {len(secret)}; without that file one is made, and all sign in anew"
        )
    return secret


def _of_its_owner_alone(folder):
    """What lies in a class's folder is read by whoever serves the class, and by no other account of this machine."""
    os.umask(0o077)
    for path in (folder, *folder.rglob("*")):
        with suppress(OSError):
            if not path.is_symlink():
                path.chmod(0o700 if path.is_dir() else 0o600)


def _swept(desks):
    """Without what was being written when a process was killed."""
    for path in desks.glob(f"*/{OWN_TEMPORARY}"):
        shutil.rmtree(path, ignore_errors=True)
    for path in (*desks.rglob(".writing-*.part"), *desks.rglob(".record-*.json"), *desks.glob("*/.desk.json.*")):
        with suppress(OSError):
            path.unlink()


def _for_keys(folder):
    """An empty folder for the kernels' keys, its owner's alone: in the class's, or among the temporary files where the name of a socket
    there would be too long. A server that is started anew finds and clears what one that was killed has left."""
    place = folder / KEYS
    if len(os.fsencode(place)) > LONGEST_SOCKET:
        place = Path(tempfile.gettempdir()) / f"class-{hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()[:12]}"
    shutil.rmtree(place, ignore_errors=True)
    try:
        place.mkdir(mode=0o700)
    except FileExistsError:  # somebody else's
        return tempfile.mkdtemp(prefix="class-")
    return str(place)
