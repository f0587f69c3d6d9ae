"""Which wrong number would change the choice: held to the ratio rule, where the point can be worked out by hand."""

from __future__ import annotations

import pytest

from lastscrew.cli.fault_text import flip_words
from lastscrew.device.reading import load_device
from lastscrew.faults.advice import Advice
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.proposing import propose
from lastscrew.faults.sensitivity import Flip, flips, is_hair
from tests.faults.lantern import LANTERN, lantern

FINAL_S = 5


def two_faults(share: int, first_s: int, second_s: int) -> Advice:
    """Two faults of a machine that need not be opened; cleaning one part or the other cures for sure."""
    text = f"""
format: 1
device: {{name: Trial}}
parts: {{base: {{fixed: true}}, a: {{}}, b: {{}}}}
joints:
  clip_a: {{kind: clip, joins: [a, base]}}
  clip_b: {{kind: clip, joins: [b, base]}}
checks: {{works: {{check: Try it., check_s: {FINAL_S}, final: true}}}}
faults:
  fault_a: {{part: a, prior: {share}, mends: [{{do: clean, success: 1, seconds: {first_s}}}]}}
  fault_b: {{part: b, prior: {100 - share}, mends: [{{do: clean, success: 1, seconds: {second_s}}}]}}
"""
    return propose(load_device(text.encode()), Evidence())


@pytest.mark.parametrize(("first_s", "second_s"), [(60, 60), (60, 90), (120, 70)])
def test_the_prior_that_flips_is_that_of_the_ratio_rule(first_s: int, second_s: int) -> None:
    """Mend A first costs a + F + (1 - p)(b + F), B first b + F + p (a + F): equal at p = (a + F) / (a + b + 2 F)."""
    expected = (first_s + FINAL_S) / (first_s + second_s + 2 * FINAL_S)
    advice = two_faults(80, first_s, second_s)
    assert advice.proven
    assert advice.next is not None
    assert advice.next.id == "clean_a"
    found = [flip for flip in flips(advice.model, advice) if flip.fault == "fault_a"]
    assert len(found) == 1
    assert found[0].what == "prior"
    assert found[0].other == "clean_b"
    assert found[0].now == pytest.approx(0.8)
    assert found[0].flips_at == pytest.approx(expected, abs=0.04)
    assert two_faults(round(100 * expected) + 1, first_s, second_s).next.id == "clean_a"  # type: ignore[union-attr]
    assert two_faults(round(100 * expected) - 1, first_s, second_s).next.id == "clean_b"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    "seen", [Evidence(("dark",), results=(("board_light", "bad"),)), Evidence(("dim",))]
)
def test_a_flip_that_is_told_is_one(seen: Evidence) -> None:
    """Written into the file, the prior beyond the point changes what is proposed; halfway to it, it does not."""
    advice = propose(lantern(), seen)
    assert advice.next is not None
    told = [flip for flip in flips(advice.model, advice, most=9) if flip.what == "prior"]
    assert told
    for flip in told:
        prior = lantern().faults[flip.fault].prior
        for factor, same in ((flip.factor, False), (flip.factor**0.5, True)):
            text = LANTERN.replace(f"prior: {prior:g}\n", f"prior: {prior * factor:.9f}\n")
            assert text != LANTERN
            other = propose(load_device(text.encode()), seen)
            assert other.next is not None
            assert (other.next.id == advice.next.id) == same, (flip, factor)


def test_nothing_flips_where_there_is_nothing_to_choose() -> None:
    """The device works: no proposal, no runner-up, no flips."""
    done = Evidence(results=(("exchange_lamp", "done"), ("works", "works")))
    advice = propose(lantern(), done)
    assert advice.next is None
    assert flips(advice.model, advice) == ()


@pytest.mark.parametrize(
    ("flip", "hair"),
    [
        (Flip("prior", "pack_flat", 0.071, 0.0718, 1.01, "charger"), True),
        (Flip("prior", "pack_flat", 0.071, 0.0679, 1 / 1.03, "charger"), True),
        (Flip("prior", "pack_flat", 0.002, 0.001, 0.5, "charger"), False),
        (Flip("chance", "pack_flat", 0.0102, 0.0111, 1.0, "charger"), True),
        (Flip("chance", "pack_flat", 0.0102, 0.27, 1.0, "charger"), False),
    ],
)
def test_a_hair_is_told_in_words(flip: Flip, hair: bool) -> None:
    """Where no figure would show the change ("1 %, not 1 %"; "1.0 times") none is given."""
    assert is_hair(flip) == hair
    words = flip_words(lantern(), flip, {"charger": "On the charger"})
    assert ("a little" in words) == hair
    assert words.endswith("On the charger comes first")
    assert "1.0 times" not in words
