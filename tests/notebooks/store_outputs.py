"""Run notebooks and store their outputs in place, so that a page reads before it runs and nbval has something to hold it to.

    .venv/bin/python tests/notebooks/store_outputs.py                                    all notebooks
    .venv/bin/python tests/notebooks/store_outputs.py 12_design_record                   only this one, by its name or its path

The learner's record is an empty one, so that nothing of whoever runs this gets into a page.
What differs from run to run is taken out (times, releases, random ids), keys are sorted: two runs give the same file, byte for byte.
A notebook with a failing cell is left as it was.
"""

import sys
import time
from pathlib import Path

import nbformat
from empty_record import empty_record
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError
from nbformat.v4 import new_markdown_cell

from helpers.teaching.plan import HINT, foot

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
CELL_TIMEOUT_S = 300
WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"
FOLDED, FORMULA = "hide-input", "from helpers import formulas"  # the cell that calls the formula of a lesson is there to be read
BEFORE_HINT = f"\n\n{HINT.partition('?')[0]}"
FOOT = "foot"  # tag of the cell with the way back and on
METADATA = {
    "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}


def run(path):
    """The notebook of this file, run from its own folder in a fresh kernel of this environment, and made plain."""
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        kernel_name="python3",
        timeout=CELL_TIMEOUT_S,
        iopub_timeout=CELL_TIMEOUT_S,  # on a busy machine outputs come late, and what came later was lost without a word
        raise_on_iopub_timeout=True,
        coalesce_streams=True,
        record_timing=False,
        store_widget_state=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    return made_plain(framed(client.execute(), path.name))


def framed(notebook, name):
    """The same notebook with what all pages have alike: how to run and read it at the end of the first cell, the way on in the last."""
    first, last = notebook.cells[0], notebook.cells[-1]
    first["source"] = f"{first.source.partition(BEFORE_HINT)[0]}\n\n{HINT}"
    if FOOT not in last.metadata.get("tags", ()):
        last = new_markdown_cell(metadata={"tags": [FOOT]})
        notebook.cells.append(last)
    last["source"] = foot(name)
    return notebook


def made_plain(notebook):
    """The same notebook without what differs between two runs: cells numbered, code folded, no releases, no timings, no live widgets."""
    notebook.metadata = nbformat.from_dict(METADATA)
    notebook.nbformat, notebook.nbformat_minor = 4, 5
    for number, cell in enumerate(notebook.cells, start=1):
        cell["id"] = f"cell-{number:02d}"
        cell.metadata = nbformat.from_dict(_looks(cell))
        for output in cell.get("outputs", []):
            still(output)
    nbformat.validate(notebook)
    return notebook


def _looks(cell):
    """Metadata of a cell: its tags; code is folded away, but for a lesson's formula."""
    tags = [tag for tag in cell.metadata.get("tags", ()) if tag != FOLDED]
    if cell.cell_type == "code" and FORMULA not in cell.source:
        return {"jupyter": {"source_hidden": True}, "tags": [*tags, FOLDED]}
    return {"tags": tags} if tags else {}


def still(output):
    """Take the live widget out of an output that also holds its picture or its words.

    A stored page has no kernel: the widget would only say that its model is missing, and hide the picture beside it.
    Where nothing stands beside it (its bare name does not count), it stays, and test_hygiene.py says so.
    """
    data = output.get("data", {})
    if WIDGET_VIEW in data and stands_beside(data):
        del data[WIDGET_VIEW]


def stands_beside(data):
    """Whether these contents of an output say something without a kernel: a picture, a page, or words other than `HBox(children=…)`."""
    words = "".join(data.get("text/plain", "")).strip()
    bare_name = words.partition("(")[0].isidentifier() and words.endswith(")")
    return any(kind in data for kind in ("image/png", "image/jpeg", "image/svg+xml", "text/html", "text/markdown")) or bool(
        words and not bare_name
    )


def store(path):
    """Run one notebook and write it where anything changed; tell in a line what was done."""
    started = time.perf_counter()
    try:
        fresh = nbformat.writes(run(path)) + "\n"
    except CellExecutionError as error:
        print(f"{path.name}: a cell failed, nothing stored\n{error}", file=sys.stderr)
        return False
    changed = fresh != path.read_text(encoding="utf-8")
    if changed:
        path.write_text(fresh, encoding="utf-8", newline="\n")
    print(
        f"{path.name}: {'stored' if changed else 'unchanged'}, {time.perf_counter() - started:.1f} s, {len(fresh.encode()) / 1000:.0f} kB"
    )
    return True


def found(name):
    """Path of a notebook: by its path, or by its name in the folder of the notebooks, with or without its ending."""
    places = (Path(name), NOTEBOOKS / name, NOTEBOOKS / f"{name}.ipynb")
    path = next((place.resolve() for place in places if place.is_file()), None)
    return path or sys.exit(f"{name}: no such notebook")


def main(names):
    """Store the named notebooks, or all; the exit status says whether every cell of every one ran."""
    paths = [found(name) for name in names]
    empty_record()
    every = sorted(path for path in NOTEBOOKS.rglob("*.ipynb") if ".ipynb_checkpoints" not in path.parts)
    return 0 if all([store(path) for path in paths or every]) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
