"""A JupyterLab of one's own and a Chromium to look at it: started for the browser tests, ended by their process ids.

JupyterLab serves a copy of the notebooks, since it saves by itself, on a free port of the loopback address with a token nobody knows.
Where no Chromium is found the tests are skipped with a reason; where CI is set they fail.
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
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[2]
START_S, STOP_S = 60, 15
FLAGS = ["--disable-gpu", "--disable-dev-shm-usage", "--disable-background-networking", "--disable-component-update", "--no-first-run"]
# No news over the page; every cell in the page, also those out of sight.
SETTINGS = {
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
    "notebook-extension/tracker": {"windowingMode": "none"},
}


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


def chromium_path():
    """Where a Chromium lies: named by CHROMIUM, on the path, or fetched by `playwright install chromium`."""
    named = os.environ.get("CHROMIUM")
    found = [shutil.which(name) for name in ("chromium", "chromium-browser", "google-chrome")]
    with sync_playwright() as player:
        fetched = player.chromium.executable_path
    return next((path for path in (named, *found, fetched) if path and Path(path).exists()), None)


# Scope module, not session: while Playwright is alive its event loop runs in this thread, and nbval's kernels need one of their own.
@pytest.fixture(scope="module")
def chromium():
    """A running Chromium."""
    path = chromium_path()
    if path is None:
        reason = "no Chromium: install it, or name it in the environment variable CHROMIUM"
        pytest.fail(reason) if os.environ.get("CI") else pytest.skip(reason)
    as_root = ["--no-sandbox"] if running_as_root() else []
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=path, args=FLAGS + as_root)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """JupyterLab on a copy of the notebooks and the data they read."""
    folder = tmp_path_factory.mktemp("lab")
    for part in ("notebooks", "data"):
        if (ROOT / part).exists():
            shutil.copytree(ROOT / part, folder / "work" / part, ignore=shutil.ignore_patterns(".ipynb_checkpoints"))
    for name, settings in SETTINGS.items():
        path = folder / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(settings))
    lab = Lab(f"http://127.0.0.1:{free_port()}", secrets.token_hex(16))
    with (folder / "server.log").open("w") as log:
        server = subprocess.Popen(command(lab, folder), env=environment(lab, folder), stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        try:
            wait_until_up(lab, server, folder / "server.log")
            yield lab
            lab.end_kernels()
        finally:
            server.terminate()
            try:
                server.wait(STOP_S)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


def command(lab, folder):
    port = lab.url.rpartition(":")[2]
    line = [sys.executable, "-m", "jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={port}", "--ServerApp.port_retries=0"]
    line += [f"--ServerApp.root_dir={folder / 'work' / 'notebooks'}", "--expose-app-in-browser"]
    return line + (["--allow-root"] if running_as_root() else [])


def environment(lab, folder):
    """Nothing of this person's own Jupyter settings comes in, and nothing of the tests goes out to them."""
    own = {
        "JUPYTER_CONFIG_DIR": folder / "config",
        "JUPYTER_RUNTIME_DIR": folder / "runtime",
        "JUPYTERLAB_WORKSPACES_DIR": folder / "workspaces",
        "JUPYTERLAB_SETTINGS_DIR": folder / "settings",
        "IPYTHONDIR": folder / "ipython",
        "JUPYTER_TOKEN": lab.token,
    }
    return {**os.environ, **{name: str(value) for name, value in own.items()}}


def wait_until_up(lab, server, log):
    end = time.monotonic() + START_S
    while server.poll() is None and time.monotonic() < end:
        try:
            return lab.ask("status")
        except urllib.error.URLError:
            time.sleep(0.1)
    raise RuntimeError(f"JupyterLab did not start:\n{log.read_text()[-2000:]}")


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def running_as_root():
    return hasattr(os, "geteuid") and os.geteuid() == 0
