"""Text in columns: nothing is wider than it may be, nothing is lost, colour only where it is wanted."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from lastscrew.cli.columns import Line, clean, coloured, cut, for_encoding, pad, wants_colour, wrap

TEXTS = st.text(st.characters(codec="utf-8"), max_size=80)


@given(TEXTS, st.integers(8, 60), st.integers(0, 4), st.integers(0, 4))
def test_wrapped_lines_fit_and_lose_nothing(text: str, width: int, indent: int, hang: int) -> None:
    """Every line fits, and all characters but spaces come out again in order."""
    lines = wrap(text, width, indent=indent, hang=hang)
    assert all(cell_len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(clean(text).split())


@given(TEXTS, st.integers(1, 40))
def test_a_cut_text_fits(text: str, width: int) -> None:
    """A text that fits is left alone; another one ends with an ellipsis."""
    short = cut(clean(text), width)
    assert cell_len(short) <= width
    assert short == clean(text) or short.endswith("…")


def test_padding_counts_what_a_terminal_counts() -> None:
    """Wide letters take two columns, combining marks none."""
    assert cell_len(pad("主板", 8)) == 8
    assert cell_len(pad("e\u0301", 8)) == 8


def test_only_signal_words_with_their_letter_are_coloured() -> None:
    """The same word inside a text stays as it is."""
    line = Line("  WARNING (a) CAUTION (b) No WARNING light.", signals=("warning", "caution"))
    shown = coloured(line, colour=True)
    assert shown.count("\x1b[0m") == 2
    assert "No WARNING light" in shown
    assert coloured(line, colour=False) == line.text


@pytest.mark.parametrize(
    ("environment", "wanted"), [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)]
)
def test_no_color_is_honoured(
    monkeypatch: pytest.MonkeyPatch, environment: dict[str, str], wanted: bool
) -> None:
    """Colour needs a terminal and nobody who has said no."""
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for key, value in environment.items():
        monkeypatch.setenv(key, value)
    assert not wants_colour()  # standard output of a test is no terminal
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    assert wants_colour() is wanted


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437", "no-such-encoding"])
def test_an_encoding_that_lacks_the_signs_gets_plain_ones(encoding: str) -> None:
    """Nothing is raised, and the words stay."""
    shown = for_encoding("│ 7 × M2 – N·cm ≠ 主", encoding)
    assert "M2" in shown
    assert shown.encode("ascii" if encoding.startswith("no-") else encoding)
    assert for_encoding("│ ×", "utf-8") == "│ ×"
