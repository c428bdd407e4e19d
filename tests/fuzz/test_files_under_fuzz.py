"""A spoilt site or strategy file is read, or refused in clear sentences, in time: a small sample of run.py's full run, always the same."""

import os
import re

import pytest
from judged import Tally
from run import files_under_fuzz, harmful_under_fuzz, judge_file
from spoilt_files import SITES, STRATEGIES

from helpers.model.files import endless
from helpers.model.plants.kinds import SITE_KINDS
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import read_site, read_site_text, write_site

SPOILT = 160


def test_a_spoilt_file_is_read_or_refused_in_clear_sentences(tmp_path):
    tallies = files_under_fuzz(tmp_path, SPOILT, seed=3, solve_each=8)
    assert {name: tally.faults for name, tally in tallies.items() if tally.faults} == {}
    read, refused = (sum(tally.counts[kind] for tally in tallies.values()) for kind in ("result", "refused"))
    assert read > SPOILT // 10
    assert refused > SPOILT // 10


def test_a_file_that_means_harm_is_refused_in_time(tmp_path):
    tallies = harmful_under_fuzz(tmp_path)
    assert {name: tally.faults for name, tally in tallies.items() if tally.faults} == {}
    assert all(tally.counts["refused"] == 1 for tally in tallies.values())


def test_a_file_of_a_hundred_megabytes_is_refused_unread(tmp_path):
    target, tally = tmp_path / "large.toml", Tally()
    target.write_bytes(b"# ")
    os.truncate(target, 100_000_000)
    assert judge_file(tally, target, b"") is None
    assert tally.faults == {}
    assert tally.longest_s < 0.2


def test_a_sound_file_is_not_taken_for_an_endless_one():
    for path in (*SITES, *STRATEGIES):
        assert endless(path.read_text(encoding="utf-8")) is None
    site = read_site(SITES[0])
    storeys = [site.storeys[1].model_copy(update={"level": level, "extra_leak_m2": 0.001 * level}) for level in range(1, 301)]
    tallest = site.with_changes(storeys=[site.storeys[0], *storeys])
    assert endless(write_site(tallest)) is None


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("a = 1\n" + ".".join("abcde") + " = 1", ("must have keys of 4 parts at the most, got a deeper one", 2)),
        ('note = "' + "a.b." * 400 + '"', None),
        ("# " + "and. so. on. " * 200, None),
        ("opening = [" + "0.55, " * 300 + "]", None),
        ("'a'.\"b\".c.d.e = 1", ("must have keys of 4 parts at the most, got a deeper one", 1)),
    ],
)
def test_only_keys_are_told_to_be_deep(text, sentence):
    assert endless(text) == sentence


@pytest.mark.parametrize("sign", ["\u2028", "\u2029", "\u0085", "\\u2028", "\\u202E", "\\U00002029", "\\u000a"])
def test_a_sign_that_ends_or_turns_a_line_unseen_is_refused_as_itself_and_as_toml_writes_it(sign):
    assert "no sign that is not seen" in endless(f'a = 1\nname = "A{sign}B"')[0]
    assert endless('name = "A\\u0041\\tB"') is None


@pytest.mark.parametrize(("name", "said"), [("   ", "must not be blank"), ("A\\n\\nB", "must stand on one line"), ("A\\n", "must stand")])
def test_a_name_is_one_line_that_is_not_blank(name, said):
    text, count = re.subn(r'^name = ".*"', lambda _: f'name = "{name}"', SITES[0].read_text(encoding="utf-8"), count=1, flags=re.MULTILINE)
    assert count == 1
    with pytest.raises(SiteFileError, match=f"name: {said}"):
        read_site_text(text, kinds=SITE_KINDS)


@pytest.mark.parametrize(
    ("stem", "key", "absurd"), [("mill_street_offices", "loss_flow", "1.8e+12 m3/s"), ("orchard_garage", "emission", "1e6 m3/s")]
)
def test_a_flow_that_nothing_carries_is_refused(stem, key, absurd):
    """The one that the fuzz found: a loss at so much air kept the search for a speed busy for seconds."""
    text = next(path for path in SITES if path.stem == stem).read_text(encoding="utf-8")
    spoilt, count = re.subn(rf'^{key} = ".*"', f'{key} = "{absurd}"', text, count=1, flags=re.MULTILINE)
    assert count == 1
    with pytest.raises(SiteFileError, match=key):
        read_site_text(spoilt, kinds=SITE_KINDS)
