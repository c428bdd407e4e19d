"""A site file as answers: every key can be reached, what is opened comes back whole, what is still a demo building's is marked, nothing
typed is lost, and what cannot be is told by the question."""

import random
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.model.air.tower import Tower
from helpers.model.files import texts
from helpers.model.site.entries import SitePart, groups, option_said, sections, shown
from helpers.model.site.errors import section_in
from helpers.model.site.field_types import file_key
from helpers.model.site.file import demo_sites, read_site, read_site_text
from helpers.model.site.form import SiteForm, open_site, write_new_site
from helpers.model.site.schema import Site
from helpers.model.site.tolerances import boxes, filled_in
from helpers.plots.stair_section import stair_section
from helpers.studies.cases import conditions_of, usual_cases

DEMOS = demo_sites()
LARKFIELD = DEMOS["Larkfield House"]


def put(form, *answers):
    for *address, text in answers:
        form.put(*address, text)
    return form


def told(form):
    return [sentence for _, sentence in form.mistakes()]


def keys_of(model, path=()):
    """Every key of the schema, by section."""
    for name, field in model.model_fields.items():
        within = section_in(field.annotation)
        if within:
            yield from keys_of(within, (*path, file_key(name)))
        else:
            yield ".".join(path) or "site", file_key(name)


def test_every_key_of_the_schema_can_be_reached_and_is_named_once():
    asked = [(entry.section, entry.key) for _, seen, more in groups() for entry in (*seen, *more)]
    assert len(asked) == len(set(asked))
    levels = {("storeys", "level"): ("storeys", "levels")}
    assert {levels.get(key, key) for key in keys_of(Site)} - {("site", "kind")} == set(asked)


def test_a_key_that_the_words_do_not_have_is_there_by_its_own_name(monkeypatch):
    from helpers.model.site import entries

    told = {name: dict(part) if isinstance(part, dict) else part for name, part in texts("site_file").items()}
    del told["fan"]["motor_power"]
    monkeypatch.setattr(entries, "texts", lambda name: told)
    made = {section.name: section for section in entries._sections(Site, "site", "one", True)}
    assert made["fan"].entries["motor_power"].label == "Motor power"


def test_every_key_has_words_and_no_label_is_wider_than_its_place():
    every = [entry for section in sections().values() for entry in section.entries.values()]
    told = texts("site_file")
    assert [f"{one.section}.{one.key}" for one in every if one.key not in told.get(one.section, {})] == []
    assert [one.label for one in every if len(one.label) > 24] == []
    known = {f"{one.section}.{one.key}" for one in every}
    assert [key for group in told["groups"] for key in group["asked"] if key not in known] == []
    assert [key for key in told["left_open"] if key not in known] == []


@pytest.mark.parametrize("name", DEMOS)
def test_a_file_that_is_opened_and_written_is_the_same_site_with_all_its_notes(name):
    form = open_site(DEMOS[name])
    text = form.text()
    assert read_site_text(text) == read_site(DEMOS[name])
    before, after = ({line[line.index("#") :].strip("# ") for line in one.splitlines() if "#" in line}
                     for one in (DEMOS[name].read_text(encoding="utf-8"), text))  # fmt: skip
    assert before - {re.sub("^demo(; |$)", "", note) for note in after} == set()
    assert all(form.is_demo(*one) for one in form.stated())
    again = SiteForm(text)
    assert again.text() == text
    assert all(again.is_demo(*one) for one in again.stated())


@pytest.mark.parametrize("name", DEMOS)
def test_all_answers_typed_anew_are_the_same_site(name):
    form, made = open_site(DEMOS[name]), open_site(DEMOS[name])
    for section, item, key in form.stated():
        del made.table(section, item)[key]
        made.put(section, item, key, form.answer(section, item, key))
    assert read_site_text(made.text()) == read_site(DEMOS[name])
    assert not any(made.is_demo(*one) for one in made.stated())


def test_a_fresh_form_is_the_demo_building_but_for_what_a_loop_has_of_its_own():
    form = SiteForm()
    made = read_site_text(form.text())
    demo = read_site(LARKFIELD)
    assert (made.storeys, made.fan.flows_m3_s, made.control.gain) == (demo.storeys, demo.fan.flows_m3_s, demo.control.gain)
    assert (made.fan.brake, made.fan.ramp_down_s, made.standby, made.design, made.sprinklers) == (None,) * 5
    known = boxes(made)
    assert not any(known[key].stated for key in known if key.startswith(("transmitters", "control", "fan", "design", "standby", "doors")))
    assert any("Inertia of wheel and motor: not stated" in sentence for sentence in filled_in(made))
    assert not made.invented
    assert re.fullmatch(r"(\d+) of \d+ figures of this file are still a demo building's, marked as demo in it: check them\.", made.note)
    assert all(form.is_demo(*one) for one in form.stated())


