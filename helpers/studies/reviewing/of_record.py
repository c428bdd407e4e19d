"""What the design record of the same site says, whatever strategy is handed over: what a review tells to enter or to build is taken from
here and from the studies behind it, never worked out another way."""

from collections import OrderedDict

from helpers.model.site import write_site
from helpers.model.tower import Tower
from helpers.studies.record import Design
from helpers.studies.tuning import NoTuning
from helpers.studies.tuning_findings import helps_said

__all__ = ["OfRecord", "kept"]

MOST_KEPT = 16  # of the studies of the last strategies, some 10 MB each on a tower: a slider that moves the gain waits for none
_KEPT: OrderedDict = OrderedDict()


def kept(key, make):
    """What was made for a key before, or is made now by make(); the last ones are kept."""
    if key not in _KEPT:
        _KEPT[key] = make()
        while len(_KEPT) > MOST_KEPT:
            _KEPT.popitem(last=False)
    _KEPT.move_to_end(key)
    return _KEPT[key]


class OfRecord:
    """What the record of a stair's site says, each study made once and only when it is wanted."""

    def __init__(self, site):
        self.site, self.key = site, write_site(site)

    @property
    def tower(self):
        """The `Tower` of the site as its file has it, whose own loop has cooled the stair after an hour."""
        return kept((self.key, "tower"), lambda: Tower(self.site))

    @property
    def tuning(self):
        """`TuningStudy` of the record with what helps after a door; None where the record has none."""
        return kept((self.key, "record's tuning"), self._tuning)

    def _tuning(self):
        try:
            return Design.of(self.site).tuning
        except NoTuning:  # the record itself says why there is none
            return None

    def after_a_door_said(self, system):
        """What helps after a door, each tried by the record's tuning study, in words."""
        study = self.tuning
        return "not tried: the record of this site has no tuning" if study is None else helps_said(study, system)
