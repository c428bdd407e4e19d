"""A path that is typed at a desk reaches the desk's own folder, no other one, and changes nothing of the workbook."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from helpers.serving.kernel_process import FULL, REFUSAL

TRIES = """
import json, os, shutil, sqlite3, sys
from pathlib import Path
from helpers.serving.kernel_process import keep_to
os.chdir(sys.argv[1])
keep_to(sys.argv[1])
told = {}
for name, work in json.loads(sys.argv[2]).items():
    try:
        exec(work)
        told[name] = ""
    except PermissionError as refusal:
        told[name] = refusal.strerror
print(json.dumps(told))
"""
GRANTED = {
    "a file of one's own": "Path('mine.json').write_text('x')",
    "a folder of one's own": "Path('records').mkdir(); Path('records/a').write_text('x'); os.rename('records/a', 'records/b')",
    "one's own record": "sqlite3.connect('learner.sqlite').execute('create table events (id)')",
    "a building of the workbook to read": "Path(sys.argv[3]).read_text()",
}
if sys.platform == "linux":
    GRANTED["what a kernel looks for when it ends"] = "import psutil; psutil.Process().children(recursive=True)"
REFUSED = {
    "another's record": "Path('../bob/learner.sqlite').read_bytes()",
    "another's record, as a database": "sqlite3.connect('../bob/learner.sqlite')",
    "a file at another's": "Path('../bob/new').write_text('x')",
    "the way around": "Path('records/../../bob/learner.sqlite').read_bytes()",
    "the folder above": "Path('../new').write_text('x')",
    "the workbook": "Path(sys.argv[3]).open('a')",
    "the records that were collected beside the class": "Path(sys.argv[4]).read_bytes()",
    "whether they are there": "os.listdir(Path(sys.argv[4]).parent)",
    "the workbook's own classes": "(Path(sys.argv[3]).parents[2] / 'classes' / 'key.html').read_text()",
    "the temporary folder": "Path('/tmp/of-a-desk.txt').write_text('x')",
    "memory that all share": "Path('/dev/shm/of-a-desk.txt').write_text('x')",
    "the accounts of this machine": "Path('/etc/passwd').read_text()",
    "another process": "Path('/proc/1/environ').read_bytes()",
    "to delete at another's": "Path('../bob/learner.sqlite').unlink()",
    "to delete all of another's": "shutil.rmtree('../bob')",
    "to move out": "os.rename('mine.json', '../bob/x')",
    "to move in": "os.rename('../bob/learner.sqlite', 'x')",
    "a link to another's": "os.symlink('../bob/learner.sqlite', 'link'); Path('link').read_bytes()",
}


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    place = tmp_path_factory.mktemp("desks")
    for name in ("ada", "bob"):
        (place / name).mkdir()
    (place / "bob" / "learner.sqlite").write_text("Bob's")
    site = Path(__file__).parents[2] / "data" / "sites" / "larkfield_house.toml"
    collected = tmp_path_factory.mktemp("collected") / "bob.json"
    collected.write_text("Bob's")
    line = [sys.executable, "-c", TRIES, str(place / "ada"), json.dumps(GRANTED | REFUSED), str(site), str(collected)]
    told = json.loads(subprocess.run(line, capture_output=True, text=True, check=True).stdout)
    assert (place / "bob" / "learner.sqlite").read_text() == "Bob's"
    assert [path.name for path in (place / "bob").iterdir()] == ["learner.sqlite"]
    return told


@pytest.mark.parametrize("what", GRANTED)
def test_the_own_folder_is_free(told, what):
    assert told[what] == ""


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_not_ones_own_is_refused_in_a_sentence(told, what):
    assert told[what] == REFUSAL


def test_a_desk_that_is_full_writes_nothing_more_and_reads_on(tmp_path):
    (tmp_path / "plan.json").write_text("x")
    tries = {
        "write": "Path('more.json').write_text('x')",
        "read": "Path('plan.json').read_text()",
        "record": "sqlite3.connect('learner.sqlite')",
    }
    few = TRIES.replace("os.chdir", "from helpers.serving import kernel_process; kernel_process.MOST_FILES = 0; os.chdir", 1)
    few = few.replace("except PermissionError", "except OSError")
    line = [sys.executable, "-c", few, str(tmp_path), json.dumps(tries)]
    told = json.loads(subprocess.run(line, capture_output=True, text=True, check=True).stdout)
    assert told == {"write": FULL, "read": "", "record": FULL}
    assert not (tmp_path / "more.json").exists()


def test_a_book_outside_of_the_desk_is_named_as_one_that_cannot_be_read(tmp_path):
    (tmp_path / "desks" / "ada").mkdir(parents=True)
    (tmp_path / "book.xlsx").write_bytes(b"x")
    try_it = (
        "import sys\nfrom pathlib import Path\nfrom helpers.serving.kernel_process import keep_to\n"
        "from helpers.studies.commissioning.filled_file import content_of, grids_of\nkeep_to(sys.argv[1])\n"
        "assert content_of(Path(sys.argv[2])) == sys.argv[2]\n"
        "try:\n    grids_of(Path(sys.argv[2]))\nexcept ValueError as refusal:\n    print(refusal)"
    )
    paths = [str(tmp_path / "desks" / "ada"), str(tmp_path / "book.xlsx")]
    told = subprocess.run([sys.executable, "-c", try_it, *paths], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == f"book.xlsx cannot be read: {REFUSAL}"
