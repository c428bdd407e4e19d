"""What a record tried beyond its design: a final exit that stands open, as people leave by it. Said at the head of every paper."""

from helpers.studies.cases import has_to_hold
from helpers.studies.report import listed

NOT_TRIED = "Not in the design: a final exit that stands open. It was not tried either."


def final_exit_open(design):
    """What the own rule leaves of the stair while a final exit stands open that the site's design does not count as open, in words, for
    any system of units; "" where the design counts one as open, or the stair has none.

    Limits: the cases of the record, with the stair doors that they open besides; the worst of them is told.
    """
    site = design.site
    if (site.design is not None and site.design.open_exits) or not any(storey.final_exit_door for storey in site.storeys):
        return ""
    tried = [case for case in design.own.cases if case.open_exits and not has_to_hold(site, case)]
    if not tried:
        return NOT_TRIED
    exits = listed(str(level) for level in dict.fromkeys(level for case in tried for level in case.open_exits))
    head = f"Not in the design: final exit {exits} open, though people leave by it."
    low = [(door.by_pa, case, door) for case in tried for door in design.own.out_in(case) if door.too == "low"]
    if not low:
        return f"{head} Tried all the same: every shut door has its minimum."
    _, case, door = max(low, key=lambda one: one[0])
    count = len(design.own.out_in(case))
    return f"{head} Then {door.text()} ({case.name}); {count} door{'s' * (count > 1)} out."
