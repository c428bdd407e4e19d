"""The list of public names follows the source."""

import public_names


def test_the_page_lists_the_names_that_are_there():
    assert public_names.PAGE.read_text(encoding="utf-8") == public_names.page(), "run .venv/bin/python tests/house/public_names.py"


def test_every_public_name_says_in_one_line_what_it_is():
    lines = [line for line in public_names.page().splitlines() if line.startswith("- ")]
    assert len(lines) > 300
    assert [line for line in lines if len(line.split(": ", 1)[-1]) < 8] == []


def test_names_begun_with_a_stroke_stay_inside():
    source = 'def one():\n    """The first. More."""\ndef _two():\n    """Inside."""\nclass Three:\n    """The third."""\n'
    assert list(public_names.public_names(source)) == [("one", "The first."), ("Three", "The third.")]


def test_a_file_that_names_what_is_public_is_taken_at_its_word():
    source = '__all__ = ["two"]\ndef one():\n    """For the file."""\ndef two():\n    """For all."""\n'
    assert list(public_names.public_names(source)) == [("two", "For all.")]
