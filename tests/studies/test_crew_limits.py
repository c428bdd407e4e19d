"""Nothing past a limit is a PASS on a test day: each round, weather, speed, plate, damper and clock by its own step's limit."""

from html import unescape

import pytest

from helpers.pages.printed import acceptance_page
from helpers.record.design import Design
from helpers.studies.commissioning.crew import given_back
from helpers.studies.commissioning.crew.blanks import FALLS, devices_of, leaves_of, place_said
from helpers.studies.commissioning.crew.book import write_book
from helpers.studies.commissioning.crew.day import read_day
from helpers.studies.commissioning.crew.report import day_report, unused_said
from helpers.studies.commissioning.crew.rounds import AUTOMATIC, SHUT
from helpers.studies.commissioning.fields import DoorMeasured
from helpers.studies.commissioning.hand_back import (
    BEFORE,
    CLOSING,
    COUNTED,
    DECIDED,
    FIRE_SERVICE,
    INJECTION_CAUTION,
    LAST,
    LEFT,
    NORMAL,
    NOT_LEFT,
    READY,
    RUN,
    SWITCHED_OFF,
    UNLESS,
    order_said,
)
from helpers.studies.commissioning.judgement import judged
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.commissioning.steps.frame import ENTERED, PAIRS, STOP
from helpers.studies.commissioning.steps.plant import FORCE, MOVES, OPENS, OVERRIDE, RESEATS
from helpers.studies.commissioning.workbook import ACCEPTANCE_CAUTION
from helpers.studies.duty.permissible_speed import borne_hz
from helpers.units.said import written_out
from tests.studies.test_crew import as_expected, laid_down, larkfield, proved  # noqa: F401

IN_DATE = ("maker", "1", "2027-01-01")


@pytest.fixture
def doors_proved(monkeypatch):
    """As if every door were proved: Larkfield's own fail by its design, and what else proves a stair is looked at by itself."""
    monkeypatch.setattr(given_back, "_not_proved", lambda lines: ())


def readied(steps):
    """What stands in the sheets before anything is measured: everybody told, plates as designed, gauges in date."""
    filled = {key: text for key, text in proved().items() if key[1] in BEFORE}
    for name in given_back.GAUGES:
        filled |= {("gauges", name, column): text for column, text in zip(("instrument", "serial", "until"), IN_DATE, strict=True)}
    for key, _, _ in devices_of(steps.rounds):
        filled |= {("devices", key, "tag"): "T-1", ("devices", key, "plate"): "plate", ("devices", key, "seen"): SEEN[0]}
    return filled


@pytest.fixture
def report(larkfield, tmp_path):  # noqa: F811
    """The report of the expected day with some entries changed, everybody told, papers in order, every step ticked and signed."""

    def made(**changes):
        filled = as_expected(larkfield) | readied(larkfield)
        for step in larkfield.steps:
            filled |= {("steps", step.number, "done"): SEEN[0], ("steps", step.number, "initials"): "AB"}
            filled["steps", step.number, "time"] = "16:40"
            filled |= {("steps", step.number, "note"): f"{larkfield.rounds.ceiling.hz:.1f} Hz"} if ENTERED in step.judged else {}
        filled |= changes.get("filled", {})
        write_book(larkfield, tmp_path / "filled.xlsx", filled=filled)
        found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"], wires=changes.get("wires", ()))
        assert not found.filled.mistakes
        return day_report(found)

    return made


def line(report, part, start):
    return next(one for one in report.lines if one.part == part and start in one.device)


SHUT_DOORS = {
    "too little beside open doors": ("open: 6", ("stair door", 9), 10.0, "at least 25 Pa asked for"),
    "too much beside open doors": ("open: 6 and 7", ("stair door", 9), 75.0, "at most 60.8 Pa allowed"),
    "a door of the next round": ("open: 6", ("stair door", 7), 120.0, "at most 60.8 Pa allowed"),
    "an exit that stands ajar": ("open: 6 and 7", ("final exit", 0), 60.0, "more than its closer surely shuts against (35.4 Pa)"),
    "an exit past its maximum at a steady speed": (
        "steady speed 3",
        ("final exit", 0),
        36.5,
        "its maximum is 35.4 Pa: opened, it stands ajar",
    ),
    "too much at a steady speed": ("steady speed 3", ("stair door", 4), 75.0, "at most 60.8 Pa allowed"),
    "the blade lifts": ("steady speed 3", ("stair over outdoors", 13), 58.0, "above 50.0 Pa its blade may have moved"),
}


