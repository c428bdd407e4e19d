"""A lesson's panel, made once for a file of tests and put back as it opened before each of them: drawing is what takes the time."""

import pytest
from demo_designs import design_as_filed

from helpers.lessons.average_lowest_highest import no_set_point
from helpers.lessons.tuning_and_door_events import lesson as tuning
from helpers.widgets.controls import UNITS

# What a lesson says of its building's record it takes from the record that the other tests of its worker look at.
no_set_point.Design = tuning.Design = design_as_filed


@pytest.fixture(scope="module")
def one_panel(request):
    """The panel that the file's PANEL makes, with what its controls hold as it opens."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(UNITS, "_listeners", [])
        patch.setattr(UNITS, "_system", "Pa")
        panel = request.module.PANEL.__wrapped__()
        yield panel, panel.values


@pytest.fixture
def panel(one_panel):
    """As it opens, whatever the test before has moved; answered and drawn once, not at each control."""
    panel, opened = one_panel
    with pytest.MonkeyPatch.context() as still:
        still.setattr(panel, "refresh", lambda *moved: None)
        UNITS.system = "Pa"
        for name, value in opened.items():
            panel.controls[name].value = value
    panel.refresh()
    return panel
