"""The workbook in the browser alone: tests/browser/in_browser/build.py makes it; here is held, in seconds, what keeps that possible.

What Pyodide has was looked up in Pyodide itself, release 0.27.7 (Python 3.12): of the standard library's modules these cannot be imported
there, a thread ends in "can't start new thread", a process in "emscripten does not support processes".
"""

import ast
import json
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from in_browser import alone, build

from helpers.teaching import store
from helpers.teaching.plan import LESSONS

ROOT = Path(__file__).parents[1]
NOT_IN_PYODIDE = {
    "curses", "dbm", "ensurepip", "fcntl", "grp", "lzma", "msvcrt", "pty", "pwd", "readline", "resource", "syslog", "termios", "tkinter",
    "tty", "venv", "winreg", "winsound",
}  # fmt: skip
USELESS_THERE = {
    "_thread",
    "concurrent",
    "multiprocessing",
    "socketserver",
    "subprocess",
}  # can be imported, but only start what cannot be started
IN_THE_PAGE = {"helpers", "numpy", "matplotlib", "PIL", "sympy", "mpmath", "openpyxl", "platformdirs", "ipywidgets", "IPython",
               "pydantic", "pydantic_core"}  # fmt: skip
RUNS_A_PROGRAM = {"helpers/plots/printer.py"}  # asks for a browser to print with, says when there is none; a worker that keeps one ends it
READS_TABLES = {"helpers/studies/measured/trends/file_shape.py"}  # asks for pandas when a log is read, says when there is none
COMMAND_LINE = {"helpers/__main__.py", "helpers/record/papers/cluster.py"}  # nobody types a command in the page
A_CLUSTER = {"helpers/record/papers/cluster.py"}  # asks for distributed when an address is typed, says when it is missing


FORMAT_Z = re.compile(r"(?:.?[<>=^])?[+ -]?z")  # a format's own way to write no "-0"
IMPORT = re.compile(r"^\s*(?:from (\w+)[\w.]* import\b|import (\w+))", re.MULTILINE)


def imported(path):
    """Names of the modules that a source imports anywhere, by their first part."""
    return {one or other for one, other in IMPORT.findall(path.read_text(encoding="utf-8"))}


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """The page's own files as they lie in the browser."""
    folder = tmp_path_factory.mktemp("page")
    for name, content in build.own_files().items():
        place = folder / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)
    return folder


def test_the_helpers_import_nothing_that_a_browser_has_not(page):
    allowed = (set(sys.stdlib_module_names) - NOT_IN_PYODIDE - USELESS_THERE) | IN_THE_PAGE
    wrong = {}
    for path in sorted((page / "helpers").rglob("*.py")):
        name = path.relative_to(page).as_posix()
        extra = {"subprocess": RUNS_A_PROGRAM, "multiprocessing": RUNS_A_PROGRAM, "concurrent": COMMAND_LINE}
        extra |= {"pandas": READS_TABLES, "distributed": A_CLUSTER}
        asked = imported(path) - allowed - {module for module, files in extra.items() if name in files}
        wrong |= {name: asked} if asked else {}
    assert not wrong


def test_no_format_asks_for_what_the_compiled_decimal_takes_from_a_module_that_pyodide_has_not(page):
    """From Python 3.12 a "z" in the format of a Decimal imports _pydecimal, which Pyodide leaves out."""
    wrong = []
    for path in sorted((page / "helpers").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            spec = getattr(node, "format_spec", None)
            parts = [part.value for part in spec.values if isinstance(part, ast.Constant)] if spec else []
            if any(FORMAT_Z.match(part) for part in parts):
                wrong.append(f"{path.name} {node.lineno}")
    assert not wrong


def test_every_lesson_is_in_the_page(page):
    kept = {path.parent.name for path in (page / "helpers" / "lessons").glob("*/lesson.py")}
    assert {lesson.key for lesson in LESSONS} <= kept


@pytest.fixture(scope="module")
def said_alone(page):
    """What the page says of spoilt site files, opened without threads, processes and connections."""
    alone = [sys.executable, str(ROOT / "tests" / "browser" / "in_browser" / "alone.py")]
    done = subprocess.run(alone, cwd=page, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


def test_the_page_opens_without_threads_and_finds_its_data(said_alone):
    assert said_alone["larkfield_house.toml as it is"].startswith("(Site(name='Larkfield House'")


def test_site_files_are_judged_in_the_page_word_for_word_as_here(said_alone):
    said_here = alone.judged(ROOT / "data")
    refused = [name for name, words in said_here.items() if words.startswith("refused")]
    assert len(refused) > 100
    assert {name: words for name, words in said_here.items() if said_alone[name] != words} == {}


def test_a_python_without_sqlite_says_in_one_sentence_that_nothing_is_kept(monkeypatch, tmp_path):
    monkeypatch.setattr(store, "sqlite3", None)
    with pytest.raises(store.KeptFileError, match=r"could not be kept in answers\.db: this Python comes without sqlite3\.$"):
        store.KeptFile("answers.db", "answers", "text TEXT", folder=tmp_path).add("INSERT INTO answers VALUES (?)", [("25",)])


def listed_parts(parts, content, sha256):
    """Parts as they are fetched, of one package: what npm's list says of it, and what the carrier has."""
    entry = {"name": "numpy", "version": "2", "file_name": "numpy-2-py3-none-any.whl", "sha256": sha256, "depends": []}
    (parts / "carrier").mkdir()
    with zipfile.ZipFile(parts / "carrier" / "carrier.whl", "w") as carried:
        carried.writestr(f"assets/{entry['file_name']}", content)
    return {"numpy": entry}


def test_a_wheel_that_is_not_pyodides_own_is_refused(monkeypatch, tmp_path):
    monkeypatch.setattr(build, "OF_PYODIDE", ("numpy",))
    known = listed_parts(tmp_path, b"changed on the way", build.sha256(b"as Pyodide made it"))
    with pytest.raises(build.CannotBuildError, match="not Pyodide's own"):
        list(build.of_pyodide(known, tmp_path))


def test_a_list_of_packages_that_has_changed_is_refused(tmp_path):
    (tmp_path / "package").mkdir()
    (tmp_path / "package" / "pyodide-lock.json").write_text(json.dumps({"packages": {}}), encoding="utf-8")
    with pytest.raises(build.CannotBuildError, match="lists other packages"):
        build.packages(tmp_path)


def test_what_is_missing_on_the_machine_is_told_in_one_sentence():
    with pytest.raises(build.CannotBuildError, match=r"^no-such-program is not installed$"):
        build.run("no-such-program", "--version")