@pytest.mark.parametrize("what", SHUT_DOORS)
def test_doors_that_stay_shut_are_judged_in_every_round(report, larkfield, what):  # noqa: F811
    label, place, value, words = SHUT_DOORS[what]
    place = (place[0], larkfield.rounds.site.stair.relief.level) if "over" in place[0] else place
    found = report(filled={("pressures", place, label): value})
    one = line(found, "Rounds", f"{place_said(larkfield.rounds, *place)}, in")
    assert one.state == "wrong"
    assert f"{value:.1f} Pa ({label})" in written_out(one.measured)
    assert words in written_out(one.words)
    assert found.verdict[0] == "wrong"
    own = [step for step in larkfield.steps if label in step.judged]
    assert own
    assert {line(found, "Steps", step.label).state for step in own} == {"wrong"}


def test_a_day_that_reads_as_expected_has_no_steady_round_past_a_limit(report):
    rounds = [one for one in report().lines if one.part == "Rounds"]
    assert rounds
    assert not [one.device for one in rounds if "steady speed" in one.words]


@pytest.mark.parametrize(("speed", "words"), [(60.0, "is no speed of this drive"), (30.0, "no higher than")])
def test_a_steady_speed_above_the_one_printed_is_no_pass(report, speed, words):
    found = report(filled={("fan", "speed", "steady speed 2"): speed})
    fan = line(found, "Rounds", "fan, in the rounds")
    assert (fan.state, line(found, "Steps", "steady speed 2").state) == ("wrong", "wrong")
    assert words in fan.words


@pytest.mark.parametrize("speed", [40.0, 24.5])
def test_a_speed_above_the_days_ceiling_is_named_first(report, larkfield, speed):  # noqa: F811
    """Larkfield's ceiling is 24.2 Hz; what is still to read stands behind it, and the column of the limit names it."""
    fan = line(report(filled={("fan", "speed", "steady speed 3"): speed, ("fan", "flow", "steady speed 1"): None}), "Rounds", "fan, in")
    assert written_out(fan.words).startswith(
        f"steady speed 3: {speed} Hz is above the day's ceiling of {larkfield.rounds.ceiling.hz:.1f} Hz"
    )
    assert "still to read: flow" in fan.words
    assert f"the day's ceiling of {larkfield.rounds.ceiling.hz:.1f} Hz" in written_out(fan.limit)
    assert fan.state == "wrong"


@pytest.mark.parametrize("place", [0, -1], ids=["doors shut", "doors open"])
def test_in_automatic_too_a_speed_above_the_days_ceiling_is_a_fail(report, larkfield, place):  # noqa: F811
    label = [one for one in larkfield.rounds.rounds if one.mode == AUTOMATIC][place].label
    fan = line(report(filled={("fan", "speed", label): 50.0, ("fan", "flow", label): 1.5}), "Rounds", "fan, in")
    assert fan.state == "wrong"
    assert f"{label}: 50.0 Hz is above the day's ceiling" in written_out(fan.words)


def test_a_speed_a_little_lower_than_the_sheet_names_is_said_and_is_no_check(report, larkfield):  # noqa: F811
    """The sheet's speeds are upper ends and no orders."""
    last = larkfield.rounds.round("steady speed 3")
    fan = line(report(filled={("fan", "speed", last.label): last.speed_hz - 1.0}), "Rounds", "fan, in")
    assert fan.state == "good"
    assert "on the sheet is an upper end" in fan.words


def test_a_closer_too_heavy_without_any_fan_is_the_first_thing_said_of_its_leaf(report, larkfield):  # noqa: F811
    leaf = next(key for key, row, _ in leaves_of(larkfield.rounds) if (row.use, row.level) == ("stair door", 4))
    last = larkfield.rounds.rounds[-1].label
    filled = {("doors", leaf, "off open to the full width"): 67.0, ("doors", leaf, "on open to the full width"): None}
    found = report(filled=filled | {("pressures", ("stair door", 4), last): None})  # no other cause on this leaf
    door = line(found, "Doors", "stair door 4")
    assert door.state == "wrong"
    assert written_out(door.words).startswith("fan off 67.0 N to open to the full width, limit 66.7 N")
    assert written_out(door.wrong_said).startswith("stair door 4: fan off 67.0 N")
    assert door.excess is not None


