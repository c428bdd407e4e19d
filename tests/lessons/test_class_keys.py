"""Class code, class mark and seat keys: the same on every machine, typed as people type, and no seat can sign for another."""

import re
from contextlib import suppress

import pytest

from helpers.teaching.seeds import MOST_SEATS, PROTECTION, Seat, class_mark, new_class_code, seat_of

CODE = "autumn class of the roof fans"
BODY = {"format": "x", "events": [{"text": "12.5", "seed": 7}]}


@pytest.fixture(scope="module")
def seat():
    return seat_of(CODE, 7)


def test_a_class_code_makes_the_keys_it_made_last_year(seat):
    """Written down once: a class that was printed must still be read by later editions of the workbook."""
    assert seat.key == "7-RKDX-TMTB-WJWK-3KH3-34RF-1G"
    assert seat.seed("pressure_window", "handle_force") == 682295926


@pytest.mark.parametrize(
    "typed", ["AUTUMN Class of the  roof fans ", "ａｕｔｕｍｎ class of the roof fans", "autumn class\tof the roof fans"]
)
def test_a_class_code_counts_the_same_however_it_is_typed(typed):
    assert class_mark(typed) == class_mark(CODE)


def test_every_seat_of_every_class_has_a_key_of_its_own():
    seats = [seat_of(code, number) for code in (CODE, f"{CODE}!") for number in range(1, 101)]
    assert len({seat.secret for seat in seats}) == 200
    assert len({seat.mark for seat in seats}) == 2


@pytest.mark.parametrize(
    "change",
    [
        str.lower,
        lambda key: key.replace("-", " "),
        lambda key: key.replace("-", "–"),
        lambda key: key.replace("-", ""),
        lambda key: f"  {key} \n",
        lambda key: key.replace("1", "l"),
    ],
)
def test_a_key_is_read_as_people_type_it(seat, change):
    assert Seat.read(change(seat.key)) == seat


def test_a_slip_of_one_letter_in_a_key_is_told(seat):
    missed = 0
    for place, sign in enumerate(seat.key):
        for other in "0123456789ABCDEFGHJKMNPQRSTVWXYZ" if sign != "-" else "":
            if other == sign or (place == 0 and not other.isdigit()):
                continue
            with suppress(ValueError):
                missed += bool(Seat.read(seat.key[:place] + other + seat.key[place + 1 :]))
    assert missed <= 3  # of some 700: two letters catch all but one in a thousand


@pytest.mark.parametrize(
    "text", ["", "7", "no key at all", "7-RKDX", "é" * 30, "0" * 5000, "\x00" * 40, "seven-RKDX-TMTB-WJWK-3KH3-34RF-1G"]
)
def test_what_is_no_key_gets_a_sentence(text):
    with pytest.raises(ValueError, match=r"no seat key|slip in this seat key"):
        Seat.read(text)


@pytest.mark.parametrize(
    ("code", "sentence"),
    [
        ("short", "8 to 200 letters, got 5"),
        ("x" * 201, "8 to 200"),
        ("       ", "8 to 200"),
        ("a\x07bcdefghij", "can be typed"),
        ("half \ud83d a sign", "can be typed"),
        (7, "must be a text"),
    ],
)
def test_a_code_that_is_none_gets_a_sentence(code, sentence):
    with pytest.raises(ValueError, match=sentence):
        class_mark(code)


@pytest.mark.parametrize("number", [0, -1, MOST_SEATS + 1, 1.0, True, "1"])
def test_a_seat_that_is_none_gets_a_sentence(number):
    with pytest.raises(ValueError, match="seat must be a whole number"):
        seat_of(CODE, number)


def test_a_record_that_was_changed_by_one_digit_is_not_signed_any_more(seat):
    signature = seat.signature(BODY)
    assert seat.signed(BODY, signature)
    assert not seat.signed({"format": "x", "events": [{"text": "12.6", "seed": 7}]}, signature)
    assert not seat.signed(BODY, signature[:-1] + ("0" if signature[-1] != "0" else "1"))
    assert not seat.signed(BODY, "ʘ")


def test_a_seat_cannot_sign_for_its_neighbour(seat):
    assert not seat_of(CODE, 8).signed(BODY, seat.signature(BODY))


def test_the_secret_is_not_shown_by_chance(seat):
    assert seat.secret not in repr(seat)


def test_a_drawn_code_is_a_code_and_another_each_time():
    codes = {new_class_code() for _ in range(20)}
    assert len(codes) == 20
    assert all(re.fullmatch("(....-){2}....", code) for code in codes)


def test_what_the_signature_does_not_protect_from_is_said():
    assert "does not protect" in PROTECTION[1]
    assert "can sign for every seat" in PROTECTION[1]
