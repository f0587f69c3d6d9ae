"""Drawings: escaped, well formed, texts that fit."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.paper import svg
from tests.paper.drawings import reread

DEJAVU = Path("/usr/share/fonts/truetype/dejavu")


@given(st.text(), st.text())
def test_any_text_makes_a_well_formed_drawing(title: str, words: str) -> None:
    """Whatever stands in a name, the file can be read, and nothing of it becomes an element."""
    root = svg.drawing(10, 10, title, words, prefix="p")
    svg.text(root, 0, 0, words, 3)
    again = reread(root)
    assert [child.tag.rpartition("}")[2] for child in again] == [
        "title",
        "desc",
        "style",
        "rect",
        "text",
    ]


@given(st.text(min_size=1), st.floats(5, 80), st.booleans())
def test_what_is_cut_fits(words: str, width: float, bold: bool) -> None:
    """A cut text is no wider than its room, and begins as the whole one does."""
    cut = svg.fit(words, width, 3, bold=bold)
    assert svg.text_width(cut, 3, bold=bold) <= width + 1e-9
    assert cut == words or (cut.endswith("…") and words.startswith(cut[:-1]))


def test_a_cut_text_keeps_the_whole_one_as_its_title() -> None:
    """Nothing is lost for who looks closer."""
    root = svg.drawing(10, 10, "t", "d", prefix="p")
    element = svg.text(root, 0, 0, "a rather long name", 3, width=12)
    assert (element.text or "").endswith("…")
    assert element.findtext("title") == "a rather long name"


@given(
    st.lists(st.text(st.characters(codec="ascii", categories=["L"]), min_size=1), min_size=1),
    st.floats(20, 60),
)
def test_wrapping_loses_no_word(words: list[str], width: float) -> None:
    """Lines put together give the words again, unless one alone is too wide."""
    lines = svg.wrap(" ".join(words), width, 2)
    assert all(svg.text_width(line, 2) <= width + 1e-9 for line in lines)
    if not any(line.endswith("…") for line in lines):
        assert " ".join(lines).split() == words


@given(st.floats(-1e6, 1e6))
def test_numbers_are_short_and_true(value: float) -> None:
    """A coordinate is written without exponent, with at most two decimals, to within half of the last."""
    shown = svg.number(value)
    assert "e" not in shown
    assert shown != "-0"
    assert abs(float(shown) - value) <= 0.005001 + abs(value) * 1e-12


@pytest.mark.parametrize(
    ("bold", "file"), [(False, "DejaVuSans.ttf"), (True, "DejaVuSans-Bold.ttf")]
)
def test_widths_are_not_underestimated(bold: bool, file: str) -> None:
    """Against the font's own table: no ordinary name comes out wider than estimated."""
    if not (DEJAVU / file).exists():
        pytest.skip(f"{file} is not installed (Debian: fonts-dejavu-core)")
    tables = pytest.importorskip("fontTools.ttLib").TTFont(DEJAVU / file)
    glyphs, advances = tables.getBestCmap(), tables["hmtx"].metrics
    for words in (
        "Cover screws rear", "9 M2×5 PH1, 17 N·cm, crosswise", "Wiring WWW mmm MMM", "Größe äöü ÅØÆ",
        "Κάλυμμα μπαταρίας", "Крышка корпуса ЖШЩ", "turn to bottom, plastic opening pick",
    ):  # fmt: skip
        true = sum(advances[glyphs[ord(c)]][0] for c in words) / tables["head"].unitsPerEm
        assert true <= svg.text_width(words, 1.0, bold=bold) * 1.02, words


def test_written_out_it_is_a_file_of_its_own() -> None:
    """Declaration, namespace and size are there."""
    text = svg.to_text(svg.drawing(10, 20, "t", "d", prefix="p", true_scale=True))
    assert text.startswith(
        '<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg"'
    )
    assert ET.fromstring(text.encode()).get("width") == "10mm"
