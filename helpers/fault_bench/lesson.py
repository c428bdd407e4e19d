"""What notebook 10 shows beside the bench: a case worked step by step, which faults look alike, what checks are worth, a card."""

from functools import cache
from statistics import mean, median

from ipywidgets import HTML, VBox

from helpers.fault_bench import words as say
from helpers.fault_bench.case import Visit, case_of
from helpers.fault_bench.checks import CHECKS, in_words
from helpers.fault_bench.controls import Replay, picture_html
from helpers.fault_bench.faults import FAULTS
from helpers.fault_bench.judge import MODE, SEED, judge, proofs, signs_of_faults, worths
from helpers.plots.markup import html_table
from helpers.plots.picture import Picture
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS
from helpers.widgets.panel import Reading, SeniorCard

__all__ = ["WorkedCase", "check_list", "look_alikes", "proofs_table", "senior_card", "worked_case", "worths_table"]

WORKED = "tube_leaks"  # the fault of the worked case
MOST_NAMED, MOST_ALIKE = 5, 8


class WorkedCase:
    """A case shown from the complaint to the cure: `replay.next()` goes on by a step, `picture` is the trend on arrival."""

    def __init__(self, fault_key=WORKED, number=SEED, mode=MODE):
        self.case = case_of(fault_key, number, mode=mode)
        self.visit = Visit(self.case)
        cure = next(fault.cure for fault in self.case.faults if fault.key == fault_key)
        self.judgement = judge(self.visit, fault_key, (), cure)
        self.replay, self.picture, self.arrival = Replay(self.case, self.judgement), Picture(height_px=500), HTML()
        self.box = VBox([say.look(), UNITS.switch(), self.arrival, self.picture.image, self.replay.box]).add_class(say.CLASS)
        UNITS.listen(self.refresh)
        self.refresh()

    @property
    def words(self):
        """All of it in plain text."""
        rows = [f"{what}: {told}" for what, told in say.arrival_rows(self.case, self.visit)]
        steps = [say.step_words(number, step) for number, step in enumerate(self.replay.steps, 1)]
        return written_out("\n".join([*rows, *steps]), UNITS.system)

    def refresh(self):
        """Write and draw it anew, in the units of the moment."""
        self.arrival.value = written_out(say.arrival_html(self.case, self.visit), UNITS.system)
        self.picture.show(written_out(self.case.trend(), UNITS.system))
        self.replay.refresh()

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live case; without a kernel, all its steps."""
        steps = written_out(say.steps_html(self.replay.steps, len(self.replay.steps)), UNITS.system)
        html = f"{self.arrival.value}{picture_html(self.picture)}{say.heading_html('The good way')}{steps}"
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": self.words}


@cache
def worked_case():
    """The worked case, one in a notebook."""
    return WorkedCase()


@cache
def check_list():
    """Every check, what it is, and its price."""
    rows = [(check.name, " or ".join(check.places), check.what, f"{check.minutes:g}", check.caution) for check in CHECKS]
    return _table(("Check", "Where", "How it is done", "Minutes", "Caution"), lambda: rows)


@cache
def look_alikes():
    """What is laid side by side, an outcome that a sound loop does not show, and the faults that can show it."""
    return _table(("Laid side by side", "It", "Minutes", "All of these look alike then"), _sign_rows)


@cache
def proofs_table():
    """Every fault, how many look like it on arrival, and its cheapest proof."""
    return _table(("Fault", "Fits as well on arrival", "Cheapest proof", "Minutes"), _proof_rows)


@cache
def worths_table():
    """What checks rule out, the best for their minutes first; what tells nothing by itself comes last."""
    return _table(("Taken first, after the trend", "Minutes", "Suspects ruled out", "For each minute"), _worth_rows)


@cache
def senior_card():
    """The lesson in a few lines, its figures worked out."""
    return SeniorCard(_lines)


def _table(columns, rows):
    def render():
        made = [tuple(map(str, row)) for row in rows()]
        return html_table(columns, made), "\n".join(" | ".join(row) for row in (columns, *made))

    return Reading(render)


def _sign_rows():
    for sign in signs_of_faults():
        minutes = sum(check.minutes for check in sign.checks)
        names = [fault.name for fault in sign.faults]
        alike = (
            ", ".join(names) if len(names) <= MOST_ALIKE else f"{len(names)} of the {len(FAULTS)} answers: it helps to rule out the others"
        )
        yield sign.what, in_words(sign.outcome), f"{minutes:g}", alike


def _proof_rows():
    for proof in proofs():
        names = [fault.name for fault in proof.alike]
        sound = ", a sound loop among them" if "none" in {fault.key for fault in proof.alike} else ""
        alike = ", ".join(names) or "nothing else" if len(names) <= MOST_NAMED else f"{len(names)} others{sound}"
        price = "" if proof.minutes is None else f"{proof.minutes:g}"
        yield proof.fault.name, alike, _named(proof) or "no check of the bench proves it in this seat", price


def _worth_rows():
    for worth in worths():
        if worth.ruled_out:
            names = " and ".join(check.name for check in worth.checks)
            yield names, f"{worth.minutes:g}", f"{worth.ruled_out:.1f}", f"{worth.a_minute:.2f}"
    alone = {worth.checks[0].name for worth in worths() if len(worth.checks) == 1 and not worth.ruled_out}
    yield f"each by itself: {', '.join(check.name for check in CHECKS if check.name in alone)}", "", "0", ""


def _lines():
    found = [proof for proof in proofs() if proof.minutes is not None]
    minutes, dearest, cheapest = (f(found, key=lambda proof: proof.minutes) for f in (_medians, max, min))
    alike = [len(proof.alike) + 1 for proof in proofs()]
    best, alone = worths()[0], next(worth for worth in worths() if len(worth.checks) == 1)
    used = {check: sum(check in {one for one, _ in proof.looks} for proof in found) for check in CHECKS}
    often = sorted(used, key=used.get, reverse=True)[:3]
    yield (
        f"On arrival, from the trend alone, {mean(alike):.0f} of {len(alike)} possible answers still fit on average, up to {max(alike)}: "
        "a trend names no fault, it only says where to look."
    )
    yield (
        f"Proofs take {cheapest.minutes:g} to {dearest.minutes:g} min at the bench's prices, half of them at most {minutes:g}; the dearest "
        f"is {dearest.fault.name}, by: {_named(dearest)}."
    )
    yield (
        f"Most for a minute: {' and '.join(check.name for check in best.checks)} ({best.minutes:g} min) rule out {best.ruled_out:.1f} "
        f"suspects on average; of single checks it is to {alone.checks[0].name} ({alone.minutes:g} min, {alone.ruled_out:.1f})."
    )
    yield f"Most often part of the cheapest proof: {'; '.join(f'{check.name} ({used[check]} of {len(found)})' for check in often)}."
    yield "A figure alone proves little: lay a display beside a gauge, an entry beside the plate or the sheet, the wheel beside its arrow."
    yield (
        "Limits: one building, one fault at a time, sizes that a gauge of common accuracy finds; minutes are common practice, no source; "
        "worked out for one seat."
    )


def _medians(found, key):
    return median(map(key, found))


def _named(proof):
    return "; ".join(f"{check.name}{f' ({place})' if place else ''}" for check, place in proof.looks)
