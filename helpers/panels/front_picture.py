"""The picture on the project's first page: one building in winter, one set point, and what three rules do to its doors."""

from pathlib import Path

from helpers.model.site import demo_sites, read_site
from helpers.panels.drawn import picture_of
from helpers.panels.record_view import rules_compared
from helpers.studies.record import design_record
from helpers.studies.whole_files import write_whole

__all__ = ["FRONT_PICTURE", "write_front_picture"]

FRONT_PICTURE = Path(__file__).resolve().parents[2] / "notebooks" / "pictures" / "pressure_profile.png"
SITE, WINTER_DOORS_SHUT = "Larkfield House", 0


def write_front_picture(path=FRONT_PICTURE):
    """Draw the picture anew, after a change of model, site or looks. Returns its path."""
    record = design_record(read_site(demo_sites()[SITE]))
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_whole(path, picture_of(rules_compared(record, WINTER_DOORS_SHUT)).png())
