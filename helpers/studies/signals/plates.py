"""How a transmitter's range is told: in figures that its trade sells where the reader is, or as what it is."""

from helpers import units
from helpers.studies.report import fine, spanned
from helpers.units.said import in_each, unit_of

_ROUND_PA = {"Pa": 25.0, "in. w.c.": 0.05 * units.WATER_COLUMNS_PA[units.WATER_COLUMN]}  # steps of usual spans; common practice, no source
_SAME_PA = 1e-3  # what reading a file and converting leave of a figure
_ON_ROUND = 0.01  # a span sold in Pa and the same in in. w.c. differ by less


@in_each
def span_text(span_pa, *, system):
    """The span of a transmitter's range as its ends make it, the same on every page; one digit more where they are no usual ones.

    >>> from helpers.units.said import written_out
    >>> spans = span_text(124.54), span_text(500.0), span_text(62.27)
    >>> written_out(spans), written_out(spans, "in. w.c.")
    (('125 Pa', '500 Pa', '62.3 Pa'), ('0.50 in. w.c.', '2.00 in. w.c.', '0.25 in. w.c.'))
    """
    near = round(span_pa / _ROUND_PA[system]) * _ROUND_PA[system]
    return units.show(near, "pressure", system) if abs(near - span_pa) <= _ON_ROUND * abs(span_pa) else fine(span_pa)


def end_text(end_pa):
    """An end of a transmitter's range: as `plate_text` has it.

    >>> from helpers.units.said import written_out
    >>> written_out((end_text(500.0), end_text(100.0)), "in. w.c.")
    ('2.00 in. w.c.', '100 Pa (0.40 in. w.c.)')
    """
    return plate_text(end_pa, end_pa)


def plate_text(low_pa, high_pa):
    """A transmitter's range in figures that are sold where the reader is. One that is sold in the other unit alone is told as what it is,
    with what it comes to; one that nobody sells has a digit more.

    >>> from helpers.units.said import written_out
    >>> plates = plate_text(-25.0, 125.0), plate_text(-500.0, 500.0), plate_text(0.0, 100.0), plate_text(0.0, 62.27), plate_text(0.0, 70.0)
    >>> written_out(plates)
    ('-25 to 125 Pa', '±500 Pa', '0 to 100 Pa', '0.00 to 0.25 in. w.c. (0 to 62 Pa)', '0.0 to 70.0 Pa')
    >>> written_out(plates, "in. w.c.")[:3]
    ('-0.10 to 0.50 in. w.c.', '±2.00 in. w.c.', '0 to 100 Pa (0.00 to 0.40 in. w.c.)')
    """
    return _plate((low_pa, high_pa), spanned)


def plate_ends(low_pa, high_pa):
    """Both ends of a transmitter's range, each by itself, in the unit in which the range is sold.

    >>> from helpers.units.said import written_out
    >>> written_out(plate_ends(-25.0, 100.0), "in. w.c.")
    ('-25 Pa (-0.10 in. w.c.)', '100 Pa (0.40 in. w.c.)')
    >>> written_out(plate_ends(-24.90889, 99.63556), "in. w.c.")  # a file that states -0.10 to 0.40 in. w.c.
    ('-0.10 in. w.c.', '0.40 in. w.c.')
    """
    return tuple(_plate((low_pa, high_pa), lambda *ends, end=end: ends[end]) for end in (0, 1))


@in_each
def _plate(ends_pa, said, *, system):
    """What is said(low, high, label) of a range, in the unit in which it is sold where the reader is, or anywhere."""
    for sold_in in sorted(units.SYSTEMS, key=lambda one: one != system):
        figures = [units.as_sold(end, sold_in) for end in ends_pa]
        if None not in figures:
            sold, own = (
                said(*(units.show(end, "pressure", one) for end in ends), units.unit_label("pressure", one))
                for ends, one in (([units.from_display(one, "pressure", sold_in) for one in figures], sold_in), (ends_pa, system))
            )
            if sold == own or (sold_in != system and all(_is_shown(end, system) for end in ends_pa)):
                return own  # it stands so in the file, whoever sells it
            return sold if sold_in == system else f"{sold} ({own})"
    return said(*(fine(end) for end in ends_pa), unit_of("pressure"))


def _is_shown(end_pa, system):
    """Whether an end is the very figure that it is shown as in a system of units: read off a plate or typed there, not converted."""
    return abs(units.parse(units.show(end_pa, "pressure", system), "pressure") - end_pa) <= _SAME_PA
