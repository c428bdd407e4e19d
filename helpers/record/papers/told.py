"""Papers that are told: headings and fixed words of a file of data/texts, and under each what the record holds of it, by its names there.

The rational analysis report, the owner's page, the drawing notes. What no code works out is a blank with a number of its own: what, by
whom, on what basis. A paper that is told states no value itself.
"""

import re
from dataclasses import dataclass, replace
from itertools import groupby

from helpers.model.files import texts
from helpers.model.site.file import write_site
from helpers.model.site.form import SiteForm
from helpers.plots.stair_section import stair_section
from helpers.record.papers.beyond.annex import (
    FULL,
    NEEDED,
    annex_number,
    beside_answers,
    in_annex_said,
    outside,
    with_headings,
    without_codes,
    worst_asked,
)
from helpers.record.papers.beyond.found import BUT, counted_said, findings_shown, summed_up, untold, with_signed
from helpers.record.papers.beyond.marks import edge_said, marked_table
from helpers.record.papers.beyond.site_has import reading_at_supply
from helpers.record.papers.beyond.stated import exit_said, exit_undecided
from helpers.record.papers.enquiry import answered_table
from helpers.record.papers.paper import ANALYSIS, CALLED, FINDINGS, Paper, Part
from helpers.record.papers.played import misled_table, start_said, worst_said
from helpers.record.papers.quoted import BEYOND, Quoted, RefusedQuoted
from helpers.studies.report import PRACTICE, Table, listed
from helpers.studies.status import word_of
from helpers.units.said import with_unit

QUOTED = ("What", "As the record has it", "Why, and source")
SPRINKLERS = "sprinklers presupposed"  # key of a question of the enquiry list
SCHEDULE_PLACE, BOARD_PLACE = "Settings schedule", "Buy, set and check"
LINED = "lines", "steps", "cautions"  # of a heading, whose lines may hold only for some sites
CALL_MARK = "BLANK O"  # before the number of each name and telephone on the owner's sheet
NOTHING = "–"  # in a quoted cell without text: an empty one is a blank to fill in
RULE, ALL, STARTED = "@rule", "*", "@self-test"  # the last: a cell with what a start came to
NOT_SET = "not set yet: ask the licensed engineer"
SIGNED_FIRST = f"({word_of('attention')}: the licensed engineer signs for it first)"
_REASON = re.compile(rf"\({word_of('attention')}: [^()]*\)")
AFTER_THAT = (
    "What the record found besides follows, each line for later: nothing of it is ordered, entered, tuned or tested before what fails is "
    "settled, and it may not stand then.",
    "Later, if it still stands: {}",
)
LATER_TITLE = "What the record found besides, for later"
LATER = (
    "What the record found besides stands in the annex, {}: nothing of it is ordered, entered, tuned or tested before that, and it may not "
    "stand then."
)
PLANNED = "Planned, nothing of it set yet"
SPEAKS_AGAINST = "Conclusion, as far as the record goes: as its file has it this design does not do what is asked of it, see above. {}"
NOTHING_FAILS = "Conclusion, as far as the record goes: nothing fails, and what is CHECK or NOT YET is to be settled first. {}"
UNSIGNED = (
    "Conclusion, as far as the record goes: nothing fails but what waits for the authority's word, told next; what is CHECK or NOT YET is "
    "to be settled first. {}"
)
UNDECIDED = "Conclusion, as far as the record goes: {1} In what the design counts nothing fails{2}. {0}"
JET = (
    "a reading hangs where air enters. Its tube ends out of the jet, on the drawing, or it hangs on another storey: see the enquiry list: "
    "tube end at an outlet."
)
CRITERIA = "window/criteria"  # table of what standards ask, side by side
WITHOUT_AIR = "site/"  # places of the record that need no air of the stair
NOT_COMPUTED_HERE = (
    "Not computed, since no pressure suits the doors of this stair: what the record has of it is written when they have changed. What is "
    "blank here is filled in all the same: no closer changes it."
)
MOST_ROWS = 20  # of a table in the body that not every site has
NO_ANSWER = "The enquiry list has no answer yet."
BLANKS_TITLE = "Blanks, and who fills them in"
ROOM_HERE = "Each blank stands under its heading, with its basis and room to write; this paper's workbook (.xlsx) lists them one by one."
ROOM_BEHIND = (
    "Each blank stands under its heading, with its basis; room to write it is in the annex, under [[{}]]; this paper's workbook (.xlsx) "
    "lists them one by one."
)
ROOM_TITLE, WRITTEN = "Room to write the blanks", "As filled in: what, from where, date, name"
STOREYS = (
    "Storey",
    "On the drawings",
    "Stair door",
    "Lobby",
    "Final exit",
    "Transmitter",
    "Air",
    "Relief damper",
    "Checked: place on the drawing",
)