def test_a_figure_is_the_demos_until_it_is_edited_or_said_to_be_so_and_a_written_file_says_which(tmp_path):
    form = SiteForm()
    put(form, ("storeys", 0, "height", "2.9 m"))
    assert form.is_demo("storeys", 0, "height")  # the same as it was: nobody has edited it
    put(form, ("storeys", 0, "height", "12 ft"), ("site", None, "note", "Hotel."))
    form.accept("fan", None, "ramp")
    path, _ = write_new_site(form, tmp_path / "mine.toml")
    again = open_site(path)
    for one in form.stated():
        assert again.is_demo(*one) == form.is_demo(*one)
    assert again.answer("site", None, "note") == "Hotel."
    assert not again.is_demo("fan", None, "ramp")
    line = next(line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("ramp = "))
    assert re.search(r"# taken over from the demo, \d{4}-\d\d-\d\d\b", line)
    edited = open_site(path)
    edited.put("fan", None, "ramp", "7 s")
    assert "taken over" not in edited.table("fan").notes["ramp"]
    assert read_site(path).note.startswith("Hotel. ")
    assert again.text() == form.text()


def test_a_file_of_the_older_page_says_which_figures_are_the_demos():
    older = LARKFIELD.read_text(encoding="utf-8").replace("2.9 m", "3.1 m")
    older = older.replace(
        'note = "Flats', 'note = "Written by the guided page; figures that were not asked for are those of a demo site. Flats'
    )
    form = SiteForm(older)
    assert form.is_demo("fan", None, "ramp")
    assert not form.is_demo("storeys", 0, "height")
    own = SiteForm(LARKFIELD.read_text(encoding="utf-8"))
    assert not any(own.is_demo(*one) for one in own.stated())


def test_own_notes_stay_where_they_stood():
    text = LARKFIELD.read_text(encoding="utf-8")
    own = (
        text.replace('height = "4.2 m"', '# seen on site\nheight = "4.2 m"  # drawing 5').replace(
            'flows = ["0 m3/s", ', 'flows = [\n  "0 m3/s",  # shut\n  ', 1
        )
        + "# the end\n"
    )
    out = SiteForm(own).text()
    assert '# seen on site\nheight = "4.2 m"                      # drawing 5\n' in out
    assert "# the curve at the reference speed shut" in out or "# shut" in out
    assert out.endswith("# the end\n")
    assert SiteForm(out).text() == out


def test_a_key_that_gets_its_first_figure_keeps_what_was_said_of_it():
    form = open_site(LARKFIELD)
    put(form, ("transmitters", 0, "damping", "0.3 s"))
    assert 'damping = "0.3 s"                     # set at the transmitter; left out here, so that' in form.text()
    put(form, ("transmitters", 0, "damping", ""))
    assert "damping_s" not in form.text()
    assert read_site_text(form.text()) == read_site(LARKFIELD)


