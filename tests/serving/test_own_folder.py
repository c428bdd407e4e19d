"""A path that is typed at a desk reaches the desk's own folder, no other one, and changes nothing of the workbook."""

import json
import subprocess
import sys

import pytest

from helpers.serving.own_folder import REFUSAL

TRIES = """
import json, os, shutil, sqlite3, sys
from pathlib import Path
from helpers.serving.own_folder import keep_to
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
    "a building to read": "Path(sys.argv[3]).read_text()",
}
REFUSED = {
    "another's record": "Path('../bob/learner.sqlite').read_bytes()",
    "another's record, as a database": "sqlite3.connect('../bob/learner.sqlite')",
    "a file at another's": "Path('../bob/new').write_text('x')",
    "the way around": "Path('records/../../bob/learner.sqlite').read_bytes()",
    "the folder above": "Path('../new').write_text('x')",
    "the workbook": "Path(sys.argv[3]).open('a')",
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
    site = place.parent / "site.toml"
    site.write_text("a building")
    line = [sys.executable, "-c", TRIES, str(place / "ada"), json.dumps(GRANTED | REFUSED), str(site)]
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