@dataclass(frozen=True)
class OpenBlank:
    """What the program does not compute: its number in the paper, the heading it stands under, what is to be written, by whom, and on what
    basis; fields: what of it has a cell of its own."""

    number: str
    heading: str
    what: str
    by_whom: str
    basis: str
    fields: tuple[str, ...] = ()

    @property
    def label(self):
        """As it stands where it is to be filled in."""
        return f"BLANK {self.number}. {self.what}. By: {self.by_whom}. Basis: {self.basis}."


class Teller:
    """Tells the headings of one paper from what is `Quoted` of a record, and counts its blanks."""

    def __init__(self, quoted, mark="B"):
        self.mark = mark  # before the number of each blank: another one in each paper
        self.quoted, self.design, self.blanks = quoted, quoted.design, []
        self.annex = []  # `Part`s of full tables, in the order of the headings they belong to

    def part(self, told):
        """A heading of the file of words as a `Part`. Raises ValueError for a section that the record does not have."""
        told = self.quoted.filled(told) | {name: self.quoted.lines_for(told[name]) for name in LINED if name in told}
        blanks = tuple(
            self._blank(told["title"], one) for one in told.get("blanks", ()) if not isinstance(one, dict) or self.quoted.has(one)
        )
        lines = [*told.get("lines", ()), *(self._verdict(key) for key in told.get("verdicts", ()))]
        lines += self._conclusion() if told.get("conclusion") else []
        lines += filter(None, [edge_said(self.design)]) if told.get("edge") else []
        lines += [note for key in told.get("notes", ()) for note in self.design.section(key).notes]
        lines += self._to_annex(told)
        asked = {place: self._table(place) for place in told.get("tables", ())}
        besides = [*(table for table in self._if_any(told) if len(table.rows) <= MOST_ROWS), *self._worst(told)]
        lines += [f"The record of this site has no table of {place.replace('/', ': ')}." for place, table in asked.items() if table is None]
        lines += [NO_ANSWER] if told.get("annexed_answers") and answered_table(self.quoted) is None else []
        tables = (
            *self._rows(told),
            *self._each(told),
            *self._lines_quoted(told),
            *self._findings(told),
            *(misled_table(self.quoted) if told.get("misled") else ()),
            *filter(None, (*asked.values(), *besides)),
        )
        pictures = tuple(filter(None, map(self._picture, told.get("pictures", ()))))
        drawings = (stair_section(SiteForm(write_site(self.quoted.site))),) if told.get("drawing") else ()
        labels, steps, cautions = tuple(one.label for one in blanks), told.get("steps", ()), told.get("cautions", ())
        fields = tuple((one.label, one.fields) for one in blanks if one.fields)
        return Part(told["title"], tuple(lines), tuple(steps), tables, labels, tuple(cautions), pictures, drawings, fields)

    def _to_annex(self, told):
        """Keep what of a heading stands in full in the annex; where it does, and what its tables come to, in a list of one sentence."""
        figures = tuple(self._lines_quoted({"title": told["title"], "figures": told.get("annexed_figures", ())}))
        answers = answered_table(self.quoted) if told.get("annexed_answers") else None
        long = [table for table in self._if_any(told) if len(table.rows) > MOST_ROWS]
        tables = (*figures, *filter(None, (*map(self._table, told.get("annexed", ())), answers)), *long)
        pictures = tuple(filter(None, map(self._picture, told.get("annexed_pictures", ()))))
        lines = [self._verdict(key) for key in told.get("annexed_verdicts", ())]
        lines += [note for key in told.get("annexed_notes", ()) for note in self.design.section(key).notes]
        if not (tables or pictures or lines):
            return []
        self.annex.append(Part(FULL.format(told["title"]), tuple(lines), tables=tables, pictures=pictures, annex=True))
        return [in_annex_said(annex_number(len(self.annex)), tables, pictures, lines)]

    def _if_any(self, told):
        """Tables that not every site has; one of many rows stands in the annex."""
        return [table for table in map(self._table, told.get("if_any", ())) if table is not None]

    def _worst(self, told):
        """Of what is asked of the fan, which stands in the annex case by case, the worst case of each set of open doors."""
        if NEEDED in told.get("annexed", ()):
            yield worst_asked(self._table(NEEDED), self.design.duty.needed)

    def blanks_part(self, said=ROOM_HERE):
        """All blanks so far: their numbers by who fills them in; in the workbook each with room to say when it was filled in. said: where
        there is room to write them."""
        rows = tuple((one.number, one.what, one.by_whom, one.basis, one.heading, "") for one in self.blanks)
        columns = ("Blank", "What is to be written", "By", "On the basis of", "Under", "Filled in: date, name")
        by = {who: [one.number for one in self.blanks if one.by_whom == who] for who in dict.fromkeys(one.by_whom for one in self.blanks)}
        roles = Table(
            "roles", "Whose blanks", ("By", "How many", "Blanks"), tuple((who, str(len(own)), ", ".join(own)) for who, own in by.items())
        )
        every = Table("blanks", "All blanks", columns, rows, ("open",) * len(rows))
        return Part(BLANKS_TITLE, (said,), tables=(roles,), in_workbook=(every,))

    def room_part(self):
        """Room to write every blank, in the annex: of several fields a row each."""
        rows = ((one.number, what, "") for one in self.blanks for what in (one.fields and [f"{one.what}: {field}" for field in one.fields])
                or [one.what])  # fmt: skip
        table = Table("fields", ROOM_TITLE, ("Blank", "What is to be written", WRITTEN), tuple(rows))
        return Part(ROOM_TITLE, tables=(table,), annex=True)

    def _blank(self, heading, told):
        parts = (told["what"], told["by"], told["basis"], told.get("fields", ())) if isinstance(told, dict) else told
        self.blanks.append(OpenBlank(f"{self.mark}{len(self.blanks) + 1}", heading, *parts))
        return self.blanks[-1]

    def _conclusion(self):
        """What the record comes to: whether anything fails, its findings counted, and its summary line by line."""
        record = self.design.record()
        undecided = "" if isinstance(self.quoted, RefusedQuoted) else exit_undecided(self.design, self.quoted.has_answer(BEYOND[1]))
        refused = isinstance(self.quoted, RefusedQuoted)
        nothing = NOTHING_FAILS if refused or not untold(self.design) else UNSIGNED
        told = SPEAKS_AGAINST if record.fails else UNDECIDED if undecided else nothing
        count = record.state_line if refused else counted_said(self.quoted)
        beyond = () if refused else filter(None, [*summed_up(self.quoted), worst_said(self.quoted)])
        said = [told.format(count, undecided, BUT * (nothing == UNSIGNED)), *beyond]
        later = [*filter(None, [self._exit_said()]), *record.summary]
        if not record.fails:
            return [*said, *later]
        now = [line for line in record.summary if line.startswith(word_of("wrong"))]  # what fails is of now, and nothing for later
        after = tuple(AFTER_THAT[1].format(line) for line in later if line not in now)
        self.annex.append(Part(LATER_TITLE, (AFTER_THAT[0], *after), annex=True))
        return [*said, *now, LATER.format(annex_number(len(self.annex)))]

    def _exit_said(self):
        """What an advice on the fan leaves out, see `exit_said`; "" for a stair without any air."""
        told = "" if isinstance(self.quoted, RefusedQuoted) else exit_said(self.design, self.quoted.has_answer(BEYOND[1]))
        return told and f"The fan. {told}"

    def _verdict(self, key):
        section = self.design.section(key)
        beside = f" {self._exit_said()}" if key == "fan" else ""
        return f"{section.title}, as the record has it: {section.verdict}{beside}".rstrip()

    def _rows(self, told):
        """A table whose words stand in the file, its values filled in, of the rows that this site has; one of how tubes are run."""
        if "rows" in told:
            rows = [
                one["row"] if isinstance(one, dict) else one for one in told["rows"] if not isinstance(one, dict) or self.quoted.has(one)
            ]
            rows = (tuple(start_said(self.quoted) if cell == STARTED else cell for cell in row) for row in rows)
            yield Table(told["table"], told["title"], tuple(told["columns"]), tuple(rows))
        if told.get("tubes"):
            rows = tuple((one["what"], one["how"], one["why"]) for one in texts("papers")["tubes"])
            yield Table("tubes", "How tubes are run", ("What", "How", "Why"), rows, note=PRACTICE.capitalize())

    def _each(self, told):
        """Lines of the schedule that every transmitter has, a row each."""
        rows = [((tap.name, *cells), state) for tap in self.quoted.site.transmitters
                for cells, state in (self.quoted.row(tap.name, name) for name in told.get("each", ()))]  # fmt: skip
        if rows:
            cells, states = zip(*rows, strict=True)
            yield Table(f"each {told['title']}", "By transmitter", ("Transmitter", "What", "As the record has it", "Why"), cells, states)

    def _lines_quoted(self, told):
        """Lines of board and schedule and figures of sections, in one table, their places in the record under it."""
        rows = [((*cells, BOARD_PLACE), state) for cells, state in map(self.quoted.decided, told.get("decided", ()))]
        for place in told.get("settings", ()):
            group, name = place.split("/", 1)
            cells, state = self.quoted.row(group, name)
            rows.append(((*cells, f"{SCHEDULE_PLACE}, {group}"), state))
        for place in told.get("figures", ()):
            key, label = place.split("/", 1)
            section = self.design.section(key)
            labels = [one.label for one in section.figures] if label == ALL else [label]
            for cells, state in (self.quoted.figure(key, one) for one in labels):
                rows.append(((*cells, section.title), state))
        if rows:
            cells, states = zip(*((cells[:-1], state) for cells, state in rows), strict=True)
            places = "; ".join(dict.fromkeys(cells[-1] for cells, _ in rows))
            yield Table(f"quoted {told['title']}", "Figures quoted", QUOTED, cells, states, f"Place in the record: {places}.")

    def _findings(self, told):
        if told.get("findings"):
            refused = isinstance(self.quoted, RefusedQuoted)
            found = self.design.record().findings if refused else findings_shown(self.quoted)
            rows = tuple((one.what, one.figure or NOTHING, one.remedy or NOTHING) for one in found)
            yield Table(
                FINDINGS,
                "Findings of the record",
                ("What was found", "By how much", "What helps"),
                rows,
                tuple(one.severity for one in found),
            )

    def _key(self, key):
        return key.replace(RULE, self.design.site.control.rule)

    def _table(self, place):
        """A table of the record, its place under it; None where the record has none."""
        key, name = place.split("/", 1)
        table = self.quoted.table(key, self._key(name))
        if table is None:
            return None
        if place == CRITERIA and not self.quoted.has({"only": "building code"}):
            table = without_codes(table)
        blank = [not any(row[column] for row in table.rows) for column in range(len(table.columns))]
        rows = tuple(tuple(cell if cell or blank[at] else NOTHING for at, cell in enumerate(row)) for row in table.rows)
        would = self.quoted.would_be(key)
        told = f"Not laid down: {would}. What stands here is indicative." if would else ""
        note = " ".join(filter(None, (told, table.note, f"Place in the record: {self.design.section(key).title}.")))
        table = replace(table, rows=rows, note=note)
        return table if isinstance(self.quoted, RefusedQuoted) else marked_table(table, self.design, self.quoted.has_answer(SPRINKLERS))

    def _picture(self, place):
        key, name = place.split("/", 1)
        return next((one for one in self.design.section(key).pictures if one.key == self._key(name)), None)