def hotel():
    """24 storeys and two basements, in inches, by the answers that somebody gives."""
    form = put(
        SiteForm(), ("site", None, "name", "Harbour Hotel"), ("site", None, "sprinklers", "yes"), ("storeys", 0, "levels", "-2..23"),
        ("storeys", 0, "height", "10 ft"), ("storeys", 0, "floor_area", "9800 ft2"), ("storeys", 0, "lift_doors", "3"),
        ("storeys", 0, "lift_door", "lift landing"), ("storeys", 0, "lift_shaft_wall", "900 ft2"), ("storeys", 0, "stair_outside_wall", ""),
        ("storeys", 1, "levels", "0"), ("storeys", 1, "stair_outside_wall", ""), ("storeys", 1, "height", "18 ft"),
    )  # fmt: skip
    for number, answers in enumerate(({"levels": "-2..-1", "facade": "0 m2", "stair_door": "plant", "lift_doors": "0"},
                                      {"levels": "1..23", "lobby": "yes", "lobby_door": "flat landing"}), 2):  # fmt: skip
        form.add("storeys")
        put(form, *(("storeys", number, key, text) for key, text in answers.items()))
    form.add("doors")
    form.rename("doors", "door 3", "plant")
    put(form, ("doors", "plant", "width", "3 ft"), ("doors", "plant", "open_area", ""), ("doors", "plant", "opens", "against pressure"))
    form.add("doors")
    form.rename("doors", "door 4", "lift landing")
    for key in ("closer_force", "force_limit", "handle_to_edge", "minimum_dp", "opens", "open_area"):
        form.put("doors", "lift landing", key, "")
    put(form, ("doors", "lift landing", "leak_area", "0.65 ft2"))
    put(form, ("lift", None, "plan_area", "260 ft2"), ("lift", None, "friction_area", "190 ft2"), ("lift", None, "vent_area", "3 ft2"),
        ("stair.relief", None, "level", "12"))  # fmt: skip
    for level in ("12", "2"):
        form.add("supplies")
        form.put("supplies", len(form.tables("supplies")) - 1, "level", level)
    put(form, ("supplies", 0, "level", "22"), ("fan", None, "flows", "0, 8000, 16000, 24000, 32000 cfm"),
        ("fan", None, "pressures", "4, 3.8, 3.3, 2.5, 1.4 in. w.c."), ("fan", None, "motor_power", "25 hp"))  # fmt: skip
    form.add("transmitters")
    put(form, ("transmitters", 2, "level", "12"), ("transmitters", 2, "reference", "lobby"), ("transmitters", 1, "level", "22"),
        ("transmitters", 1, "reference", "lobby"), ("transmitters", 0, "level", "3"), ("transmitters", 0, "reference", "lobby"),
        ("control", None, "set_point", "0.15 in. w.c."), ("design", None, "open_doors", "6, 7"), ("design", None, "open_exits", "0"),
        ("standby", None, "source", "generator"))  # fmt: skip
    for number in range(3):
        put(form, ("transmitters", number, "range_high", "0.5 in. w.c."), ("transmitters", number, "damping", "0.2 s"))
    return form


def test_a_hotel_with_basements_lobbies_lifts_two_kinds_of_stair_doors_and_three_inlets_is_a_site_that_is_solved():
    form = hotel()
    assert told(form) == []
    site = read_site_text(form.text())
    levels = {storey.level: storey for storey in site.storeys}
    assert sorted(levels) == list(range(-2, 24))
    assert [levels[number].stair_door for number in (-2, 5)] == ["plant", "flat landing"]
    assert [levels[number].lobby for number in (-2, 0, 1, 23)] == [False, False, True, True]
    assert [(one.level, round(one.share, 6)) for one in site.supplies] == [(22, 0.333333), (12, 0.333333), (2, 0.333333)]
    assert [tap.reference for tap in site.transmitters] == ["lobby"] * 3
    assert site.fan.flows_m3_s[-1] == pytest.approx(32000 * 0.0004719474432)
    assert site.transmitters[0].range_high_pa == pytest.approx(124.54445)
    assert site.design.open_doors == (6, 7)
    tower = Tower(site)
    air = tower.hold(conditions_of(site, usual_cases(site)[:1])).air
    assert air.converged.all()
    assert np.isfinite(air.door_dp_pa).all()
    said = " ".join(filled_in(site))
    assert "damping: not stated" not in said
    assert "Standby power: not stated" not in said
    assert read_site_text(SiteForm(form.text()).text()) == site


@pytest.mark.parametrize("standard", sections()["site"].entries["standard"].options)
def test_any_standard_can_be_asked_for(standard):
    form = put(SiteForm(), ("site", None, "standard", standard), ("site", None, "airflow_class", "B"))
    assert read_site_text(form.text()).standard == standard


