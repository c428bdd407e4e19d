"""The unit switch as a fresh notebook has it, for tests of what listens to it."""

import pytest

from helpers.widgets.controls import UNITS


@pytest.fixture
def units_alone(monkeypatch):
    """Pascals, and no panel or switch of another test listening."""
    monkeypatch.setattr(UNITS, "_listeners", [])
    monkeypatch.setattr(UNITS, "_switches", [])
    monkeypatch.setattr(UNITS, "_system", "Pa")
