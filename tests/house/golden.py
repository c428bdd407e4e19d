"""Everything a reader can be shown, as text in a folder, to compare before and after a change that should change nothing.

    .venv/bin/python tests/house/golden.py FOLDER          then: diff -r FOLDER_BEFORE FOLDER_AFTER

Of every stair site, in both systems of units: the design record. Of every strategy: its review. Of every lesson: questions and answers of
fifty seeds of each exercise, predictions with what the model says, stories, worked examples, the card. Of every picture of a record: the
hash of its data. What cannot be made says why, in the place where it would stand.
"""

import dataclasses
import hashlib
import sys
from pathlib import Path

import numpy as np

from helpers import units
from helpers.lessons import LESSONS
from helpers.model.plants.kinds import read_any_site, read_any_strategy
from helpers.model.site.file import demo_sites, read_site
from helpers.record.design import Design
from helpers.record.review.study import review
from helpers.teaching.questions import exercise_of
from helpers.units.said import written_out

SEEDS = range(50)
DATA = Path(__file__).parents[2] / "data"


def words(thing, depth=0):
    """A result as lines of text: fields by name, arrays and numbers rounded to eight digits, functions left out."""
    pad = "  " * depth
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        yield f"{pad}{type(thing).__name__}"
        for field in dataclasses.fields(thing):
            yield from (f"{pad} {field.name}:", *words(getattr(thing, field.name), depth + 1))
    elif isinstance(thing, dict):
        for key, value in thing.items():
            yield from (f"{pad} {key}:", *words(value, depth + 1))
    elif isinstance(thing, np.ndarray) or (
        isinstance(thing, (tuple, list)) and thing and all(isinstance(one, (int, float)) for one in thing)
    ):
        yield f"{pad}{np.array2string(np.asarray(thing), precision=8, threshold=sys.maxsize, max_line_width=10**6)}"
    elif isinstance(thing, (str, bytes)) or not hasattr(thing, "__iter__"):
        if not callable(thing):
            yield f"{pad}{thing:.8g}" if isinstance(thing, float) else f"{pad}{thing}"
    else:
        for one in thing:
            yield from words(one, depth)


def record_lines(site, system):
    """A record: summary, sections in words, pictures as hashes of their data."""
    record = Design(site).record(system)
    yield from record.summary
    for section in record.sections:
        yield from words(dataclasses.replace(section, pictures=()))
        for picture in section.pictures:
            yield f"{picture.key} {hashlib.sha256(chr(10).join(words(picture)).encode()).hexdigest()}"


def exercise_lines(make, system):
    """Fifty seeds of an exercise: question, answer, slips, way."""
    for seed in SEEDS:
        exercise = exercise_of(make, seed, system)
        yield from (exercise.question, f"answer {written_out(exercise.answer.says(exercise.answer.value), system)}", *exercise.way)
        yield from (f"slip {slip.name}: {slip.hint}" for slip in exercise.slips)


def prediction_lines(prediction, system):
    """A question and what the model says to it."""
    yield from written_out((prediction.ask(), *prediction.options, prediction.find().words), system)


def parts():
    """(name of the file, function that gives its lines) of everything."""
    for system in units.SYSTEMS:
        short = system.split()[0].strip(".")
        for path in demo_sites().values():
            yield f"record {Path(path).stem} {short}", lambda path=path, system=system: record_lines(read_site(path), system)
        for path in sorted((DATA / "strategies").glob("*.toml")):
            yield f"review {path.stem} {short}", lambda path=path, system=system: review_lines(path, system)
        for of in LESSONS:
            for make in of.makers:
                yield f"exercise {of.key} {make.__name__} {short}", lambda make=make, system=system: exercise_lines(make, system)
            for asked in of.predictions:
                yield f"prediction {of.key} {asked.key} {short}", lambda asked=asked, system=system: prediction_lines(asked, system)
    for of in LESSONS:
        yield f"story {of.key}", lambda of=of: words(of.story)


def review_lines(path, system):
    """A review of a strategy on its site."""
    strategy = read_any_strategy(path)
    found = review(strategy, read_any_site(DATA / "sites" / f"{strategy.site}.toml"), system)
    yield found.verdict()
    for one in found.found:
        yield from words(one)
    yield from found.clear


def main(folder):
    """Write every part into its file; what cannot be made says why."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, lines in parts():
        try:
            text = "\n".join(lines())
        except ValueError as refusal:
            text = f"not made: {refusal}"
        (folder / f"{name}.txt").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
