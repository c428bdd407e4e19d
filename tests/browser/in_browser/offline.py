"""Lets a folder of plain files work without the network once it was opened: a service worker that keeps all of one build, and a line on its
pages that says how much is kept, whether a newer build lies on the server, and what cannot be done without a server.

The hash of a build is that of all its files: who serves another build under the same address changes it, and pages of the old one say so.
Source: W3C, Service Workers (memory). Limits: a browser may throw away what it keeps when its disk is full; over the network a browser
keeps anything for addresses with https alone, and for this machine's own.
"""

import hashlib
import json
from pathlib import Path

HERE = Path(__file__).resolve().parent
WORKER, KERNELS, LINE, SAYS = "service-worker.js", "kernel-worker.js", "without-a-server.js", "build.json"
CANNOT = (
    "print to PDF by itself (pages 12, 13, 30 and others): write the page as HTML and print that from the browser",
    "serve a class: the instructor's pages show sets and tables, and hand nothing out",
    "make a class of a class code (page 23 leaves its example out): this Python has no scrypt; a seat key works without it",
    "work beside itself: long studies (pages 12, 12b, 13, 18, 30) take several times what they take on a desk, and hold the page meanwhile",
    "open files of your disk by their path: drag them into the list of files on the left first; what is written lies in records there",
    "keep anything beyond this browser: answers and files are lost with its data, so download what matters",
)


def keep_offline(site):
    """Write worker, line and hash into the folder `site`, and the line into its pages. Returns the hash. To be done last."""
    site = Path(site)
    before = site / WORKER
    if before.is_file():
        before.rename(site / KERNELS)
    files = sorted(path.relative_to(site).as_posix() for path in site.rglob("*") if path.is_file())
    digest = hashlib.sha256((HERE / "service_worker.js").read_bytes() + (HERE / "without_a_server.js").read_bytes() + repr(CANNOT).encode())
    for name in files:
        digest.update(f"{name}\n{hashlib.sha256((site / name).read_bytes()).hexdigest()}\n".encode())
    build = digest.hexdigest()[:16]
    for page in [site / name for name in files if Path(name).name == "index.html"]:
        depth = len(page.relative_to(site).parts) - 1
        text = page.read_text(encoding="utf-8")
        page.write_text(text.replace("<head>", f'<head>\n    <script src="{"../" * depth}{LINE}"></script>', 1), encoding="utf-8")
    _write(site / LINE, "without_a_server.js", BUILD=build, CANNOT=json.dumps(CANNOT))
    kernels = KERNELS if (site / KERNELS).is_file() else ""
    _write(site / WORKER, "service_worker.js", BUILD=build, FILES=json.dumps([*files, LINE]), KERNELS=kernels)
    (site / SAYS).write_text(json.dumps({"build": build}), encoding="utf-8")
    return build


def _write(path, source, **filled):
    text = (HERE / source).read_text(encoding="utf-8")
    for name, value in filled.items():
        text = text.replace("{{" + name + "}}", value)
    path.write_text(text, encoding="utf-8")
