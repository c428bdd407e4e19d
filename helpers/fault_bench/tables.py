"""What notebook 10 shows beside the bench: checks with prices and cautions, which faults look alike, what checks are worth, a card."""

from functools import cache
from statistics import mean, median

from helpers.fault_bench.checks import CHECKS, TEXTS, cautions, in_words
from helpers.fault_bench.faults import FAULTS
from helpers.fault_bench.judge import proofs, signs_of_faults, worths
from helpers.plots.headline import headed
from helpers.plots.markup import TEXT, Verdict, folded, html_table, paragraphs_html
from helpers.widgets.lines_under import points_html
from helpers.widgets.panel import Reading, SeniorCard

MOST_NAMED, MOST_ALIKE = 5, 8
PROVES, RULES_OUT = ("●", "proves"), ("○", "rules out")
LEGEND = (
    "● proves: only this fault shows it, in this check alone or in two laid side by side. ○ rules out: this fault and a few others show "
    "it, a sound loop does not. A check that is not named tells nothing: a sound loop shows the same."
)
HURTS = (
    "▲ A check with letters can hurt. Read its cautions before it, here or under the checks: who is told, fan in manual and how fast, "
    "isolate and lock out, and what is NOT RUN."
)
SIDE_BY_SIDE = "What can be laid side by side, and what it says"


@cache
def check_list():
    """Every check, what it is, and its price; the cautions once, as lettered notes under the table."""
    letters = _letters()
    rows = [
        (check.name, " or ".join(check.places), check.what, f"{check.minutes:g}", ", ".join(map(letters.get, check.cautions)))
        for check in CHECKS
    ]
    least, most = min(CHECKS, key=lambda one: one.minutes), max(CHECKS, key=lambda one: one.minutes)
    head = f"{len(CHECKS)} checks, {least.minutes:g} to {most.minutes:g} min each"
    first = _note(head, "read the caution of a check's letter, under the table, before you make it")
    heads = "Check", "Where", "How it is done", "Minutes", "Cautions"
    return _table(heads, lambda: rows, notes=_cautioned(), first=first, noted=_cautions_html(), key=_named_briefly())


def _letters_of_keys():
    """{key of a caution: its letter}."""
    return {key: chr(ord("A") + place) for place, key in enumerate(cautions())}


def _letters():
    """{caution: its letter}."""
    return {cautions()[key]: letter for key, letter in _letters_of_keys().items()}


def _named_briefly():
    """What each letter warns of, in a word or two, in view over every row; the caution itself is read before the check."""
    return "▲ " + ", ".join(f"{letter} {TEXTS['cautions_briefly'][caution]}" for caution, letter in _letters_of_keys().items())


def _cautioned():
    """Each caution after its letter."""
    return [f"{letter}: {caution}" for caution, letter in _letters().items()]


def _cautions_html():
    """The same, a line a sentence, what one lists under it."""
    looks = f'style="font-size:{TEXT}px;line-height:1.4;margin:8px 0"'
    return "".join(f"<div {looks}>{points_html(caution, f'<b>▲ {letter}</b>&ensp;')}</div>" for caution, letter in _letters().items())


def marks_of_faults():
    """{fault: {check: PROVES or RULES_OUT}} of all faults, by what a check, alone or laid beside another one, can show and a sound loop
    cannot: no other fault can either, or others can too. Over all seats of the bench's table; a seat may show less."""
    marks = {fault: {} for fault in FAULTS if fault.key != "none"}
    for sign in signs_of_faults():
        for fault in sign.faults:
            for check in sign.checks:
                if len(sign.faults) == 1 or check not in marks[fault]:
                    marks[fault][check] = PROVES if len(sign.faults) == 1 else RULES_OUT
    return marks


@cache
def look_alikes():
    """Faults by checks, a dot where one can prove the fault, a ring where it can rule out others; folded under it what is laid side by
    side, each outcome that a sound loop does not show, and the faults that can show it."""

    def render():
        html, words = _render(("Comparison", "Result", "Minutes", "Faults that give this result"), _sign_rows, fold=SIDE_BY_SIDE)
        marks = marks_of_faults()
        proved = sum(PROVES in of.values() for of in marks.values())
        first = _note(
            f"{proved} of {len(marks)} faults have a ● that proves them", "read the ▲ cautions of the suspect's ● check, then make it"
        )
        return headed(first, _matrix_html() + html, _named_briefly()), f"{first}\n{_matrix_words()}\n{words}"

    return Reading(render)


