"""Serves a class, or collects its records.

.venv/bin/python -m helpers.serving run FOLDER             on this machine alone, to try it
.venv/bin/python -m helpers.serving run FOLDER --address 192.168.0.10      on the class network
.venv/bin/python -m helpers.serving collect FOLDER INTO    every desk's record as a file, in a new folder
"""

import argparse
import secrets
from pathlib import Path

from helpers.lessons.class_files import printable
from helpers.lessons.progress import LearnerRecord
from helpers.serving.desks import Desks

__all__ = ["main"]

LETTERS = "abcdefghkmnpqrstuvwxyz23456789"  # none that is taken for another one


def main(arguments=None):
    """What the command line says."""
    parser = argparse.ArgumentParser(prog="helpers.serving", description="One machine that serves a class.")
    commands = parser.add_subparsers(required=True)
    run = commands.add_parser("run", help="serve the class in this folder")
    run.add_argument("folder", type=Path)
    run.add_argument("--address", default="127.0.0.1", help="of this machine on the class network; without it, this machine alone")
    run.add_argument("--port", type=int, default=8866)
    run.add_argument("--desks", type=int, default=40, help="learners at the most")
    run.add_argument("--pages", type=int, default=80, help="pages open at once at the most")
    run.add_argument("--cold", action="store_true", help="start every kernel by itself, as on systems that cannot share memory")
    run.add_argument("--idle-minutes", type=float, default=40, help="a page that nobody touched for so long is closed")
    run.set_defaults(work=_run)
    collect = commands.add_parser("collect", help="write every record of the class as a file")
    collect.add_argument("folder", type=Path)
    collect.add_argument("into", type=Path)
    collect.set_defaults(work=_collect)
    chosen = parser.parse_args(arguments)
    chosen.work(chosen)


def _run(chosen):
    from helpers.serving.class_server import ClassServer  # the other command needs no server

    word = _class_word(chosen.folder)
    server = ClassServer.instance(folder=str(chosen.folder.resolve()), ip=chosen.address, port=chosen.port, class_word=word)
    server.most_desks, server.most_pages, server.idle_s = chosen.desks, chosen.pages, chosen.idle_minutes * 60
    server.warm = server.warm and not chosen.cold
    server.initialize([])
    print(f"The class is at http://{chosen.address}:{chosen.port}/  The word of the class: {word}", flush=True)
    print("Ctrl-C ends it; records are kept.", flush=True)
    server.start()


def _class_word(folder):
    """The word of the class: made once, kept in its folder, where it may be changed."""
    path = folder / "class_word.txt"
    folder.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        path.touch(mode=0o600)
        path.write_text("-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(2)) + "\n", encoding="utf-8")
    return path.read_text(encoding="utf-8").strip()


def _collect(chosen):
    chosen.into.mkdir(parents=True, exist_ok=True)
    for folder in Desks(chosen.folder / "desks", 0).taken():
        record = LearnerRecord(folder)
        try:
            print(f"{record.export(chosen.into / f'{folder.name}.json').name}: {printable(record.name)}, {len(record.events())} entries")
        except ValueError as refusal:
            print(f"{folder.name}: {refusal}")


if __name__ == "__main__":
    main()
