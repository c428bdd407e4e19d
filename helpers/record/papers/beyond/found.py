"""What the findings of the analysis come to: the record's own and those of the paper, each once, with how many of each verdict; and what
one line of its summary says of several places of the record together. No figure is worked out here."""

from dataclasses import replace

from helpers.record.papers.beyond.marks import SILENT, edge_found, marked_finding, stuck_reading
from helpers.record.papers.beyond.stated import OUTSIDE, exit_undecided, outside_said
from helpers.record.sections.door_anywhere import RINGS, WERE
from helpers.studies.report import Finding, fine, listed
from helpers.studies.signals.unlike_ranges import accuracy_pa
from helpers.studies.status import headline, word_of

ANYWHERE, MAINS = ("failure", "door anywhere"), ("tuning", "mains_lost")  # sections and keys of tables of the record
STOREY, OF_DESIGN, ALARM = 0, 1, 6  # columns of the first
AFTER_LOSS = 2  # of the second, whose last row is the pressure
SIGNED = "How far past its limit a shut door may be"  # begins the blank by which somebody bears a door that is out untold
UNTOLD = f"(PAST ITS LIMIT and told by no alarm: {word_of('wrong')} until the authority has signed (({SIGNED})))"
UNSIGNED = f"{word_of('wrong')} in paper {{}} until the authority has signed for it, a door past its limit that no alarm tells"
BUT = " but what waits for the authority's word, told next"  # after "nothing fails"
NO_BLANK = "for it"  # in place of the blank's number where the paper has none
CHAIN = "A stair door opened on a storey that the design does not name ends with a final exit that only just closes, or stays ajar"
_NOT_LAID = "not laid down"


def untold(design):
    """Findings of a `Design`'s record that a shut door is past its limit while no alarm tells it, by a share of the limit that the record
    bears and no authority has."""
    return tuple(one for one in design.record().findings if one.severity == "attention" and one.what.startswith(SILENT))


def undecided_said(quoted, paper):
    """What nobody has decided or signed for although the record fails in nothing, as the head of every paper has it; "" for nothing.
    paper: file name of the analysis, which has it among its findings."""
    asked = exit_undecided(quoted.design, quoted.has_answer("final exit open"))
    found = untold(quoted.design)
    return " ".join(filter(None, [asked, *(f"{UNSIGNED.format(paper)}: see its findings, {one.figure}." for one in found)]))


def findings_shown(quoted):
    """`Finding`s of the analysis in its order: those of the record that fail, the paper's own, and the rest; a door that is out untold is
    of the first. The blank that bears it is `SIGNED`, between double round brackets."""
    design = quoted.design
    found = [replace(one, what=marked_finding(one, design)) for one in design.record().findings]
    for one in untold(design):
        at = next(place for place, other in enumerate(found) if other.what == one.what)
        found[at] = replace(one, severity="wrong", what=f"{one.what} {UNTOLD}")
    fails = [one for one in found if one.severity == "wrong"]
    return (*fails, *own_found(quoted), *(one for one in found if one.severity != "wrong"))


def own_found(quoted):
    """The `Finding`s that the paper adds to those of the record."""
    return (*stuck_reading(quoted), *edge_found(quoted.design), *chain_found(quoted))


def counted_said(quoted):
    """How many of each verdict stand among the findings, how many of them are the paper's own, and what is counted apart."""
    own, told = len(own_found(quoted)), headline(findings_shown(quoted))
    told += f"; {own} of them of this paper, the rest of the record" * bool(own)
    apart = f"; apart from them 1 {OUTSIDE}" if outside_said(quoted.design) else ""
    return f"Findings, each once: {told}{apart}."


def chain_found(quoted):
    """The `Finding` of what follows from a stair door open on a storey that the design does not name: an alarm with every reading right,
    the fallback, the door shut again, and a final exit with little to spare against its closer; () where the record has not all of it."""
    table, design = quoted.table(*ANYWHERE), quoted.design
    exit_ = design.duty.full.nearest_exit
    if table is None or exit_ is None or exit_.by_pressure == "good":
        return ()
    back = quoted.setting("failure", "return from the fallback").value.rstrip(".")
    rings = [row[STOREY] for row in table.rows if row[OF_DESIGN] != "yes" and row[ALARM].startswith(RINGS)]
    speed = quoted.marked("failure", "fallback speed").partition(" (")[0].partition(", ")[0]
    if not rings or _NOT_LAID in speed or not quoted.has({"only": ["alarm falls back", "a way of falling back"]}):
        return ()
    off = accuracy_pa(design.built.transmitters)
    less = "past it" if exit_.room_pa < 0 else "less to spare than that" if exit_.room_pa < off else "little to spare"
    figure = (
        f"stair door {listed(rings)} open: the alarm rings with every reading right, and falls back to {speed}; back from there: "
        f"{back}. The door shuts again, the fan stays there: {exit_.brief} at "
        f"{exit_.speed_hz:.1f} Hz, the highest speed; a reading may be off by ±{fine(off)}: {less}. An exit left ajar puts stair "
        "doors out, see the head"
    )
    remedy = f"a lower speed of fallback and ON, not tried here; bounds: {quoted.fixed_speed.brief}; a lobby, or a power-operated leaf"
    return (Finding(exit_.capped_state, CHAIN, figure, "each step stands elsewhere in the record", "", remedy),)


def anywhere_said(quoted):
    """What a door open on any storey would be were it required, as the record's table says, in a sentence; "" where all are required."""
    table = quoted.table(*ANYWHERE)
    if table is None or WERE not in table.note:
        return ""
    return f"{WERE}{table.note.partition(WERE)[2].partition('. ')[0]}."


def mains_said(quoted):
    """When the stair is at pressure after the mains were lost, as the record's table has it; "" where it has none."""
    table = quoted.table(*MAINS)
    if table is None:
        return ""
    took = table.rows[-1][AFTER_LOSS]
    return f"By the model the stair is at pressure {took} after the loss of the mains: to be held against what is answered, and clocked."


def summed_up(quoted):
    """What the summary says besides the counts, a line each: a door that is out untold, the chain, a door open on any storey, the mains."""
    told = [f"{word_of('wrong')}: {one.what}: {one.figure}. {UNTOLD[1:-1]}." for one in untold(quoted.design)]
    told += [f"{word_of(one.severity)}: {one.what}: {one.figure}." for one in chain_found(quoted)]
    anywhere = anywhere_said(quoted)
    return (*told, anywhere and f"A stair door open on a storey that the design does not name. {anywhere}", mains_said(quoted))


def with_signed(paper, blanks):
    """A `Paper` with the number of the blank that bears a door out untold where its words stand for it; blanks: {its words: number}."""
    number = next((f"blank {one}" for what, one in blanks.items() if what.startswith(SIGNED)), NO_BLANK)
    return paper.reworded(lambda text: text.replace(f"(({SIGNED}))", number))
