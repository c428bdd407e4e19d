"""No label looks like a maker's: numbered settings, paths through a menu, addresses of a parameter."""

import re

import labels
import pytest

NUMBERED = re.compile(r"\b(?:(?i:par(?:am(?:eter)?)?)\.? ?\d{2,}|[A-Z]{1,2}[ -]?\d{1,2}[.\-]\d{2}\b|\d{1,2}-\d{2}\b(?! ?(?:Pa|mA|V|N|ft)))")
MENU = re.compile(r"\b\w+ (?:->|>|») \w+ (?:->|>|»)")
TRADE = re.compile(r"EN \d|NFPA|ISO|IEC|NE \d|ISA|MG \d|CH\d|UL \d|ASHRAE|AMCA|BS |IBC")  # numbers of open standards


def looks_like_a_makers(label):
    """Whether a label reads like an entry of a maker's list of settings."""
    return bool(NUMBERED.search(TRADE.sub("", label)) or MENU.search(label)) and not TRADE.search(label)


def test_no_label_reads_like_a_makers_list_of_settings():
    assert {label: place for label, place in labels.labels().items() if looks_like_a_makers(label)} == {}


@pytest.mark.parametrize("label", ["Parameter 1403", "P 20-12", "AI 3.07", "Menu > Quick > Fan", "20-12"])
def test_a_label_that_does_is_caught(label):
    assert looks_like_a_makers(label)


@pytest.mark.parametrize("label", ["0-10 V", "4-20 mA", "NFPA 92", "EN 12101-6", "Stop threshold", "storeys 1 and 12"])
def test_a_word_of_the_trade_is_let_through(label):
    assert not looks_like_a_makers(label)


def test_the_list_has_what_a_reader_sees_and_no_names_of_fields():
    found = labels.labels()
    assert len(found) > 2000
    assert "Set point" in found
    assert list(labels.texts_of('"""Top."""\ndef f():\n    """Inside."""\n    return {"set_point_pa": "Set point"}\n')) == [
        ("Set point", 4)
    ]
