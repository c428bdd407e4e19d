"""README.md of this folder: every published figure beside ours, written from the tables of the tests beside this file.

Run it after a change: `.venv/bin/python tests/published/table.py`. A test compares the file with what this would write.
"""

import importlib.util
from collections import Counter
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cache
from pathlib import Path

from reviewed import TEXTS

FOLDER = Path(__file__).parent
README = FOLDER / "README.md"
NUMBERS = {key: number for number, key in enumerate(TEXTS, 1)}
MORE_DIGITS = 2  # of ours, beyond those that the source prints
WORST = 12

HEAD = """# Published figures beside ours

Written by `tests/published/table.py`; a test fails when it is out of date. Each figure is a row in one of the `test_*.py` here, which call
the helpers' own formulas. *Difference* is ours less published. *Allowed* is half a unit of the last printed digit, unless a reason is given
below. How known: **memory** means written down without the text at hand (look it up before you rest anything on it); **seen in public
text** means read in a text that is open to all; **seen as quoted in the review of 2026** means that a reviewer read it in a public text,
whose number stands behind it, and that we did not open that text; **derived** means that it follows from a definition or from another
figure.
"""


@cache
def tables():
    """The figures of each test file, by the first line of its docstring."""
    found = {}
    for path in sorted(FOLDER.glob("test_*.py")):
        spec = importlib.util.spec_from_file_location(f"table_of_{path.stem}", path)
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        if figures := getattr(module, "FIGURES", None):
            found[module.__doc__.splitlines()[0].removesuffix(".")] = figures
    return found


def markdown():
    """The whole file."""
    named = tables()
    figures = [figure for several in named.values() for figure in several]
    answers = {id(figure): Answer(figure) for figure in figures}
    parts = [HEAD, _counts(figures), _worst(list(answers.values())), _reasons(figures), _reviewed(figures), _notes(figures)]
    parts += [_section(title, [answers[id(figure)] for figure in several]) for title, several in named.items()]
    return "\n".join(parts)


class Answer:
    """Ours beside a figure, rounded so that the last bits of a double or another library's do not show."""

    def __init__(self, figure):
        self.figure, self.published = figure, Decimal(figure.printed)
        steady = Decimal(f"{float(figure.ours()):.10g}")  # ten digits are the same everywhere
        self.ours = steady.quantize(Decimal(1).scaleb(self.published.as_tuple().exponent - MORE_DIGITS), ROUND_HALF_EVEN)
        self.difference = self.ours - self.published

    @property
    def share(self):
        """Share of what is allowed that the difference takes; none where nothing is allowed and nothing is off."""
        return abs(float(self.difference)) / self.figure.tolerance if self.difference else 0.0

    def cells(self):
        figure = self.figure
        known = " ".join([figure.how_known, *(f"[{NUMBERS[key]}]" for key in figure.seen_in)])
        return [figure.quantity, str(figure.source), figure.printed, _plain(self.ours), _signed(self.difference), known]


def _counts(figures):
    sources = Counter(figure.source.publication for figure in figures if figure.source.counts)
    others = Counter(figure.source.publication for figure in figures if not figure.source.counts)
    known = Counter(figure.how_known for figure in figures)
    lines = [f"**{len(figures)} figures, {sources.total()} of them from {len(sources)} publications.**", ""]
    lines += _rows(["How known", "Figures"], known.most_common())
    lines += _rows(["Publication", "Figures"], sorted(sources.items(), key=lambda item: (-item[1], item[0])))
    lines += _rows(["No one publication", "Figures"], sorted(others.items()))
    return "\n".join(lines)


def _worst(answers):
    lines = ["## The worst differences", "", "By the share of what is allowed:", ""]
    lines += _rows(
        ["Quantity", "Published", "Ours", "Difference", "Allowed", "Share"],
        [_worst_row(answer) for answer in sorted(answers, key=lambda answer: (-answer.share, answer.figure.quantity))[:WORST]],
    )
    return "\n".join(lines)


def _worst_row(answer):
    figure = answer.figure
    return [
        figure.quantity,
        figure.printed,
        _plain(answer.ours),
        _signed(answer.difference),
        f"{figure.tolerance:.3g}",
        f"{answer.share:.0%}",
    ]


def _reasons(figures):
    by_reason = {}
    for figure in figures:
        if figure.why:
            by_reason.setdefault(figure.why, []).append(figure)
    rows = []
    for why, group in by_reason.items():
        most = max(figure.tolerance / figure.half_unit for figure in group)
        rows.append([group[0].quantity + (f"; {len(group) - 1} more" if len(group) > 1 else ""), f"{most:.3g}", why])
    lines = ["## Figures that are allowed more than half a unit", ""]
    return "\n".join(lines + _rows(["Quantity", "Half units", "Why"], rows))


def _reviewed(figures):
    """The texts of the reviewed figures, and how many rest on the weakest grade alone."""
    count = Counter(key for figure in figures for key in figure.seen_in)
    seen = [figure for figure in figures if figure.seen_in]
    weak = sum(all(TEXTS[key].grade == "C" for key in figure.seen_in) for figure in seen)
    lines = ["## Texts that the review of 2026 quotes", ""]
    lines += [f"{len(seen)} figures. Grades: A a primary text or its official copy, B a handbook or teaching text, C a reprint or a"]
    lines += [f"calculation sheet of a third party: {weak} figures rest on C alone, which is better than memory and decides nothing.", ""]
    rows = [[NUMBERS[key], text.title, text.publisher, text.year, text.grade, count[key]] for key, text in TEXTS.items()]
    return "\n".join(lines + _rows(["Number", "Title", "Publisher", "Year", "Grade", "Figures"], rows))


def _notes(figures):
    lines = ["## Where texts differ, and other notes", ""]
    return "\n".join(lines + _rows(["Quantity", "Note"], [[figure.quantity, figure.note] for figure in figures if figure.note]))


def _section(title, answers):
    lines = [f"## {title}", ""]
    lines += _rows(["Quantity", "Source", "Published", "Ours", "Difference", "How known"], [answer.cells() for answer in answers])
    return "\n".join(lines)


def _rows(heads, rows):
    lines = [heads, ["---"] * len(heads), *rows]
    return ["| " + " | ".join(str(cell).replace("|", "\\|") for cell in line) + " |" for line in lines] + [""]


def _plain(number):
    return f"{number:f}"


def _signed(number):
    return f"{number:+f}" if number else "0"


if __name__ == "__main__":
    README.write_text(markdown(), encoding="utf-8", newline="\n")
    print(f"written: {README}")
