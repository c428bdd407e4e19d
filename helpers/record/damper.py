"""What the record says of a stair's relief damper: one judge for board, summary, schedule and sections, so that no paper hands out a damper
that another one fails."""

from helpers.studies.duty.relief_damper import one_blade
from helpers.studies.readings import words
from helpers.studies.report import NETWORK, Finding, fine
from helpers.studies.status import word_of, worst_of

RESTING = ("fan", "relief damper")  # its line in the settings schedule


def one_damper(design):
    """That no way of falling back holds with the relief damper stuck, and what is missing; "" where one does, or where more comes first."""
    best = design.standing.stands and design.failing_judged and design.failing_judged.best
    if not (best and best.good and best.rests_on_one):
        return ""
    why = "nothing tried holds every door with the relief damper stuck, so no fallback is laid down; this is missing"
    fail = word_of("wrong")
    return f"{fail}, before all else: {why}: {words.proved(design.failing)}. Put it into the site file and write the record anew."


def sound_finding(study):
    """A relief damper that sticks, and every reading sound: the loop itself leaves a door out, and no way of falling back comes into it."""
    out = {what: room for what in study.best.dampers if (room := study.sound_rooms_pa[what]) < -study.tolerance_pa}
    if out:
        figure = "; ".join(f"with {what} a door is {fine(-room)} out" for what, room in out.items())
        severity = "wrong" if min(out.values()) < -study.accuracy_pa else "attention"
        why = f"{one_blade(*study.site.stair.reliefs)}: against that hole the loop gives the fan's most, and its lowest speed at least"
        what = "With the relief damper stuck a door is out, every reading sound"
        yield Finding(severity, what, figure, why, NETWORK, words.proved(study), possible=True)


def stuck_findings(design):
    """The same of a `Design`; none where failed readings have no answer, as their section says."""
    study = design.failing_judged
    return () if study is None or study.best is None else tuple(sound_finding(study))


def damper_findings(design):
    """Everything that is found against the damper of the site file: set too low, a door past its limit at full speed though it lifts,
    doors that rest on it, a door out with it stuck. Its fallback is `one_damper`."""
    full = list(design.duty.full.findings())
    jams = full[:1] if design.duty.full.jams else []
    return (*design.duty.damper_first, *jams, *(one for one in full if RESTING in one.settings), *stuck_findings(design))


def damper_state(design):
    """Key of the status of the damper that the site file states, on every paper."""
    return worst_of(["wrong" if one_damper(design) else "good", *(one.severity for one in damper_findings(design))])


def damper_said(design, severity):
    """What the findings of one severity, and for "wrong" the fallback, say against it: a tuple of words."""
    told = [f"{one.what}: {one.figure}" for one in damper_findings(design) if one.severity == severity]
    if severity == "wrong" and one_damper(design):
        told.append(words.stuck_said(design.failing))
    return tuple(told)
