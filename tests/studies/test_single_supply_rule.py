"""Whose rule on one supply point is quoted: the site's own standard first, NFPA 92's as another standard's where it does not decide."""

import pytest

from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.supply.height import TOO_TALL, too_tall
from helpers.units.said import written_out


def found(site):
    (one,) = too_tall(site, pressure_window(site), 38.4, None)
    return written_out(one)


@pytest.mark.parametrize(
    ("standard", "says"), [("en12101_6_2005", "EN 12101-6:2005: from 11 m on"), ("en12101_13_2022", "EN 12101-13:2022: its rule")]
)
def test_the_sites_own_standard_is_quoted_before_another_ones(larkfield, standard, says):
    one = found(larkfield.with_changes(standard=standard, airflow_class="D"))
    assert one.what == TOO_TALL
    assert one.figure.index(says) < one.figure.index("of another standard: NFPA 92's threshold 30.5 m")
    assert one.source.startswith(says)
    assert "not at hand" in one.figure or "from memory, not verified" in one.figure


def test_where_nfpa_92_decides_its_threshold_stands_alone(larkfield):
    one = found(larkfield)
    assert one.figure.startswith("38.4 m, NFPA 92's threshold 30.5 m")
    assert "another standard" not in one.figure