@pytest.mark.parametrize(("text", "words"), [
    ("owner's engineer, 16:30: left in AUTOMATIC, guard at the panel", "the decision says AUTOMATIC, this line says no"),
    ("owner's engineer, 16:30: left OFF, guard at the stair", ""), ("owner's engineer: not left in AUTOMATIC", ""),
])  # fmt: skip
def test_a_fan_that_is_not_left_as_the_decision_says_is_fail(report, text, words):
    found = report(filled={("told", DECIDED, "given"): text, ("told", LEFT, "given"): "no, NOT RUN, AB"})
    left = next(one for one in found.lines if one.device == LEFT)
    assert left.state == ("wrong" if words else "attention")
    assert words in left.words


@pytest.mark.parametrize(("line_of", "text", "state"), [
    ("building told", "yes, 07:00, AB", "attention"), ("building told", "yes, 16:45, AB", "good"), (BEFORE[0], "09:50, AB", "attention"),
    (BEFORE[0], "08:50, AB", "good"), ("building told", "yes, 00:30, AB", "good"),
])  # fmt: skip
def test_a_time_that_does_not_fit_the_steps_is_no_pass(report, larkfield, line_of, text, state):  # noqa: F811
    """The fan is off from 09:00, the last test ends at 15:30; half an hour after midnight is the next day."""
    tests = [step for step in larkfield.steps if step.part not in ("everybody told", "give back")]
    times = {("steps", step.number, "time"): "15:30" if step is tests[-1] else "09:00" for step in tests}
    found = report(filled=proved() | times | {("told", line_of, "given"): text})
    one = next(one for one in found.lines if (one.part, one.device) == ("Told and given back", line_of))
    assert one.state == state


@pytest.mark.parametrize(("name", "value"), [("outdoor_c", 20.0), ("wind_speed_m_s", 9.5), ("wind_speed_m_s", 4.5), ("floor_c", 19.0)])
def test_another_weather_than_the_sheets_is_no_pass(report, name, value):
    found = report(filled={("day", name, "found"): value})
    weather = line(found, "Weather", "weather found")
    assert (weather.state, line(found, "Steps", "Weather of the day").state) == ("wrong", "wrong")
    assert "sheets were made for" in weather.words


def test_the_weather_that_the_sheets_were_made_for_is_a_pass(report):
    found = report(filled={("day", "outdoor_c", "found"): 15.9})
    assert line(found, "Weather", "weather found").state == "good"
    assert line(found, "Steps", "Weather of the day").state == "good"


def test_an_override_above_what_the_doors_bear_is_no_pass(report):
    for speed, state in ((50.0, "wrong"), (25.0, "wrong"), (20.0, "attention"), (17.0, "attention"), (14.0, "good")):
        found = report(filled={("clock", OVERRIDE, "read"): speed, ("clock", FORCE, "read"): 100.0})
        states = [line(found, *where).state for where in (("Clock and plant", OVERRIDE), ("Steps", "Fire service's panel at ON, in smoke"))]
        assert states == [state, state]
        if state == "wrong":
            assert "no shut door passes its limit up to 24.2 Hz" in line(found, "Clock and plant", OVERRIDE).words


def test_the_speed_that_the_doors_bear_is_that_of_the_record(larkfield):  # noqa: F811
    """And so is the one above which a final exit may stand ajar: what sheet and fault bench say is what the record says."""
    full, ceiling = Design(larkfield.rounds.site).duty.full, larkfield.rounds.ceiling
    assert borne_hz(larkfield.rounds.site) == pytest.approx(full.safe_hz)
    assert ceiling.hz == pytest.approx(min(full.safe_hz, full.stuck_hz))
    assert ceiling.closes_hz == pytest.approx(min(full.closes_hz, full.stuck_closing_hz))
    assert ceiling.lowest_hz == ceiling.closes_hz
    for words in (ceiling.said, ceiling.short, larkfield.ceiling_said()):  # never a speed without door, weather and damper
        for told in ("stair door 13", "final exit 0", "winter", "summer", "relief damper stuck shut"):
            assert told in words


