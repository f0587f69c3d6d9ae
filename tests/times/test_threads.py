"""Thread designations, pitches, engaged length."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.model import Access, Fastener, Joint
from lastscrew.times.threads import engaged_mm, read_thread, turns_of


@pytest.mark.parametrize(
    ("designation", "diameter", "pitch", "assumed"),
    [
        ("M2", 2.0, 0.4, False),
        ("m2.5", 2.5, 0.45, False),
        ("M2x0.25", 2.0, 0.25, False),
        ("M3 × 0.35", 3.0, 0.35, False),
        ("M2.3", 2.3, 0.45, True),
        ("ST2.9", 2.9, 1.1, False),
        ("6-32 UNC", 3.5052, 0.79375, False),
        ("#4-40", 2.8448, 0.635, False),
        ("1/4-20", 6.35, 1.27, False),
        ("PT 3", 3.0, 1.2, True),
        ("", 2.0, 0.4, True),
        ("something", 2.0, 0.4, True),
        ("M0", 2.0, 0.4, True),
        ("1/0-20", 2.0, 0.4, True),
        ("6-0", 2.0, 0.4, True),
    ],
)
def test_designations(designation: str, diameter: float, pitch: float, assumed: bool) -> None:
    """Metric, tapping, inch and thread-forming; what can't be read is assumed and says so."""
    thread = read_thread(designation)
    assert thread.diameter_mm == pytest.approx(diameter)
    assert thread.pitch_mm == pytest.approx(pitch)
    assert thread.assumed is assumed


@given(st.text(max_size=12) | st.none())
def test_any_text_gives_a_usable_thread(text: str | None) -> None:
    """Whatever stands there, diameter and pitch are above 0."""
    thread = read_thread(text)
    assert thread.diameter_mm > 0
    assert thread.pitch_mm > 0


@given(st.floats(0.1, 200), st.floats(0.5, 30))
def test_engaged_thread_is_never_longer_than_the_screw(length: float, diameter: float) -> None:
    """And at least half of it."""
    assert length / 2 <= engaged_mm(length, diameter) <= length


def test_a_nut_turns_by_its_own_height() -> None:
    """An M4 nut of 3.2 mm at 0.7 mm pitch: 4.6 turns; its height stands in for a missing length."""
    nut = Joint("n", "nut", ("a", "b"), (Access("bottom"),), rigid=True)
    assert turns_of(nut, Fastener("f", "M4")).turns == pytest.approx(3.2 / 0.7)
    assert turns_of(nut, Fastener("f", "M4")).assumed == ()
    assert turns_of(nut, Fastener("f", "M4", 7.0)).turns == pytest.approx(10)
