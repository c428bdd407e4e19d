"""The picture on the project's first page is written whole, and where it was asked for."""

from types import SimpleNamespace

from helpers.pages import design as record_view


def test_a_link_in_the_pictures_place_is_replaced_and_what_it_leads_to_is_left_alone(tmp_path, monkeypatch):
    """Drawing is tested with the design record; here a few bytes stand for the picture."""
    monkeypatch.setattr(record_view, "Design", lambda site: SimpleNamespace(record=lambda: site))
    monkeypatch.setattr(record_view, "rules_compared", lambda design, place: design)
    monkeypatch.setattr(record_view, "picture_of", lambda piece: SimpleNamespace(png=lambda: b"a picture"))
    elsewhere, link = tmp_path / "elsewhere.png", tmp_path / "front.png"
    elsewhere.write_bytes(b"not ours")
    link.symlink_to(elsewhere)
    assert record_view.write_front_picture(link) == link
    assert (link.is_symlink(), link.read_bytes(), elsewhere.read_bytes()) == (False, b"a picture", b"not ours")