def test_a_final_exit_past_what_its_closer_surely_shuts_against_is_no_pass_though_it_shut_once(report, larkfield):  # noqa: F811
    row = larkfield.rounds.sheet.row("final exit 0")
    assert row.shuts_to_pa == pytest.approx(35.43, abs=0.01)
    for pressure, state in ((47.3, "attention"), (20.0, "good")):
        measured = DoorMeasured(shut_pa=pressure, shuts="yes", minutes=1.0)
        told = [one for one in judged(larkfield.rounds.sheet, row, measured, None) if "closer" in one[1]]
        assert [one for one, _ in told] == [state] * (state != "good")
    door = line(report(filled={("pressures", ("final exit", 0), SHUT): 47.3}), "Doors", "final exit 0")
    assert "its closer surely shuts it up to 35.4 Pa" in written_out(door.limit)
    assert "one trial is no proof" in door.words


@pytest.mark.parametrize(("again", "crossed"), [(60.0, True), (52.0, False)])
def test_a_relief_damper_that_a_hand_lifts_has_no_pressure_and_one_that_shuts_above_where_it_opens_was_read_wrongly(report, again, crossed):
    """No speed up to Larkfield's ceiling lifts its blade: 55 Pa on the sheet were read at nothing that the fan does."""
    found = report(filled={("clock", OPENS, "read"): 55.0, ("clock", RESEATS, "read"): again, ("clock", MOVES, "read"): "yes"})
    lines = [line(found, "Clock and plant", field) for field in (OPENS, RESEATS)]
    assert [one.state for one in lines] == ["open", "open"]
    assert all("what a hand lifts proves no pressure" in one.words for one in lines)
    assert [("it cannot shut again above" in one.words) for one in lines] == [crossed, crossed]
    assert line(found, "Clock and plant", MOVES).state == "good"
    assert line(found, "Steps", "Relief damper opens").state == "open"


@pytest.mark.parametrize(("seconds", "state"), [(0.0, "good"), (300.0, "wrong"), (2.0, "wrong")])
def test_a_handle_past_its_limit_after_the_doors_have_shut_fails_as_in_the_record(report, seconds, state):
    found = report(filled={("clock", ("stair door", 6, FALLS), "read"): seconds})
    assert line(found, "Clock and plant", f"stair door 6 {FALLS}").state == state


@pytest.mark.parametrize(("column", "text", "state"), [
    ("plate", "A-1, opens at 90 Pa", "attention"), ("measured", "opens at 0.22 in. w.c.", "good"), ("measured", "42 Pa", "attention"),
    ("plate", "A-1, 24 V", "good"),
])  # fmt: skip
def test_a_plate_with_another_figure_than_the_design_is_no_pass(report, column, text, state):
    filled = {("devices", "relief damper", name): value for name, value in (("tag", "RD-1"), ("plate", "A-1"), ("seen", SEEN[0]))}
    found = report(filled=filled | {("devices", "relief damper", column): text})
    assert line(found, "Devices", "relief damper").state == state


@pytest.mark.parametrize(("count", "words"), [(1, "1 cell or line could not be used"), (3, "3 cells or lines could not be used")])
def test_what_could_not_be_used_is_counted_in_words(count, words):
    assert unused_said(count) == words


@pytest.mark.parametrize(("shuts", "state"), [("yes", "attention"), ("no", "wrong"), (None, "wrong")])
def test_an_exit_in_a_round_is_as_grave_as_at_its_leaf(report, shuts, state):
    filled = {("doors", ("final exit 0", 1), "shuts"): shuts, ("doors", ("final exit 0", 1), "same_pa"): 49.0}
    found = report(filled=filled)
    one = line(found, "Rounds", "final exit 0, in")
    assert "is more than its closer surely shuts against" in one.words
    assert one.state == state