def told_paper(quoted, name, number, key):
    """The `Paper` of a file of data/texts, of the headings that this site has."""
    words = texts(name)
    teller = Teller(quoted, words.get("blank_mark", "B"))
    told = [(one.get("outside", False), part) for one in words["parts"] if (part := _told_here(teller, one, words["parts"]))]
    parts = []
    for beside, run in groupby(told, key=lambda one: one[0]):
        run = [part for _, part in run]
        parts += [outside(run)] if beside else run
    behind = key == ANALYSIS and teller.blanks
    whose = [teller.blanks_part(ROOM_BEHIND.format(ROOM_TITLE) if behind else ROOM_HERE)] if teller.blanks else []
    parts = [*parts[:1], *whose, *parts[1:]]
    first = replace(parts[0], cautions=(*words.get("cautions", ()), *parts[0].cautions))
    keys = quoted.answers.by_question() if quoted.answers is not None else ()
    annex = beside_answers(teller.annex, keys, words.get("settles", {}), {one.number: one.what for one in teller.blanks})
    annex = (*annex, *([teller.room_part()] if behind else []))
    paper = Paper(key, number, words["title"], words["for_whom"], (first, *parts[1:], *annex), words.get("brief", False))
    return with_signed(with_headings(paper), {one.what: one.number for one in teller.blanks})