@pytest.mark.parametrize(
    ("address", "text", "sentence"),
    [
        (("storeys", 0, "height"), "3", r"Storeys 0\.\.13, Floor to floor: must be a length .*; got '3', which has no unit"),
        (("storeys", 0, "height"), "2,9 m", "write a decimal point and no comma"),
        (("storeys", 0, "floor_area"), "9,800 ft2", r"Floor area: .*a comma is not read: write 9800, or 9\.800 with a decimal point"),
        (("storeys", 0, "facade"), "9,800 ft2", r"Outer wall: .*a comma is not read: write 9800"),
        (("storeys", 0, "levels"), "many", r'Storeys, first..last: must be text such as "0\.\.13" or "5"; got .many'),
        (("storeys", 0, "levels"), "", "Storeys, first..last: is missing"),
        (("storeys", 0, "stair_door"), "glass", "must be a door described .*'flat landing', 'street'.*got 'glass'"),
        (("storeys", 0, "lobby"), "perhaps", "Lobby: must be yes or no; got 'perhaps'"),
        (("storeys", 0, "lobby"), "yes", r"Storeys 0\.\.13, Lobby door, kind: is missing; a storey with a lobby needs"),
        (("storeys", 0, "lift_doors"), "two", "Lift doors: must be a whole number; got 'two'"),
        (("weather", "winter", "outdoor"), "-9 Pa", "Weather winter, Outdoors: must be a temperature"),
        (("site", None, "name"), " ", "Name of the building: is missing"),
        (("fan", None, "flows"), "0, 1,500 cfm", "Fan curve, flows: .*a comma is not read"),
        (("fan", None, "flows"), "0, 2 m3/s", "Fan and drive, Fan curve, pressures: |Fan and drive.*as many"),
        (("fan", None, "motor_poles"), "four", "Poles of the motor: must be a whole number"),
        (("design", None, "open_doors"), "77", "What the design takes as open, Stair doors, on storeys: "),
        (("design", None, "open_doors"), "6, x", "What the design takes as open, Stair doors, on storeys.*'x'"),
        (("lift", None, "plan_area"), "20 m2", "Lift shaft, where there is one, Friction as an open area: is missing"),
        (("transmitters", 1, "level"), "30", "Transmitter PDT-2, Storey: must be a storey of this site"),
        (("transmitters", 0, "reference"), "lobby", "Transmitter PDT-1, Low side: .*lobby"),
        (("transmitters", 0, "damping"), "little", "Damping at the dial: must be a time"),
        (("supplies", 0, "share"), "0.4", "sum"),
        (("control", None, "rule"), "loudest", "Fan follows: must be one of 'average', 'lowest'"),
        (("control", None, "set_point"), "300 Pa", "The loop, Set point: must lie in the range"),
        (("leakage", None, "floor"), "loud", "Slabs: "),
    ],
)
def test_what_cannot_be_stays_as_it_was_typed_with_a_sentence_that_names_the_question(address, text, sentence):
    form = put(SiteForm(), (*address, text))
    assert re.search(sentence, "\n".join(told(form)))
    kept = {"0, 2 m3/s": "0 m3/s, 2 m3/s"}.get(text, text.strip())  # the unit of the last is that of all
    assert form.answer(*address) == kept
    assert SiteForm(form.text()).answer(*address) == kept
    assert any(at and at[0] == address[0] for at, _ in form.mistakes())


def test_every_answer_that_cannot_be_is_told_at_once():
    form = put(SiteForm(), ("storeys", 0, "floor_area", "9,800 ft2"), ("weather", "winter", "outdoor", "cold"))
    assert [at for at, _ in form.mistakes()] == [("storeys", 0, "floor_area"), ("weather", "winter", "outdoor")]


def test_several_are_added_taken_away_and_named():
    form = SiteForm()
    form.rename("doors", "flat landing", "flat")
    assert read_site_text(form.text()).storeys[3].stair_door == "flat"
    form.rename("doors", "flat", "street")
    assert re.search("Door flat: the name must be given, and no other one's; got 'street'", "\n".join(told(form)))
    form.rename("doors", "flat", "flat")
    assert told(form) == []
    form.add("supplies")
    assert [form.answer("supplies", item, "share") for item in (0, 1)] == ["0.5", "0.5"]
    assert "Inlet 2, Storey: is missing; it must be a whole number" in told(form)
    form.remove("supplies", 1)
    assert (form.answer("supplies", 0, "share"), told(form)) == ("1", [])
    form.put("supplies", 0, "share", "0.7")
    form.add("supplies")
    assert form.answer("supplies", 0, "share") == "0.7"  # shares that somebody has set stay
    form.remove("storeys", 1)
    assert form.above(0, "height") == ""
    form.add("storeys")
    form.put("storeys", 1, "levels", "3..5")
    assert form.above(1, "height") == "2.9 m"


