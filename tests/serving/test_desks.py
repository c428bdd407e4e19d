"""A desk is its owner's, whatever the name; nobody else's, whatever is typed; and there are no more of them than were said."""

import json
from concurrent.futures import ThreadPoolExecutor

import pytest

from helpers.serving import desks as of_desks
from helpers.serving.__main__ import main
from helpers.serving.desks import Desks, Refused
from helpers.teaching.record import LearnerRecord

WORD = "my own word"
NAMES = ["Ada", "José Ñandú", "山田 花子", "Ελένη", "عائشة", "\U0001f6aa", "x" * 60]
NAMES += ["../../etc", "C:\\con", "'; DROP TABLE events; --", ".", "aux"]


@pytest.fixture(autouse=True)
def _cheap_words(monkeypatch):
    monkeypatch.setattr(of_desks, "COST", {"n": 2, "r": 1, "p": 1})


@pytest.fixture
def desks(tmp_path):
    return Desks(tmp_path / "desks", 40)


@pytest.mark.parametrize("name", NAMES)
def test_a_name_in_any_script_has_a_folder_and_a_record_of_its_own(desks, name):
    desk = desks.sit(name, WORD)
    assert desk.folder.parent == desks.folder
    assert desk.folder.name.isascii()
    assert desk.name == LearnerRecord(desk.folder).name == name
    assert desks.of(desk.folder.name).name == name
    assert desks.sit(f"  {name} ", WORD).folder == desk.folder


@pytest.mark.parametrize(("name", "word"), [("a" + "\u0301\u0323" * 5_000, WORD), ("Ada", "a" + "\u0301\u0323" * 5_000)])
def test_accents_without_end_are_refused_before_they_are_put_in_order(desks, monkeypatch, name, word):
    """Which takes a time that grows with the square of how many there are, and holds the interpreter meanwhile."""
    in_order = of_desks.unicodedata.normalize

    def short(form, text):
        assert len(text) <= of_desks.MOST_SIGNS
        return in_order(form, text)

    monkeypatch.setattr(of_desks.unicodedata, "normalize", short)
    with pytest.raises(Refused, match="must have"):
        desks.sit(name, word)


def test_names_that_are_told_apart_have_desks_apart(desks):
    folders = {desks.sit(name, WORD).folder for name in [*NAMES, "Jose Nandu", "A da", "山田 花", "\U0001f6aa\U0001f6aa"]}
    assert len(folders) == len(NAMES) + 4


def test_a_name_typed_another_way_is_the_same_desk(desks):
    composed, taken_apart = "Jos\u00e9", "JOSE\u0301"
    assert desks.sit(composed, WORD).folder == desks.sit(taken_apart, WORD).folder
    assert desks.sit("ada \u200b lovelace", WORD).folder == desks.sit("Ada Lovelace", WORD).folder  # a blank that is not seen


def test_another_word_does_not_open_a_desk(desks):
    desks.sit("Ada", WORD)
    with pytest.raises(Refused, match="This name has a desk, and its word is another one"):
        desks.sit("Ada", "not my word")
    assert WORD not in (desks.taken()[0] / "desk.json").read_text()


def test_the_forty_first_learner_is_told_so_and_the_forty_keep_their_desks(desks):
    for number in range(40):
        desks.sit(f"Learner {number}", WORD)
    with pytest.raises(Refused, match=r"All 40 desks of this class are taken\. Ask your instructor for one; nothing of yours is lost\."):
        desks.sit("The forty-first", WORD)
    assert len(desks.taken()) == 40
    assert desks.sit("Learner 7", WORD).name == "Learner 7"


def test_of_many_who_come_at_once_no_more_sit_than_there_are_desks(tmp_path):
    desks = Desks(tmp_path, 5)

    def sit(number):
        try:
            return desks.sit(f"Learner {number}", WORD).folder
        except Refused:
            return None

    with ThreadPoolExecutor(8) as threads:
        seated = [folder for folder in threads.map(sit, range(16)) if folder]
    assert len(set(seated)) == len(desks.taken()) == 5


@pytest.mark.parametrize(
    ("name", "word", "told"), [("", WORD, "Your name"), ("x" * 61, WORD, "Your name"), ("Ada", "abc", "Your own word")]
)
def test_what_cannot_be_a_name_or_a_word_is_refused_in_a_sentence(desks, name, word, told):
    with pytest.raises(Refused, match=told):
        desks.sit(name, word)
    assert desks.taken() == []


@pytest.mark.parametrize("key", ["..", ".", "", "/etc", "../desks", "nobody"])
def test_a_key_that_is_no_desk_opens_nothing(desks, key):
    desks.sit("Ada", WORD)
    assert desks.of(key) is None


def test_a_damaged_desk_is_told_and_its_record_is_whole(desks):
    folder = desks.sit("Ada", WORD).folder
    (folder / "desk.json").write_text('{"name": "Ada"')
    with pytest.raises(Refused, match=r"The file ada-\w+/desk\.json of this desk is damaged\. Tell your instructor"):
        desks.sit("Ada", WORD)
    assert LearnerRecord(folder).name == "Ada"


def test_a_place_that_cannot_be_written_gets_a_sentence(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(Refused, match="No desk can be kept on the server: Not a directory"):
        Desks(tmp_path / "file" / "desks", 40).sit("Ada", WORD)


def test_a_record_that_says_anothers_name_is_told_to_whoever_collects(tmp_path, capsys):
    desks = Desks(tmp_path / "class" / "desks", 40)
    for name in ("Ada", "Bob"):
        desks.sit(name, WORD)
    LearnerRecord(desks.sit("Ada", WORD).folder).name = "Bob"
    main(["collect", str(tmp_path / "class"), str(tmp_path / "into")])
    ada, bob = capsys.readouterr().out.splitlines()
    assert ada.startswith("ada-")
    assert ada.endswith("the desk was taken as Ada: ask whose record this is")
    assert bob.endswith(": Bob, 1 entries")


def test_all_records_of_a_class_are_collected_and_none_is_written_over(tmp_path, capsys):
    desks = Desks(tmp_path / "class" / "desks", 40)
    for name in ("Ada", "山田 花子"):
        LearnerRecord(desks.sit(name, WORD).folder).predicted("pressure_window", "top door", "60", "Pa")
    main(["collect", str(tmp_path / "class"), str(tmp_path / "into")])
    assert "山田 花子, 2 entries" in capsys.readouterr().out
    files = sorted((tmp_path / "into").glob("*.json"))
    assert {json.loads(file.read_text(encoding="utf-8"))["events"][0]["text"] for file in files} == {"Ada", "山田 花子"}
    main(["collect", str(tmp_path / "class"), str(tmp_path / "into")])
    assert capsys.readouterr().out.count("cannot be written") == 2
