"""A panel answers one wish at a time, the newest; says what is wrong in a sentence; and keeps the last good picture."""

from threading import Event, Thread

import pytest

from helpers.plots.headline import VerdictLine
from helpers.plots.markup import KINDS, Verdict, verdict_html
from helpers.plots.picture import Drawing, Picture
from helpers.studies.status import STATUSES
from helpers.units.said import unit_of
from helpers.widgets.controls import UNITS, Typed
from helpers.widgets.panel import Panel, Task
from helpers.widgets.sliders import Slider


class Bar(Drawing):
    """One bar as high as its figure."""

    height_px = 60

    def frame(self, data):
        return None

    def draw(self, picture, data):
        self.bar = picture.moving(picture.figure.add_axes((0, 0, 1, 1)).bar([0], [1.0])[0])

    def move(self, data):
        self.bar.set_height(data / 100)

    def tell(self, data):
        return f"A bar of {data:g} Pa."


@pytest.fixture(autouse=True)
def pascals(monkeypatch):
    """Units as a fresh notebook has them, without the panels of other tests."""
    monkeypatch.setattr(UNITS, "_listeners", [])
    monkeypatch.setattr(UNITS, "_system", "Pa")


def bar_panel(answer=None, prepare=None):
    controls = {"dp_pa": Slider("Pressure", "pressure", 0.0, 100.0, 1.0, 40.0), "storeys": Typed("Storeys", storeys)}
    answer = answer or (lambda dp_pa, storeys: (Verdict("good", "fine"), dp_pa))
    tasks = (Task("Halve the pressure. What then?", {"dp_pa": 20.0}), Task("Name a storey.", {"storeys": "7"}))
    return Panel(controls, Picture(Bar(), width_px=60), answer, prepare, groups={"The door": ("dp_pa",)}, read="A bar.", tasks=tasks)


def storeys(text):
    if text == "crash":
        raise KeyError("a slip of the programmer")
    if text and not text.isdigit():
        raise ValueError(f"Storeys: write numbers, got {text!r}.")
    return text


def test_several_controls_are_put_in_turn_and_answered_once():
    asked, prepared = [], []

    def answer(dp_pa, storeys):
        asked.append((dp_pa, storeys))
        return Verdict("good", "fine"), dp_pa

    panel = bar_panel(answer, prepared.append)
    assert panel.put(dp_pa=70.0, storeys="12") == Verdict("good", "fine")
    assert asked == [(40.0, ""), (70.0, "12")]
    assert prepared == ["dp_pa", "storeys"]
    with pytest.raises(ValueError, match="must be one of dp_pa, storeys; got 'pressure'"):
        panel.put(pressure=70.0)


def test_picture_and_verdict_follow_the_slider():
    panel = bar_panel(lambda dp_pa, storeys: (Verdict("good" if dp_pa < 60 else "wrong", f"{dp_pa:g}"), dp_pa))
    before = panel.picture.image.value
    panel.controls["dp_pa"].inner.value = 70.0
    assert panel.picture.image.value != before
    assert panel.verdict == Verdict("wrong", "70")


def test_a_bad_entry_gets_its_sentence_and_leaves_entry_and_picture_alone():
    panel = bar_panel()
    before = panel.picture.image.value
    panel.controls["storeys"].text = "sixth"
    assert panel.verdict.kind == "entry"
    assert "Storeys: write numbers, got 'sixth'." in panel.verdict.words
    assert "last entry that could be used" in panel.verdict.words
    assert panel.picture.image.value == before
    assert panel.controls["storeys"].text == "sixth"
    panel.controls["storeys"].text = "6"
    assert panel.verdict == Verdict("good", "fine")


def test_a_fault_of_the_panel_itself_is_told_on_the_page_and_not_hidden():
    panel = bar_panel()
    with pytest.raises(KeyError):
        panel.controls["storeys"].text = "crash"
    assert "please report it: KeyError" in panel.verdict.words


def test_moves_that_pile_up_while_one_is_answered_are_answered_once_with_the_newest_value():
    busy, go_on, answered = Event(), Event(), []

    def slow(dp_pa, storeys):
        answered.append(dp_pa)
        if dp_pa == 50.0:
            busy.set()
            go_on.wait(5)
        return Verdict("good", f"{dp_pa:g}"), dp_pa

    panel = bar_panel(slow)
    slider = panel.controls["dp_pa"]
    threads = [Thread(target=setattr, args=(slider.inner, "value", 50.0))]
    threads[0].start()
    busy.wait(5)
    waiting = []
    for value in (60.0, 70.0, 80.0):  # the reader drags on
        turn = panel._turn
        waiting.append(Thread(target=setattr, args=(slider.inner, "value", value)))
        waiting[-1].start()
        while panel._turn == turn:
            pass
    go_on.set()
    for thread in threads + waiting:
        thread.join()
    assert answered == [40.0, 50.0, 80.0]
    assert panel.verdict.words == "80"