PROOF = {
    "a no": (CLOSING[0], "no", "wrong", "not done: 'no'", "Wires, tubes, covers, settings"),
    "a NO with words": ("drive in automatic", "NO, keys lost", "wrong", "not done", "Restored to AUTOMATIC"),
    "not yet": (BEFORE[1], "not yet", "wrong", "not done", "Building, alarm service"),
    "initials alone": (CLOSING[0], "AB", "attention", "neither yes nor no: 'AB'", "Wires, tubes, covers, settings"),
    "a yes that takes itself back": ("drive in automatic", "yes, but in manual", "attention", "ask what is meant", "Restored to AUTOMATIC"),
    "told, and no time": (BEFORE[0], "AB", "attention", "no time", "Building, alarm service"),
    "nothing": ("building told", None, "open", "still to fill in", "Restored to AUTOMATIC"),
    "a yes": (CLOSING[0], "Yes, 16:40, AB", "good", "", "Wires, tubes, covers, settings"),
    "the fire service not told": (
        f"{FIRE_SERVICE} told before start: time, name",
        "nobody",
        "wrong",
        "not done",
        "Building, alarm service",
    ),
    "nor told again": (f"{FIRE_SERVICE} told", None, "open", "still to fill in", "Restored to AUTOMATIC"),
    "fewer out than in": (COUNTED, "4 in, 3 out", "wrong", "4 went in, 3 came out", "Wires, tubes, covers, settings"),
    "no count": (COUNTED, "yes, 16:40, AB", "attention", "must be two counts", "Wires, tubes, covers, settings"),
    "a decision": (DECIDED, "owner: guard at the panel till June", "attention", "read what was decided", "Restored to AUTOMATIC"),
    "not left": (LEFT, "no, 16:50, AB", "wrong", "not done", "Restored to AUTOMATIC"),
    "done": (CLOSING[0], "done", "good", "", "Wires, tubes, covers, settings"),
}


@pytest.mark.parametrize("what", PROOF)
@pytest.mark.usefixtures("doors_proved")
def test_only_a_yes_proves_that_the_stair_was_given_back(report, larkfield, what):  # noqa: F811
    asked, text, state, words, step = PROOF[what]
    found = report(filled=proved() | {("told", asked, "given"): text}, wires=laid_down(larkfield))
    proof = next(one for one in found.lines if (one.part, one.device) == ("Told and given back", asked))
    assert (proof.state, line(found, "Steps", step).state) == (state, state)
    assert words in proof.words
    assert proof.measured == (text or "")


@pytest.mark.usefixtures("doors_proved")
def test_a_note_that_says_manual_is_no_pass_where_the_fan_must_be_in_automatic(report, larkfield):  # noqa: F811
    told, laid = proved(), laid_down(larkfield)
    last = larkfield.steps[-1]
    assert line(report(filled=told, wires=laid), "Steps", last.label).state == "good"
    step = line(report(filled=told | {("steps", last.number, "note"): "drive left in MANUAL"}, wires=laid), "Steps", last.label)
    assert (step.state, "go and look" in step.words, "drive left in MANUAL" in step.words) == ("attention", True, True)


def test_a_full_width_that_was_measured_is_judged_by_its_own_limit_and_not_by_the_force_in_motion(report, larkfield):  # noqa: F811
    leaf = next(key for key, row, _ in leaves_of(larkfield.rounds) if (row.use, row.level) == ("stair door", 5))
    words = {key: text for key, _, text in leaves_of(larkfield.rounds)}
    off = {("doors", leaf, "off set in motion"): 70.0, ("doors", leaf, "off open to the full width"): 55.0}
    measured = line(report(filled=off | {("doors", leaf, "on open to the full width"): 55.0}), "Doors", words[leaf])
    assert "without any fan" not in measured.words
    assert " N at the" not in measured.words
    past = line(report(filled=off | {("doors", leaf, "on open to the full width"): 80.0}), "Doors", words[leaf])
    assert (past.state, "80.0 N at the" in written_out(past.words)) == ("wrong", True)
    inferred = line(report(filled=off | {("doors", leaf, "on open to the full width"): None}), "Doors", words[leaf])
    assert (inferred.state, "without any fan" in inferred.words) == ("wrong", True)


