"""Answers to the enquiry list of a site, as a file: who said what, when. Read as a site file is, every mistake with its line.

An answer is kept as it was told; no figure follows from it until the site file states it.
"""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from helpers.model.site import field_types as of
from helpers.model.site.file import read_site
from helpers.model.site.schema import WholeSite
from helpers.model.test_day import date_of, not_after

LONGEST = 400  # letters of an answer: it stands in a cell of a table


class GivenAnswer(of.SiteTable):
    """One answer: `question` is its key on the enquiry list, `date` as 2026-05-12."""

    question: of.Text
    answer: Annotated[str, Field(min_length=1, max_length=LONGEST)]
    by: of.Text
    date: of.Text


def each_question_once(draft):
    """Two answers to one question: nobody knows which counts."""
    seen = set()
    for number, one in draft.items("answers"):
        if one.question in seen:
            yield ("answers", number, "question"), f"must be answered once; {one.question!r:.60} is answered twice"
        seen.add(one.question)


def each_has_a_date(draft):
    """A date is written in one way."""
    for number, one in draft.items("answers"):
        try:
            date_of(one.date)
        except ValueError as refusal:
            yield ("answers", number, "date"), str(refusal)


class AnswersFile(WholeSite):
    """What was answered of one site's enquiry list; `site` is the site's name."""

    called: ClassVar[str] = "file of answers"
    checks: ClassVar[tuple] = (each_question_once, each_has_a_date)

    kind: Literal["answers"]
    site: of.Text
    answers: Annotated[list[GivenAnswer], Field(min_length=1)]

    @property
    def counted(self):
        """How many answers, to which list, and who holds their keys against it, in words."""
        count = f"{len(self.answers)} {'answer' if len(self.answers) == 1 else 'answers'}"
        return f"{count} to the enquiry list of {self.site}; `papers` holds their keys against it"

    def by_question(self):
        """Each `GivenAnswer` by the key of its question."""
        return {one.question: one for one in self.answers}


def read_answers(path, site_name, today=None):
    """Read the file of answers of the site of that name. Returns `AnswersFile`; raises SiteFileError as `read_site`, ValueError where it is
    another site's, or an answer was given after today, a `date` (None: no clock is asked)."""
    found = read_site(path, (AnswersFile,))
    if found.site != site_name:
        raise ValueError(f"site of the file of answers must be {site_name!r:.60}, got {found.site!r:.60}")
    for number, one in enumerate(found.answers, 1):
        try:
            not_after(date_of(one.date), today)
        except ValueError as refusal:
            raise ValueError(f"answers.{number}.date {refusal}") from None
    return found
