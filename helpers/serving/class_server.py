"""The server of a class: every notebook as a page without code, desks, limits."""

import os
import sys
from pathlib import Path

import tornado.web
from traitlets import Bool, Float, Integer, Unicode
from traitlets.config import Config
from voila.app import Voila
from voila.tornado.handler import TornadoVoilaHandler

from helpers.serving.desks import Desks
from helpers.serving.files_page import handlers_of_files
from helpers.serving.lesson_page import LessonPage, handlers_beside_lessons
from helpers.serving.page import PlainPage
from helpers.serving.sign_in import DeskIdentity, OwnKernels
from helpers.serving.warm_kernels import DESK, ClassKernelManager, ClassKernels, WarmParent

__all__ = ["ClassServer"]

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
FIRST = "/voila/render/00_start_here.ipynb"
LOOK_S = 30
PATIENCE_S = 180  # when a whole class opens its pages at once, the last one gives nothing up
CLOSED = ("/voila/tree", "/voila/api/contents")  # of what the app would answer: nobody needs it here


class ClassServer(Voila):
    """Voila with desks. All that belongs to the class lies in `folder`, and nothing is written elsewhere."""

    folder = Unicode(help="Folder of the class.")
    class_word = Unicode(help="What everybody of the class knows.")
    most_desks = Integer(40)
    most_pages = Integer(80, help="Pages open at once, all desks together.")
    warm = Bool(sys.platform == "linux", help="Kernels are born of a warm parent. Elsewhere a fork of this kind is unsafe, or not there.")
    idle_s = Float(40 * 60, help="After so long without a touch a page is closed.")

    def initialize(self, argv=None):
        """Settings of the class, and none of this person's own."""
        self.config_file_paths = []
        self.update_config(self._own_settings())
        super().initialize(argv or [])
        self.desks = Desks(Path(self.folder) / "desks", self.most_desks)
        self.desks.folder.mkdir(parents=True, exist_ok=True)
        self.cookie_secret = _secret(Path(self.folder) / "cookie_secret")

    def init_settings(self):
        """As the app's, with the desks; the warm parent is up before the first visitor comes."""
        settings = super().init_settings() | {"desks": self.desks, "first_page": FIRST}
        if self.warm:
            self.kernel_manager.warm = WarmParent()
            self.kernel_manager.warm.start()
        return settings

    def init_handlers(self):
        """The app's, less what only lists folders, and those of the desks."""
        own = [(r"/voila/(?:render|files)/instructor/.*", _Nothing)]  # keys and marks are not for learners
        own += [("/", tornado.web.RedirectHandler, {"url": FIRST, "permanent": False}), *handlers_of_files(), *handlers_beside_lessons()]
        kept = [(path, *rest) for path, *rest in super().init_handlers() if path != "/" and not path.startswith(CLOSED)]
        lessons = [(path, LessonPage if kind is TornadoVoilaHandler else kind, *rest) for path, kind, *rest in kept]
        return [*own, *lessons, (r".*", _Nothing)]

    def stop(self):
        """End all kernels, then their parent."""
        super().stop()
        if self.kernel_manager.warm:
            self.kernel_manager.warm.stop()

    def _own_settings(self):
        app = {"identity_provider_class": DeskIdentity, "authorizer_class": OwnKernels, "root_dir": str(NOTEBOOKS), "open_browser": False}
        pages = {
            "multi_kernel_manager_class": ClassKernels,
            "prelaunch_hook": _desk_first,
            "allow_template_override": "NO",
            "allow_theme_override": "NO",
            "file_denylist": [r".*\.(ipynb|py)", "records/.*"],
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
            file.write(os.urandom(32))
        draft.replace(path)
    return path.read_bytes()