def test_a_control_may_set_others_and_they_do_not_ask_again():
    answered = []

    def prepare(moved):
        if moved == "storeys":
            panel.controls["dp_pa"].value = 25.0

    panel = bar_panel(lambda dp_pa, storeys: (answered.append(dp_pa) or Verdict("good", "fine"), dp_pa), prepare)
    panel.controls["storeys"].text = "7"
    assert answered == [40.0, 25.0]


def test_what_prepares_may_refuse_in_a_sentence_too():
    def prepare(moved):
        raise ValueError("nowhere.toml is not there.")

    panel = bar_panel(prepare=prepare)
    panel.controls["storeys"].text = "7"
    assert panel.verdict.words.startswith("nowhere.toml is not there.")


def test_the_unit_switch_of_one_panel_turns_all_panels():
    asked = []
    one, other = (bar_panel(lambda dp_pa, storeys: (asked.append(1) or Verdict("good", unit_of("pressure")), dp_pa)) for _ in range(2))
    UNITS.system = "in. w.c."
    assert (one.verdict.words, other.verdict.words) == ("in. w.c.", "in. w.c.")
    assert len(asked) == 2  # the switch writes out again what was answered once
    assert other.controls["dp_pa"].inner.description == "Pressure [in. w.c.]"


def test_a_fault_in_one_panel_leaves_no_other_in_the_old_units():
    one, other = bar_panel(), bar_panel()
    with pytest.raises(KeyError):
        one.controls["storeys"].text = "crash"
    with pytest.raises(KeyError):
        UNITS.system = "in. w.c."
    assert other.controls["dp_pa"].inner.description == "Pressure [in. w.c.]"


def test_a_panel_shows_its_picture_and_words_without_a_kernel_in_one_output():
    panel = bar_panel(lambda dp_pa, storeys: (Verdict("good", "all of it", "the short of it", (("Door", "40 Pa", "60 Pa"),)), dp_pa))
    data = panel._repr_mimebundle_()
    assert set(data) == {"application/vnd.jupyter.widget-view+json", "text/html", "text/plain"}
    assert data["text/plain"] == "A bar of 40 Pa. PASS: all of it Set: Pressure 40 Pa; Storeys none"
    html = data["text/html"]
    told = ("the short of it", "40</b> / 60 Pa", 'alt="A bar of 40 Pa."', "Set: Pressure 40 Pa", "all of it", "A bar.", "Name a storey.")
    assert [html.find(part) for part in told] == sorted(html.find(part) for part in told)
    assert min(html.find(part) for part in told) >= 0
    assert "data:image/png;base64," in html


def test_a_task_is_set_from_where_the_panel_opened_and_put_back():
    panel = bar_panel()
    panel.put(dp_pa=80.0, storeys="3")
    panel.turn_to(1)
    panel.set_it_so()
    assert panel.values == {"dp_pa": 40.0, "storeys": "7"}
    panel.turn_to(2)  # there is none
    assert panel.task == 1
    panel.put_back()
    assert panel.values == {"dp_pa": 40.0, "storeys": ""}


def test_what_was_typed_over_a_slider_and_cannot_be_used_is_told_and_put_back():
    panel = bar_panel()
    field = panel.controls["dp_pa"].widget.children[1]
    field.value = "400"
    assert panel.verdict.kind == "entry"
    assert "Pressure must be from 0 to 100 Pa, got 400" in panel.verdict.words
    panel.put_back()
    assert (panel.verdict, field.value) == (Verdict("good", "fine"), "40")


def test_a_verdict_tells_itself_apart_by_word_mark_and_border_and_not_by_colour_alone():
    for looks in ("mark", "word", "border"):
        assert len({getattr(KINDS[key], looks) for key in STATUSES}) == len(STATUSES)
    assert len({kind.word for kind in KINDS.values()}) == len(KINDS)


def test_signs_in_a_verdict_are_shown_and_not_obeyed():
    html = verdict_html(Verdict("wrong", '<script>alert("5 > 3 & 2")</script>'))
    assert "<script>" not in html
    assert "&lt;script&gt;" in html


def test_the_verdict_line_reads_out_the_picture():
    line = VerdictLine()
    line.say(Verdict("good", "fine"), "A bar of <40> Pa.")
    assert 'aria-live="polite"' in line.widget.value
    assert "A bar of &lt;40&gt; Pa." in line.widget.value


def test_a_verdict_of_no_kind_is_refused():
    with pytest.raises(
        ValueError,
        match="one of good, attention, wrong, open, right, missed, done, note, entry, working, agrees, agrees by review, agrees in "
        "print; got 'bad'",
    ):
        Verdict("bad", "")
