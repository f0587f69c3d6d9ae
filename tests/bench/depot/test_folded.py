"""One spelling for what is compared, over all of Unicode."""

from __future__ import annotations

import sys
import unicodedata

import pytest

from lastscrew.bench.depot.folded import MOST_KEY, folded, folded_key

SIGNS = [chr(code) for code in range(sys.maxunicode + 1) if not 0xD800 <= code < 0xE000]


def test_every_sign_of_unicode_is_the_same_in_capitals_small_and_composed_or_not() -> None:
    # Measured against the tables that Python has from the Unicode Character Database.
    differs = [
        hex(ord(sign))
        for sign in SIGNS
        for form in {
            sign.upper(),
            sign.lower(),
            unicodedata.normalize("NFD", sign),
            unicodedata.normalize("NFKC", sign),
            folded(sign),
        }
        - {sign}
        if folded(form) != folded(sign)
    ]
    assert differs == []


# The Unicode Standard, version 15: CaseFolding.txt (status F and C), table 3-17 of chapter 3.13 and the notes on
# Turkish in SpecialCasing.txt; full-width forms from the block Halfwidth and Fullwidth Forms.
@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("STRASSE 9", "straße 9"),
        ("STRAẞE", "strasse"),
        ("Ä-É-Ø", "ä-é-ø"),
        ("A\u0308", "ä"),
        ("İ77", "i77"),
        ("I77", "\u013177"),
        ("\uff21\uff22\uff11\uff12\uff0d\uff13", "ab12-3"),
        ("ΣΑΣ", "σας"),
        ("ЖШ-1", "жш-1"),
        ("ﬁx", "FIX"),
        ("Ⅷ", "viii"),
        ("SN\u200b-1\u202e", "sn-1"),
        ("  SN \u3000 1\n", "sn 1"),
    ],
)  # fmt: skip
def test_two_spellings_of_one_serial_number_are_one(one: str, other: str) -> None:
    assert folded(one) == folded(other)


@pytest.mark.parametrize(("one", "other"), [("Ä1", "A1"), ("ŻO", "ZO"), ("É", "E"), ("O0", "00")])
def test_what_is_another_letter_stays_another(one: str, other: str) -> None:
    assert folded(one) != folded(other)


def test_a_key_has_a_bound_however_much_a_sign_unfolds_to() -> None:
    assert len(folded("\ufdfa" * 200)) > 3000
    assert len(folded_key("\ufdfa" * 200)) == MOST_KEY