def _told_here(teller, one, every):
    """A heading as a `Part`, where this site has it, else None. Of a stair whose doors suit no pressure what hangs on its air keeps its
    heading too, with what the record has without any air, and its blanks: somebody fills those in whatever becomes of the doors."""
    quoted = teller.quoted
    if quoted.has(one):
        return teller.part(one)
    alone = {other["title"] for other in every if other.get("refused") == "alone"}
    if not isinstance(quoted, RefusedQuoted) or one["title"] in alone or not Quoted.has(quoted, one):
        return None
    known = {
        name: [place for place in (*one.get(name, ()), *one.get(f"annexed{also}", ())) if place.startswith(WITHOUT_AIR)]
        for name, also in (("tables", ""), ("figures", "_figures"))
    }
    return teller.part(
        {
            "title": one["title"],
            "lines": [NOT_COMPUTED_HERE],
            "blanks": one.get("blanks", []),
            "if_any": known["tables"],
            "figures": known["figures"],
        }
    )


def analysis(quoted):
    """The `Paper` of the rational analysis."""
    return told_paper(quoted, "analysis", 6, ANALYSIS)


def owner(quoted):
    """The `Paper` of one sheet for the owner. What the record fails is not set there: a layman is told that, and no value; of what is CHECK
    he is told who signs for it first, and not the reason, which stands in the settings schedule. While anything fails, the head of the
    values says that none of them is set. Whom to call is a blank each, with a number."""
    paper, fails = told_paper(quoted, "owner", 8, "owner"), quoted.design.record().fails
    return replace(paper, parts=tuple(replace(part, tables=tuple(_for_owner(one, fails) for one in part.tables)) for part in paper.parts))


