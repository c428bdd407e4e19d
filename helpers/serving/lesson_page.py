"""A notebook as a page of the class: nothing is fetched from elsewhere, a bar leads to the desk's files, and a page whose kernel is gone
says so instead of standing still."""

import re
from html import escape
from math import ceil
from pathlib import Path

import tornado.web
from jupyter_server.base.handlers import JupyterHandler
from voila.shutdown_kernel_handler import VoilaShutdownKernelHandler
from voila.tornado.handler import TornadoVoilaHandler

from helpers.serving.gate import Paces, PlainErrors, PlainPage

__all__ = ["LessonPage", "handlers_beside_lessons"]

WORKBOOK = Path(__file__).parents[2]
NOTEBOOKS = WORKBOOK / "notebooks"
PAGES = 0.1, 8  # a second, and at once, of one desk: each takes seconds of a core
LONGEST_WAIT_S = 15  # that a browser stands still; whoever would wait longer is told so at once
MANY_PAGES = "You have loaded many pages in a short time. Wait {seconds} s, then load this one again; what you did is kept."
NO_PAGE = "There is no page of this name."
TEXTS = r"/voila/(data/sites/\w+\.toml|tests/published/README\.md)"  # where links of the pages lead, beside the notebooks
FROM_ELSEWHERE = re.compile(r'<link[^>]*href="https?://[^>]*>')  # letters that no page uses; without a network each waits for its time-out
GONE = "This page has been put to sleep, or its part of the server was started anew. What you did is kept: load the page again."
AWAY = "The server cannot be reached. What you did is kept; this line goes away when it answers again."
LOOK_MS = 5_000
BAR = """<div id="desk-bar" style="position:fixed;right:0;bottom:0;z-index:9;max-width:100%;background:#fff;
border:1px solid #1b2733;padding:2px 10px;font:15px/1.5 sans-serif">
<span role="status" style="font-weight:bold;color:#8a1c1c"></span> {name} · <a href="/mine/">My files</a> ·
<a href="/">Start page</a></div>
<script>
(() => {{
    const told = document.querySelector('#desk-bar [role=status]');
    const kernel = JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId;
    const look = () => fetch('/alive/' + kernel).then(answer => answer.ok ? '' : {gone!r}, () => {away!r}).then(words => {{
        if (told.textContent !== words) told.textContent = words;
    }});
    setInterval(look, {every});
}})();
</script>"""


def handlers_beside_lessons():
    """Addresses that the lessons' pages use besides their own."""
    written = (r"/voila/render/(records/.+)", tornado.web.RedirectHandler, {"url": "/mine/{0}", "permanent": False})
    return [(r"/alive/([^/]*)", _Alive), (r"/voila/api/shutdown/(.*)", _Closed), (TEXTS, _TextFile), written]


class LessonPage(PlainErrors, TornadoVoilaHandler):
    """A notebook as a page: one of those for learners, by its very name. Keys and marks lie in a folder beside them, and are not served."""

    paces = Paces(*PAGES)

    async def get(self, path=None):
        """The page, and the bar after it."""
        if path not in {notebook.name for notebook in NOTEBOOKS.glob("*.ipynb")}:
            raise tornado.web.HTTPError(404, NO_PAGE)
        folder = self.settings["desks"].of(self.current_user.username).folder
        if wait_s := await self.paces.of(folder.name).turn_within(LONGEST_WAIT_S):
            raise tornado.web.HTTPError(503, MANY_PAGES.format(seconds=ceil(wait_s)))
        if self.request.connection.stream.closed():
            return  # gone while it waited: nobody would see the page
        if told := self.kernel_manager.desk_is_full(folder):  # before the page is made, which takes the server longer than to say so
            raise tornado.web.HTTPError(503, told)
        await super().get(path)
        if not self._finished:
            self.write(BAR.format(name=escape(self.current_user.name), gone=GONE, away=AWAY, every=LOOK_MS))

    def write(self, chunk):
        """Without what would be fetched from another server."""
        super().write(FROM_ELSEWHERE.sub("", chunk) if isinstance(chunk, str) else chunk)


class _Alive(PlainErrors, JupyterHandler):
    """Whether the kernel of a page is there, and the visitor's."""

    async def get(self, number):
        self.set_status(204 if _own(self, number) and await self.kernel_manager.lives(number) else 404)


class _Closed(PlainErrors, VoilaShutdownKernelHandler):
    """A page was closed, and its kernel goes; nobody sends another's away."""

    async def post(self, kernel_id):
        if not _own(self, kernel_id):
            raise tornado.web.HTTPError(404)
        await super().post(kernel_id)


def _own(handler, number):
    owner = handler.kernel_manager.owner(number)
    return owner is not None and owner.name == handler.current_user.username


class _TextFile(PlainPage):
    """A file of the workbook to read: a demo site to copy and change, the table of published figures."""

    def get(self, name):
        path = WORKBOOK / name
        if not path.is_file():
            raise tornado.web.HTTPError(404)
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(path.read_bytes())
