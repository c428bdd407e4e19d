"""An answer to the enquiry list at each place of a paper that sends to its question: quoted, with who gave it and when, in place of what
was to be agreed and of what held until then. No program reads an answer: each is listed at the end of its paper, to be signed for; of the
check list of fan and drive an answered item no longer waits, and is CHECK.
"""

import re
from dataclasses import replace
from functools import cache

from helpers.model.files import texts
from helpers.studies.report import Table
from helpers.studies.status import word_of

LIST = "enquiry list"
ANSWERED = "as answered"
LEADS = (  # (words that lead to a question, what stands there before its answer), the first that fits; None: no word of its own before it
    (r"to be agreed, see the ", f"{ANSWERED}, "),
    (r"to be agreed: ([^:;.]+), see the ", rf"\1: {ANSWERED}, "),
    (r"is a proposal until it is answered in the ", f"is {ANSWERED}, "),
    (r"[Aa] proposal(?:, to be agreed[^,]*,|, for authority and licensed designer to decide)?,? see the ", f"{ANSWERED}, "),
    (r"[;,] agree it, see the ", f"; {ANSWERED}, "),
    (r", at once or after the wait of the ", f", {ANSWERED}, "),
    (r" that is agreed, see the ", f", {ANSWERED}, "),
    (r" is asked in the ", f" is {ANSWERED}, "),
    (r"agreed[:,] see the ", f"agreed, {ANSWERED}, "),
    (r"[:,] see the ", f", {ANSWERED}, "),
    (r"see the ", f"{ANSWERED}, "),
    (r"", f"{ANSWERED}, "),
)
WAITED = "at once, or after a wait "  # of which an answer says the one or the other
LISTED = rf'{LIST} (?:Q\d+, )[^";]*, by [^"]+?: "[^"]*"'  # an answer as it is quoted, with its number
UNTIL = r"(?:; until then: [^;]*)?"  # what held until it was answered
FIELDS = ("Answer", "Looked at by: name, firm", "Signed, date")
NOTE = (
    f"{word_of('attention')}, each of them: as told, judged by nobody, and no program has read it. Where one says other than the words "
    "beside it, the answer is what was agreed, and the words are ours: the licensed engineer looks at both before anybody builds either."
)
CHECK_LIST = "fan", "drive_checks"  # section and key of the table
ASKED_BY = {  # item of that list: key of the question that settles it; its other items are proved on site, and wait
    "Override of the drive's trips": "fan/override of the drive's own trips",
    "Restart after a trip, and its counter": "drive trip",
    "Flying start": "fan/restart after the mains come back",
    "Place of the intake": "intake",
    "Smoke detector in the supply": "fan/smoke detector in the supply",
    "Proof that the fan runs": "fan/proof that the fan runs",
    "By-pass of the drive": "feeder",
}


@cache
def unanswered(name):
    """Where a text sends to a question of an enquiry list by its key, and no answer stands beside it; name: of its file of words."""
    return re.compile(rf"(to be agreed, see the )?{LIST}: ({_keys(name)})(?! \()")


@cache
def _sent(name):
    """The same with the words that lead there, and with what holds until it is answered."""
    leads = "|".join(lead.replace("([^:;.]+)", "[^:;.]+") for lead, _ in LEADS)
    return re.compile(rf"(?:{re.escape(WAITED)})?({leads}){LIST}: ({_keys(name)})(?! \(){UNTIL}")


def _keys(name):
    """The keys of a file of words as alternatives, the longest first."""
    return "|".join(map(re.escape, sorted((one["key"] for one in texts(name)["questions"]), key=len, reverse=True)))


def with_answers(text, name, given, told):
    """A text with each answer in place of the words that send to its question.

    name: of the file of words; given: {key: `GivenAnswer`}; told: function of a key: the answer in words, with what is against it.
    """

    def quoted(found):
        key = found[2]
        if key not in given:
            return found[0]
        return f"{_before(found[1])}{quote(key, given[key], told(key))}"

    return _sent(name).sub(quoted, text) if given else text


def _before(lead):
    """What stands before an answer in place of the words that led to its question, a capital where they had one."""
    pattern, instead = next((pattern, instead) for pattern, instead in LEADS if re.fullmatch(pattern, lead))
    said = re.sub(pattern, instead, lead) if pattern else instead
    return f"{said[0].upper()}{said[1:]}" if lead[:1].isupper() else said


def who_answered(answer):
    """Who gave a `GivenAnswer`, when, and to which question."""
    return f"{ANSWERED} by {answer.by}, {answer.date} ({LIST} {answer.question})"


def quote(key, answer, told):
    """A `GivenAnswer` as it stands on a paper; told: the same with what is against it, which is no part of the quotation."""
    said, by = (words.replace('"', "'").strip().rstrip(".") for words in (answer.answer, answer.by))  # its own marks end a quotation
    beside = told.removeprefix(answer.answer.rstrip(".")).strip()  # what the record has against it
    against = "" if beside in ("", ".") else f" {beside}" if beside.startswith("(") else f" ({told})"
    return f'{LIST} {key}, by {by}, {answer.date}: "{said}"{against}'


def with_numbers(text, name, numbers):
    """A text with the number of each question before its key where an answer to it is quoted. numbers: {key: "Q" and its number}."""

    def numbered(found):
        return f"{LIST} {numbers.get(found[1], 'asked no more')}, {found[1]}"

    return re.sub(rf"{LIST} ({_keys(name)})(?=, by |\))", numbered, text)


def answers_listed(part_texts):
    """`Table` of every answer that texts of a paper quote, to sign for, in a tuple; () where they quote none."""
    quotes = (found for text in part_texts if isinstance(text, str) for found in re.findall(LISTED, text))
    rows = tuple((one, "", "") for one in dict.fromkeys(quotes))
    return (Table("answers quoted", "Answers that this paper quotes", FIELDS, rows, ("attention",) * len(rows), NOTE),) if rows else ()


def with_answers_beside(table, has_answer):
    """That `Table` with each answered item sent to its question in the last column, and CHECK. has_answer: of a key. None stays."""
    if table is None:
        return None
    rows, states = [], []
    for row, state in zip(table.rows, table.states, strict=True):
        key = ASKED_BY.get(row[0])
        answered = key is not None and has_answer(key)
        rows.append((*row[:-1], f"see the enquiry list: {key}") if answered else row)
        states.append("attention" if answered else state)
    return replace(table, rows=tuple(rows), states=tuple(states))