def test_what_is_added_is_marked_as_copied_until_it_is_looked_at_in_the_file_too():
    form = put(SiteForm(), ("transmitters", 1, "reference", "outdoors"))
    form.add("transmitters")
    assert form.is_copied("transmitters", 2, "reference")
    assert form.is_demo("transmitters", 2, "range_high")
    assert not form.is_copied("transmitters", 2, "name")
    again = SiteForm(form.text())
    assert again.is_copied("transmitters", 2, "reference")
    again.put("transmitters", 2, "reference", "floor")
    assert not again.is_copied("transmitters", 2, "reference")
    form.accept("transmitters", 2, "reference")
    assert not form.is_copied("transmitters", 2, "reference")


def test_a_share_that_was_typed_is_never_changed_and_that_the_shares_do_not_sum_is_told():
    form = SiteForm()
    for level in ("1", "2", "3"):
        form.add("supplies")
        form.put("supplies", len(form.tables("supplies")) - 1, "level", level)
    put(form, *(("supplies", item, "share", share) for item in range(4) for share in ("0.3", "0.25")))
    form.add("supplies")
    form.put("supplies", 4, "level", "4")
    assert [form.answer("supplies", item, "share") for item in range(5)] == ["0.25"] * 5
    assert form.is_copied("supplies", 4, "share")
    assert any("must have shares that sum to 1; they sum to 1.25" in sentence for sentence in told(form))
    form.remove("supplies", 4)
    assert told(form) == []


def test_an_answer_that_does_not_count_because_another_is_stated_says_so():
    form = SiteForm()
    assert list(form.overruled()) == []  # all are the demo's
    form.put("temperatures", None, "stair", "17 °C")
    ((section, sentence),) = form.overruled()
    assert section == "temperatures"
    assert sentence.startswith("Temperatures indoors, Stair, 17 °C: does not count where Stair air is stated: Weather winter 10 °C (demo)")
    for weather in form.tables("weather"):
        form.put("weather", weather, "stair", "")
    assert list(form.overruled()) == []


def test_a_door_or_an_exit_that_is_missing_is_told_at_the_range_that_asks_for_it():
    form = put(SiteForm(), ("storeys", 0, "levels", "-2..23"))
    form.add("storeys")
    put(form, ("storeys", 2, "levels", "-2..-1"), ("storeys", 2, "lobby", "yes"))
    ((address, sentence),) = form.mistakes()
    assert address == ("storeys", 2, "lobby_door")
    assert sentence.startswith("Storeys -2..-1, Lobby door, kind: is missing")


@pytest.mark.parametrize(
    ("address", "text", "sentence"),
    [
        (("doors", "street", "closer_force"), "", "must state Closer and hinges, Handle to edge and Maximum handle force, all or none"),
        (("storeys", 0, "lift_doors"), "3", "Lift doors: must be 0 until Lift shaft, below the storeys, is filled in; got 3"),
        (("storeys", 0, "levels"), "-5..1000000", "must rise, from -20 at the lowest to 300 at the highest; got '-5..1000000'"),
        (("site", None, "airflow_klass"), "D", "Airflow class (European); empty its entry under More, and the file is written without it"),
    ],
)  # fmt: skip
def test_a_sentence_speaks_in_the_labels_of_the_page_and_says_what_to_do(address, text, sentence):
    assert sentence in "\n".join(told(put(SiteForm(), (*address, text))))


def test_a_file_that_cannot_be_opened_is_named_with_what_to_do(tmp_path):
    path = tmp_path / "older.toml"
    path.write_text("a = 1\nb = [1 2\n")
    with pytest.raises(ValueError, match=r"older\.toml, line 2: is no valid TOML.*: mend it in a text editor, and open it again"):
        open_site(path)


def test_no_word_of_a_file_stands_in_a_list_or_in_what_is_said_of_a_question():
    every = [entry for section in sections().values() for entry in section.entries.values()]
    assert [option_said(one, option) for one in every for option in one.options if "_" in option_said(one, option)] == []
    assert [one.meant for one in every if re.search(r"[a-z]_[a-z]", one.meant.replace("en12101_6_2005", ""))] == []
    assert [one.label for one in every if one.meant.casefold() == one.label.casefold()] == []


def test_a_file_is_never_written_over_unless_that_is_asked_for_and_then_the_old_one_is_kept(tmp_path):
    path, _ = write_new_site(SiteForm(), tmp_path / "mine.toml")
    before = path.read_bytes()
    other = put(SiteForm(), ("site", None, "name", "Other"))
    with pytest.raises(ValueError, match="is there already and is left as it is"):
        write_new_site(other, path)
    assert path.read_bytes() == before
    for number in range(2):
        _, kept = write_new_site(other, path, over=True)
        assert kept.read_bytes() == (before if number == 0 else path.read_bytes())
    assert read_site(path).name == "Other"
    assert len(list(tmp_path.iterdir())) == 3


