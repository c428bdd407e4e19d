"""A JupyterLab of one's own and a Chromium to look at it, for the browser tests and the bench: started and ended by their process ids.

JupyterLab serves a copy of the notebooks, since it saves by itself, on a free port of the loopback address with a token nobody knows.
"""

import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import sync_playwright

from helpers.teaching.store import FOLDER_VARIABLE

__all__ = ["DONE", "ERRORS", "NO_CHROMIUM", "Lab", "chromium_path", "open_and_run", "open_page", "running_chromium", "running_lab"]

ROOT = Path(__file__).parents[2]
# Some ten times what a quick machine takes: a slow one runs other tests meanwhile.
START_S, STOP_S = 120, 15
OPEN_MS, RUN_MS = 120_000, 300_000
NO_CHROMIUM = "no Chromium: install it, or name it in the environment variable CHROMIUM"
FLAGS = ["--disable-gpu", "--disable-dev-shm-usage", "--disable-background-networking", "--disable-component-update", "--no-first-run"]
# Every cell in the page, also those out of sight; all else is as the workbook's own settings have it.
SETTINGS = {"notebook-extension/tracker": {"windowingMode": "none"}}
NOTEBOOK = "window.jupyterapp.shell.currentWidget"
# JupyterLab takes seconds to load, so it stays: a notebook is opened in it once the last one is closed, unsaved, and its kernel sent off.
OPEN = """async name => {
    const { restored, shell, commands } = window.jupyterapp;
    await restored;
    for (const page of [...shell.widgets('main')]) {
        if (page.context) page.context.model.dirty = false;
        await page.sessionContext?.shutdown();  // or the same page, opened next, would get the kernel that is on its way out
        page.close();
    }
    window.rested = 0;
    await commands.execute('docmanager:open', { path: name });
}"""
READY = f"""() => {{
    const page = {NOTEBOOK};
    const kernel = page?.context?.isReady && page.sessionContext.isReady && page.sessionContext.session?.kernel;
    return kernel && kernel.connectionStatus === 'connected' && kernel.status === 'idle';
}}"""
# A kernel rests for a moment between two cells: it counts as done when it rests three times in a row and no cell waits.
DONE = f"""() => {{
    const waiting = [...document.querySelectorAll('.jp-InputPrompt')].some(prompt => prompt.textContent.includes('[*]'));
    const rests = {NOTEBOOK}.sessionContext.session?.kernel?.status === 'idle' && !waiting;
    window.rested = rests ? (window.rested || 0) + 1 : 0;
    return window.rested >= 3;
}}"""
# Errors of cells, and of widgets' callbacks, which show up in the page alone.
ERRORS = f"""() => {{
    const cells = [...{NOTEBOOK}.content.model.sharedModel.cells].flatMap(cell => cell.outputs || []);
    const failed = cells.filter(output => output.output_type === 'error').map(output => `${{output.ename}}: ${{output.evalue}}`);
    const kinds = ['error', 'stderr'].map(kind => `[data-mime-type="application/vnd.jupyter.${{kind}}"]`);
    const shown = document.querySelectorAll([...kinds, '.jupyter-widgets-error-widget'].join());
    return [...failed, ...[...shown].map(element => element.textContent.slice(0, 300))];
}}"""


@dataclass
class Lab:
    """A running JupyterLab: its address and its token."""

    url: str
    token: str

    def ask(self, path, method="GET"):
        """What the server's interface answers at this path."""
        request = urllib.request.Request(f"{self.url}/api/{path}", method=method, headers={"Authorization": f"token {self.token}"})
        with urllib.request.urlopen(request, timeout=10) as answer:
            return json.loads(answer.read() or "null")

    def end_kernels(self):
        """Close every open notebook, so that the next one has the machine to itself."""
        for session in self.ask("sessions"):
            self.ask(f"sessions/{session['id']}", "DELETE")


def open_page(page, lab, name):
    """Open this notebook with a fresh kernel and nothing beside it."""
    if not page.url.startswith(lab.url):
        lab.end_kernels()
        page.goto(f"{lab.url}/lab?token={lab.token}&reset", wait_until="domcontentloaded")
        page.wait_for_function("() => window.jupyterapp", timeout=OPEN_MS)
    page.evaluate(OPEN, name)
    page.wait_for_selector(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-Cell", timeout=OPEN_MS)
    page.wait_for_function(READY, timeout=OPEN_MS)


def open_and_run(page, lab, name):
    """Open this notebook, run all its cells and wait until the last is done."""
    open_page(page, lab, name)
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
    page.wait_for_function(DONE, polling=100, timeout=RUN_MS)


def chromium_path():
    """Where a Chromium lies: named by CHROMIUM, on the path, or fetched by `playwright install chromium`."""
    named = os.environ.get("CHROMIUM")
    found = [shutil.which(name) for name in ("chromium", "chromium-browser", "google-chrome")]
    with sync_playwright() as player:
        fetched = player.chromium.executable_path
    return next((path for path in (named, *found, fetched) if path and Path(path).exists()), None)


@contextmanager
def running_chromium(path):
    """A running Chromium."""
    as_root = ["--no-sandbox"] if running_as_root() else []
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=path, args=FLAGS + as_root)
        yield browser
        browser.close()


@contextmanager
def running_lab(folder, chosen=SETTINGS):
    """JupyterLab, all that belongs to it in this folder: a copy of the notebooks and of the data they read, and an empty record. chosen:
    settings by schema, {} for those a learner has."""
    for part in ("notebooks", "data"):
        if (ROOT / part).exists():
            shutil.copytree(ROOT / part, folder / "work" / part, ignore=shutil.ignore_patterns(".ipynb_checkpoints"))
    for name, settings in chosen.items():
        path = folder / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(settings))
    lab = Lab(f"http://127.0.0.1:{_free_port()}", secrets.token_hex(16))
    with (folder / "server.log").open("w") as log:
        server = subprocess.Popen(_command(lab, folder), env=_environment(lab, folder), stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        try:
            _wait_until_up(lab, server, folder / "server.log")
            yield lab
            lab.end_kernels()
        finally:
            server.terminate()
            try:
                server.wait(STOP_S)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


def running_as_root():
    """Whether this is the superuser, whom Chromium and JupyterLab refuse unless told."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def _command(lab, folder):
    port = lab.url.rpartition(":")[2]
    line = [sys.executable, "-m", "jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={port}", "--ServerApp.port_retries=0"]
    line += [f"--ServerApp.root_dir={folder / 'work' / 'notebooks'}", "--expose-app-in-browser"]
    return line + (["--allow-root"] if running_as_root() else [])


def _environment(lab, folder):
    """Nothing of this person's own Jupyter settings or records comes in, and nothing of the tests goes out to them."""
    own = {
        "JUPYTER_CONFIG_DIR": folder / "config",
        "JUPYTER_RUNTIME_DIR": folder / "runtime",
        "JUPYTERLAB_WORKSPACES_DIR": folder / "workspaces",
        "JUPYTERLAB_SETTINGS_DIR": folder / "settings",
        "IPYTHONDIR": folder / "ipython",
        "JUPYTER_TOKEN": lab.token,
        FOLDER_VARIABLE: folder / "records",
    }
    return {**os.environ, **{name: str(value) for name, value in own.items()}}


def _wait_until_up(lab, server, log):
    end = time.monotonic() + START_S
    while server.poll() is None and time.monotonic() < end:
        try:
            return lab.ask("status")
        except urllib.error.URLError:
            time.sleep(0.1)
    raise RuntimeError(f"JupyterLab did not start:\n{log.read_text(encoding='utf-8', errors='replace')[-2000:]}")


def _free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]
