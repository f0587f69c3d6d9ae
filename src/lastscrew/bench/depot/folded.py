"""One spelling for what is compared: serial numbers, tags, names of places, words that are searched for.

Two texts are the same when their folded forms are: capitals and small letters of any script, full-width and
other forms of one sign, composed and decomposed accents. The database keeps the folded form, so that SQLite
(which knows the case of A to Z only) and PostgreSQL (whose rules depend on how it was set up) find the same.
"""

from __future__ import annotations

import unicodedata

MOST_KEY = 200
"""Characters of a folded key that are kept: some signs fold to eighteen letters, and an index has its bounds."""

_TURKISH = (("\u0131", "i"), ("i\u0307", "i"))
"""Turkish has an i without a dot and a capital with one: a plate does not say in which language it was printed."""


def folded(text: str) -> str:
    """The form in which two spellings of one text are equal.

    NFKC_Casefold of the Unicode Standard (chapter 3.13, D146 and the property of that name): compatibility
    composition, full case folding, signs without a width taken out. On top, white space becomes single
    spaces, and dotted and dotless i are one letter.

    Args:
        text: Any text.
    """
    plain = unicodedata.normalize("NFD", text).casefold()
    plain = unicodedata.normalize("NFKD", plain).casefold()
    for sign, letter in _TURKISH:
        plain = plain.replace(sign, letter)
    kept = "".join(sign for sign in plain if unicodedata.category(sign) != "Cf")
    return " ".join(unicodedata.normalize("NFKC", kept).split())


def folded_key(text: str) -> str:
    """The folded form as a column of its own keeps it: at most :data:`MOST_KEY` characters."""
    return folded(text)[:MOST_KEY]