def test_a_demo_file_is_never_written_over():
    with pytest.raises(ValueError, match="must not be that of a demo site"):
        write_new_site(SiteForm(), LARKFIELD, over=True)


@pytest.mark.parametrize(("path", "sentence"), [("mine.txt", "must end in .toml"), ("no/mine.toml", "can be written")])
def test_a_path_that_cannot_be_gets_a_sentence(tmp_path, path, sentence):
    with pytest.raises(ValueError, match=sentence):
        write_new_site(SiteForm(), tmp_path / path)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("name = ", "is no valid TOML"),
        ("storeys = 5", r"\[\[storeys\]\]: must be tables in double brackets"),
        ("[fan]\nramp = {a = 1}", r"\[fan\] ramp: must be a figure, a text or a list of them"),
        ("[[fan]]\nramp = 1", r"\[fan\]: must be a table"),
        ("doors = {a = 1}", "must be a table of named tables"),
        ("[colour]\na = 1", "colour: must be a figure"),
    ],
)
def test_what_is_no_stair_sites_file_is_not_opened(text, sentence):
    with pytest.raises(ValueError, match=sentence):
        SiteForm(text)


def test_a_broken_file_is_opened_to_be_mended_and_a_key_that_nobody_knows_stays_and_is_told():
    form = SiteForm(LARKFIELD.read_text(encoding="utf-8").replace('ramp = "6 s"', 'ramp = "six"\ncolour = "red"'))
    assert any(sentence.startswith("Fan and drive, Ramp to full speed: must be a time") for sentence in told(form))
    assert any("colour: is not known here" in sentence for sentence in told(form))
    put(form, ("fan", None, "ramp", "6 s"), ("fan", None, "colour", ""))
    assert read_site_text(form.text()) == read_site(LARKFIELD)


ENTRIES = [(entry.section, entry.key) for _, asked, more in groups() for entry in (*asked, *more)]


@given(st.sampled_from(ENTRIES), st.text(max_size=40))
@settings(max_examples=40, derandomize=True, deadline=None)
def test_whatever_is_typed_gives_a_site_or_a_sentence_and_is_there_again(entry, text):
    form = SiteForm()
    section, key = entry
    if not form.tables(section):
        form.add(section)
    item = next(iter(form.tables(section)))
    form.put(section, item, key, text)
    if not form.mistakes():
        read_site_text(form.text())
    typed = form.answer(section, item, key)
    assert shown(sections()[section].entries[key].read(typed)) == typed


def test_sections_are_read_off_the_schema():
    assert all(isinstance(section, SitePart) for section in sections().values())
    assert {name for name, section in sections().items() if not section.needed} == {
        "stair.relief", "lift", "control.low_demand", "standby", "design", "release", "stair.more_reliefs", "second_fan",
        "riser", "second_shaft", "second_shaft.fan",
    }  # fmt: skip


TYPED = (
    "", "3", "x", "-5", "yes", "none", "12 ft", "0..5", "a\x00b", '"q" # demo; x', "\u202e", "9" * 400, "1, 2, 3 m3/s", "[[storeys]]", "'",
    "\ud800", "a]b", "x.y", "#n",
)  # fmt: skip


@pytest.mark.parametrize("seed", range(24))
def test_whatever_is_done_and_typed_is_drawn_written_and_opened_again(seed):
    draw, form = random.Random(seed), SiteForm()
    for _ in range(12):
        section, step = draw.choice(list(sections().values())), draw.random()
        items = list(form.tables(section.name))
        if section.kind != "one" and step < 0.2:
            form.add(section.name)
        elif section.kind != "one" and step < 0.35 and items:
            form.remove(section.name, draw.choice(items))
        elif section.kind == "named" and step < 0.5 and items:
            form.rename(section.name, draw.choice(items), draw.choice(TYPED))
        elif items:
            form.put(section.name, draw.choice(items), draw.choice(list(section.entries)), draw.choice(TYPED))
    form.mistakes()
    svg, words = stair_section(form)
    assert svg.startswith("<svg")
    assert words
    again = SiteForm(form.text())
    assert again.text() == form.text()
    assert {one: (again.answer(*one), again.is_demo(*one)) for one in form.stated()} == {
        one: (form.answer(*one), form.is_demo(*one)) for one in form.stated()
    }