@pytest.mark.parametrize(("pa", "minute", "state"), [(95.0, 9.0, "wrong"), (4.0, 9.0, "wrong"), (None, None, "open"), (40.0, 9.0, "good")])
def test_the_step_of_the_second_readings_says_what_the_doors_say(report, larkfield, pa, minute, state):  # noqa: F811
    twice = [row for row in larkfield.rounds.sheet.rows if row.later_minute is not None]
    again = {
        ("again", row.key, name): value for row in twice for name, value in (("later_pa", 30.0), ("later_minutes", row.later_minute + 1))
    }
    top = [row for row in twice if row.use == "stair door"][-1]
    again |= {("again", top.key, "later_pa"): pa, ("again", top.key, "later_minutes"): minute}
    found = report(filled=again)
    assert line(found, "Steps", "End doors again").state == state
    if pa is not None:
        assert f"again {pa:.1f} Pa (minute 9)" in written_out(line(found, "Doors", f"{top.use} {top.storey}").measured)


def test_a_step_of_which_nothing_is_laid_down_is_never_a_pass(report, larkfield):  # noqa: F811
    steps = [step for step in larkfield.steps if step.part == "wires off"]
    assert len(steps) == 2
    found = report()
    for step in steps:
        told = line(found, "Steps", step.label)
        assert (told.state, "nothing to be held against" in told.words) == ("open", True)


def test_what_is_not_laid_down_has_one_order_on_sheets_record_and_procedure(larkfield):  # noqa: F811
    design = Design(larkfield.rounds.site)
    rows = [row for row in design.injection.rows if "not laid down" in row.must]
    assert rows  # Larkfield's fallback is not laid down
    sheet = unescape(acceptance_page(larkfield.rounds.sheet))
    table = design.section("injection")
    told = {
        "injection, each row": [row.must for row in rows],
        "record, its table": [cell for line in table.tables[0].rows for cell in line if "the loop then does" in str(cell)],
        "procedure": [
            f"{step.expected} {step.caution}" for step in larkfield.steps if step.part in ("wires off", "power", "override", "give back")
        ],
    }
    for where, texts in told.items():
        assert texts, where
        assert [text for text in texts if NOT_LEFT not in text] == [], where
    last = larkfield.steps[-1]
    for text in (INJECTION_CAUTION, last.do, sheet):  # one rule for what is not proved, and one order of giving back
        assert UNLESS in text
        assert order_said(RUN) in text
    assert LAST in ACCEPTANCE_CAUTION
    every = " ".join((INJECTION_CAUTION, sheet, *(f"{step.do} {step.expected} {step.fails} {step.caution}" for step in larkfield.steps)))
    assert "under watch alone" not in every
    assert "do not leave in AUTO" not in every


def test_the_stair_is_given_back_in_order_and_left_in_automatic_last_of_all():
    order = [SWITCHED_OFF, "wires and tubes back", COUNTED, READY, "relief damper and doors clear", NORMAL, "drive in automatic",
             "smoke-control signal given and answered", DECIDED, "building told", "alarm service told", f"{FIRE_SERVICE} told", LEFT,
             "time", "name"]  # fmt: skip
    assert list(CLOSING) == order
    said = order_said()
    in_order = ("switch OFF", "settings back", "then isolated", "locked out", "left until discharged", "proved dead",
                "wires and tubes", "test plug out", "lock off", "isolator seen closed",
                "swing of a leaf", "panel in AUTO", "somebody at the manual switch", "set point", "fire service told",
                "left in AUTOMATIC")  # fmt: skip
    places = [said.index(words) for words in in_order]
    assert places == sorted(places)


@pytest.mark.parametrize(("decision", "state"), [("nothing", "wrong"), (None, "wrong"), ("owner AB, 16:30: guard till June", "attention")])
def test_a_fan_of_which_not_all_is_laid_down_is_not_left_in_automatic_but_by_a_written_decision(report, larkfield, decision, state):  # noqa: F811
    found = report(filled=proved() | {("told", DECIDED, "given"): decision})
    left = next(one for one in found.lines if one.device == LEFT)
    assert left.state == state
    if state == "wrong":
        unlaid = [step.number for step in larkfield.steps if step.part == "wires off"]
        assert f"not proved: steps {unlaid[0]} to {unlaid[1]}, stair door " in left.words
        assert left.words.endswith("; nobody's decision is written")
        assert line(found, "Steps", "Restored to AUTOMATIC").state == "wrong"


