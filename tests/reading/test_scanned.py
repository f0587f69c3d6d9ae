"""Scanned pages: letters that a scanner took for others are put right, and nothing else is touched."""

from __future__ import annotations

from pathlib import Path

import pytest

from lastscrew.reading import load_lexicon, read
from lastscrew.reading.scanned import mended
from lastscrew.reading.sources import open_source

ROOT = Path(__file__).resolve().parents[2]


def put_right(text: str) -> str:
    """The text as the reader takes it."""
    return mended(open_source(text.encode(), "page.txt"), load_lexicon()).text().strip()


@pytest.mark.parametrize(
    ("printed", "meant"),
    [
        ("Remove the front pane1.", "Remove the front panel."),
        ("Rernoval of the fan rnodule", "Removal of the fan module"),
        ("Disconnect the fan cab1e frorn the rnain board.", "Disconnect the fan cable from the main board."),
        ("Rernove the l2 M3 screvvs.", "Remove the 12 M3 screws."),
        ("Remove the 1O screws of the p1ate and the cab1e.", "Remove the 10 screws of the plate and the cable."),
        ("REMOVE THE B0ARD.", "REMOVE THE BOARD."),
        ("Rernove the scre ws of the p1ate and the brac kets.", "Remove the screws of the plate and the brackets."),
    ],
)  # fmt: skip
def test_a_confused_letter_is_put_right(printed: str, meant: str) -> None:
    """Where the word is unknown and the word with the exchanged letters is known."""
    assert put_right(printed) == meant


@pytest.mark.parametrize(
    "text",
    [
        "Remove the M2x5 screws with a T10 driver; unplug J4, CN12 and USB3.",
        "The modern corner of the external government turns.",
        "Part AL-100B, 12V, 5mm, 3D model, 2nd clip, H264.",
        "Peel off the sealing tape. Close the lid. Clean the clips.",
    ],
)
def test_what_is_right_stays(text: str) -> None:
    """Sizes, names of connectors and plain words that only look like a slip."""
    assert put_right(text) == text


@pytest.mark.parametrize(
    "path",
    [
        *sorted((ROOT / "tests/reading/practice").glob("*.txt")),
        ROOT / "benchmarks/reading_texts/notebook-manual.txt",
        ROOT / "benchmarks/reading_texts/pump-controller.txt",
    ],
    ids=lambda path: path.stem,
)
def test_a_clean_text_is_left_alone(path: Path) -> None:
    """Not one word of texts that were never scanned is changed."""
    source = open_source(path.read_bytes(), path.name)
    assert mended(source, load_lexicon()) == source


def test_the_report_shows_what_is_printed() -> None:
    """The reading works on the mended words; its source stays the printed page."""
    text = "Rernoving the fan\n\n1. Disconnect the fan cab1e.\n2. Rernove the fan.\n"
    reading = read(open_source(text.encode(), "page.txt"), load_lexicon())
    assert reading.procedures[0].kind == "removal"
    assert [a.klass for a in reading.procedures[0].actions()] == ["disconnect", "remove"]
    assert "cab1e" in reading.source.text()
