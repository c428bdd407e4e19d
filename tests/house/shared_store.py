"""What one worker makes once for all workers of a run: the designs of the demo sites with all their studies, which take the time.

The first worker that asks makes it, those that ask meanwhile wait, and it goes round as a file. The folder is this run's own: the process
that starts the workers names it in the environment and takes it away. Files are named by what was asked for and by every letter of the
helpers and their data, so that nothing older is ever read. Without workers (no `-n`) nothing is written or read.
"""

import atexit
import hashlib
import os
import pickle
import shutil
import tempfile
import time
from functools import cache
from pathlib import Path

import cloudpickle

__all__ = ["made_once", "pytest_configure", "shared"]

FOLDER_VARIABLE = "PRESSURE_LOOP_TESTS_SHARED"
WORKERS_VARIABLE = "PYTEST_XDIST_WORKER_COUNT"  # which xdist sets in its workers
ROOT = Path(__file__).parents[2]
MADE_WITH = ("helpers", "data")
LONGEST_S, LOOK_S = 300.0, 0.1  # for somebody else to make it, from which on nobody is waited for; between two looks


def pytest_configure(config):
    """As pytest's plugin: a folder for this run, before its workers start."""
    if FOLDER_VARIABLE not in os.environ:
        os.environ[FOLDER_VARIABLE] = tempfile.mkdtemp(prefix="pressure-loop-shared-")
        atexit.register(shutil.rmtree, os.environ[FOLDER_VARIABLE], ignore_errors=True)


def shared():
    """Whether other workers ask for the same."""
    return int(os.environ.get(WORKERS_VARIABLE, "1")) > 1


def made_once(make, *asked):
    """What make() gives, made by the first worker of the run that asks for it; asked: texts that say all of what it is."""
    if not shared():
        return make()
    path = Path(os.environ[FOLDER_VARIABLE]) / hashlib.blake2b(repr((_made_with(), asked)).encode(), digest_size=20).hexdigest()
    end = time.monotonic() + LONGEST_S
    while not path.exists() and not _mine(path.with_suffix(".begun")) and time.monotonic() < end:
        time.sleep(LOOK_S)
    if path.exists():
        return pickle.loads(path.read_bytes())
    try:
        made, whole = make(), path.with_suffix(f".{os.getpid()}")
        whole.write_bytes(cloudpickle.dumps(made))
        whole.replace(path)  # whole or not at all
    finally:
        path.with_suffix(".begun").unlink(missing_ok=True)  # where it could not be made the next one tries, and tells the reason as well
    return made


def _mine(begun):
    """Whether this worker is the first to begin."""
    try:
        begun.touch(exist_ok=False)
    except FileExistsError:
        return False
    return True


@cache
def _made_with():
    """A digest of all that results hang on."""
    digest = hashlib.blake2b()
    for path in sorted(path for part in MADE_WITH for path in (ROOT / part).rglob("*") if path.is_file() and path.suffix != ".pyc"):
        digest.update(f"{path.relative_to(ROOT)} {path.stat().st_size}\n".encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()