def test_a_step_that_may_pass_a_doors_limit_says_beside_it_when_to_stop(larkfield):  # noqa: F811
    steps = [step for step in larkfield.steps if step.part in ("automatic, doors shut", "steady speeds", "doors one by one", "override")]
    assert [step.label for step in steps if STOP not in step.caution and "End doors again" not in step.title] == []


IMPOSSIBLE = {
    "another steady speed": ("speed", 10.5, "is it of another round"),
    "more flow than the fan has": ("flow", 9.9, "is unlikely: there its curve ends at"),
}


@pytest.mark.parametrize("what", IMPOSSIBLE)
def test_a_reading_of_the_fan_that_can_hardly_be_is_no_pass(report, what):
    name, value, words = IMPOSSIBLE[what]
    assert line(report(), "Rounds", "fan, in the rounds").state == "good"
    found = report(filled={("fan", name, "steady speed 2"): value})
    fan = line(found, "Rounds", "fan, in the rounds")
    assert (fan.state, line(found, "Steps", "steady speed 2").state) == ("attention", "attention")
    assert words in fan.words


def test_a_motor_current_without_a_plate_is_no_pass_and_says_how_to_give_it(report):
    fan = line(report(filled={("fan", "current", "steady speed 2"): "60 A"}), "Rounds", "fan, in the rounds")
    assert "motor current 60 A (steady speed 2)" in fan.measured
    assert "motor current: not judged, the site file has no place for a nameplate current" in fan.words
    assert "sheet Devices, line motor" in fan.words
    assert fan.state == "open"


CURRENTS = {
    "below": ("10.9/11.0/10.8 A", "maker, 5.5 kW, 11.2 A", "good", ""),
    "past, in one phase": ("10.9/11.3/10.8 A", "maker, 5.5 kW, 11.2 A", "wrong", "motor current 11.3 A, its nameplate says 11.2 A"),
    "on it": ("11.2 A", "11.2 A", "good", ""),
    "two connections": ("15 A", "19.4/11.2 A", "attention", "which of them is for the winding as it is connected"),
    "no unit": ("10.9", "11.2 A", "attention", "no figure with the unit A"),
    "a comma": ("10,9 A", "11.2 A", "attention", "no figure with the unit A"),
}


@pytest.mark.parametrize("what", CURRENTS)
def test_a_motor_current_is_held_against_the_nameplates(report, what):
    current, plate, state, words = CURRENTS[what]
    found = report(filled={("fan", "current", "steady speed 2"): current, ("devices", "motor", "plate"): plate})
    fan = line(found, "Rounds", "fan, in the rounds")
    assert fan.state == state
    assert words in fan.words
    assert line(found, "Steps", "steady speed 2").state == state


def test_a_time_that_no_clock_shows_is_refused_with_its_cell(larkfield, tmp_path):  # noqa: F811
    filled = {("steps", 1, "time"): "17:90", ("steps", 2, "time"): "17:50", ("told", BEFORE[0], "given"): "yes, 25:00, AB"}
    write_book(larkfield, tmp_path / "filled.xlsx", filled=filled)
    read = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"]).filled
    assert [one for one in read.mistakes if "17:90" in one and "sheet Steps, K" in one]
    assert [one for one in read.mistakes if "25:00" in one]
    assert read.value("steps", 2, "time") == "17:50"


def test_a_steady_speed_is_lowered_where_a_final_exit_is_past_its_maximum(larkfield):  # noqa: F811
    for step in larkfield.steps:
        if step.part == "steady speeds" and step.judged[0].startswith("steady"):
            assert "Lower where final exit 0 is above 35.4 Pa" in written_out(step.do)
            assert "final exit" in step.limit


def test_who_climbs_for_the_weather_is_a_pair_and_the_ceiling_is_in_the_drive_before_it(larkfield):  # noqa: F811
    numbers = {step.title: step for step in larkfield.steps}
    weather, ceiling = numbers["Weather of the day"], numbers["Ceiling of speed, in the drive"]
    assert ceiling.number < weather.number
    assert {*PAIRS} <= {*weather.who}
    assert weather.minutes >= 15.0 + len(larkfield.rounds.site.storeys)