def _for_owner(table, fails):
    rows = [tuple(NOT_SET if word_of("wrong") in cell else _REASON.sub(SIGNED_FIRST, cell) for cell in row) for row in table.rows]
    if table.key == CALLED:
        rows = [(f"{CALL_MARK}{number}. {row[0]}", *row[1:]) for number, row in enumerate(rows, 1)]
    planned = table.key == "set" and fails
    columns = (table.columns[0], PLANNED, *table.columns[2:]) if planned else table.columns
    return replace(table, columns=columns, rows=tuple(rows))


def storeys_table(quoted):
    """`Table` of all storeys, the highest first: doors by kind, transmitters, inlets, relief damper; the last column is blank."""
    site = quoted.site
    relieved, moves = {relief.level for relief in site.stair.reliefs}, "enters" if site.fan.effect == "supply" else "leaves"
    supplied = {supply.level: moves for supply in site.supplies}
    if site.riser is not None:
        supplied |= {one.level: f"{moves}, outlet {with_unit(one.outlet_area_m2, 'area')}" for one in site.supplies}
        supplied[site.riser.fan_level] = "; ".join(filter(None, ["fan into the riser", supplied.get(site.riser.fan_level)]))

    def row(storey):
        doors = listed(f"{f'{count} x ' if count > 1 else ''}{name}" for name, count in storey.stair_doors.items())
        taps = listed(tap.name for tap in site.transmitters if tap.level == storey.level)
        lobby = (storey.lobby_door or "yes") if storey.lobby else ""
        damper = "here" if storey.level in relieved else ""
        door = doors or "none"
        air = supplied.get(storey.level, "")
        cells = (storey.drawing_name or "", door, lobby, storey.final_exit_door or "", taps, air, damper)
        return (str(storey.level), *(cell or NOTHING for cell in cells), "")

    note = "Names of doors are those of the site file; each kind stands under doors. Low sides of transmitters: under transmitters."
    jets = reading_at_supply(site)
    states = tuple("attention" if storey.level in jets else "" for storey in reversed(site.storeys)) if jets else ()
    note += f" {word_of('attention')}: {JET}" if jets else ""
    return Table("storeys", "Storeys of this stair, from the top", STOREYS, tuple(map(row, reversed(site.storeys))), states, note)


def notes(quoted):
    """The `Paper` of the drawing notes."""
    paper = told_paper(quoted, "notes", 9, "drawing_notes")
    first, *others = paper.parts
    return replace(paper, parts=(replace(first, tables=(storeys_table(quoted), *first.tables)), *others))