@cache
def proofs_table():
    """Every fault, how many look like it on arrival, and its cheapest proof."""
    columns = "Fault", "Fits as well on arrival", "Cheapest proof", "Minutes"
    found = [proof for proof in proofs() if proof.minutes is not None]
    longest = max(proof.minutes for proof in found)
    first = _note(f"{len(found)} of {len(proofs())} are proved, within {longest:g} min", "make the cheapest proof of the suspect")
    return _table(columns, _proof_rows, fold="The cheapest proof of each fault, one a line", first=first)


@cache
def worths_table():
    """What checks rule out, the best for their minutes first; what tells nothing by itself comes last."""
    columns = "Taken first, after the trend", "Minutes", "Suspects ruled out", "For each minute"
    best = worths()[0]
    head = f"Most for a minute: {best.ruled_out:.1f} suspects ruled out in {best.minutes:g} min"
    first = _note(head, f"first {' and '.join(check.name for check in best.checks)}")
    return _table(columns, _worth_rows, fold="The other checks", shown=MOST_ALIKE, first=first)


@cache
def senior_card():
    """The lesson in a few lines, its figures worked out."""
    return SeniorCard(_lines)


def _note(head, do):
    """The headline of a table that judges nothing: what it comes to, and what to do with it."""
    return Verdict("note", f"{head}.", head, do=f"Do: {do}")


def _table(*table, **looks):
    return Reading(lambda: _render(*table, **looks))


def _render(columns, rows, notes=(), fold="", shown=0, first=None, noted="", key=""):
    """A table with notes under it, as (HTML, words); fold: the line under which stand the rows beyond the first `shown`; first: its
    `Verdict`; noted: the notes as HTML, where they are more than a sentence each; key: how its marks are read, in view with it."""
    made = [tuple(map(str, row)) for row in rows()]
    parts = (made[:shown], made[shown:]) if fold else (made, ())
    html = "".join(html_table(columns, part) if part is parts[0] else folded(fold, html_table(columns, part)) for part in parts if part)
    html += noted or paragraphs_html(notes)
    told = [*([str(first)] if first else []), *(" | ".join(row) for row in (columns, *made)), *notes]
    return headed(first, html, key) if first else html, "\n".join(told)


def _matrix_html():
    """The marks as a table in words, a line for each fault; what can hurt has the letters of its cautions beside it."""
    letters = _letters()

    def named(check):
        hurts = "".join(map(letters.get, check.cautions))
        return f"{check.name} ▲{hurts}" if hurts else check.name

    rows = [
        (fault.name, *("; ".join(named(check) for check in CHECKS if marks.get(check) == mark) for mark in (PROVES, RULES_OUT)))
        for fault, marks in marks_of_faults().items()
    ]
    heads = "Suspect", *(f"{mark} {words}" for mark, words in (PROVES, RULES_OUT))
    return paragraphs_html([LEGEND, HURTS]) + html_table(heads, rows) + folded("Every caution by its letter", _cautions_html())


def _matrix_words():
    """The marks, a line for each fault."""
    told = []
    for fault, marks in marks_of_faults().items():
        said = (
            f"{words} by: {', '.join(check.name for check in CHECKS if marks.get(check) == (sign, words))}"
            for sign, words in (PROVES, RULES_OUT)
            if (sign, words) in marks.values()
        )
        told.append(f"{fault.name}: {'; '.join(said) or 'no mark'}.")
    return "\n".join([LEGEND, *told])


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
    minutes, longest, cheapest = (f(found, key=lambda proof: proof.minutes) for f in (_medians, max, min))
    alike = [len(proof.alike) + 1 for proof in proofs()]
    best, alone = worths()[0], next(worth for worth in worths() if len(worth.checks) == 1)
    used = {check: sum(check in {one for one, _ in proof.looks} for proof in found) for check in CHECKS}
    often = sorted(used, key=used.get, reverse=True)[:3]
    yield (
        f"On arrival, from the trend alone, {mean(alike):.0f} of {len(alike)} possible answers still fit on average, up to {max(alike)}: "
        "a trend names no fault, it only says where to look."
    )
    yield (
        f"Proofs take {cheapest.minutes:g} to {longest.minutes:g} min at the bench's prices, half of them at most {minutes:g}; the longest "
        f"is {longest.fault.name}, by: {_named(longest)}."
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
