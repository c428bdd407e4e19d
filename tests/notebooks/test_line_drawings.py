"""The drawings of door, stair, wire and loop: well-formed, in words as well, and on the pages."""

from pathlib import Path
from xml.etree import ElementTree

import pytest

from helpers.plots.markup import LINE_DRAWINGS, line_drawing

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("name", LINE_DRAWINGS)
def test_a_drawing_tells_itself_in_words_and_stands_on_a_page(name):
    drawing = ElementTree.parse(f"data/drawings/{name}.svg").getroot()
    assert len(drawing.find(f"{SVG}desc").text.split()) > 30
    assert line_drawing(name).text == drawing.find(f"{SVG}desc").text
    pages = [path for path in Path("notebooks").glob("*.ipynb") if f'line_drawing(\\"{name}\\")' in path.read_text(encoding="utf-8")]
    assert len(pages) == 1


def test_a_drawing_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="name must be one of door, stair, wire, loop; got 'roof'"):
        line_drawing("roof")
