"""The head of a list lends its verb to the items beneath it."""

from __future__ import annotations

import pytest

from lastscrew.reading import load_lexicon, read
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.sources import open_source
from lastscrew.reading.tokens import tokenise


@pytest.mark.parametrize("indent", ["", "   "])
@pytest.mark.parametrize(
    ("head", "klass"), [("Disconnect", "disconnect"), ("Reconnect", "connect")]
)
def test_bare_cables_below_the_head_of_a_list_get_its_verb(
    head: str, klass: str, indent: str
) -> None:
    """Cables named alone under "Disconnect the following cables:" are disconnected, one action each."""
    text = f"## Removing the board\n\n1. {head} the following cables:\n{indent}- speaker cable\n{indent}- lamp lead\n"
    rows = read(open_source(text.encode(), "board.md")).as_json()["procedures"]
    assert isinstance(rows, list)
    found = [
        (step["line"], a["class"], a["object"])
        for step in rows[0]["steps"]
        for a in step["actions"]
    ]
    assert found == [(4, klass, "speaker cable"), (5, klass, "lamp lead")]


def test_a_list_without_an_end_costs_what_its_words_cost() -> None:
    """No list is looked at anew from each of its things: the longest that is taken as one is bounded."""
    tokens = tokenise("lid, " * 200, load_lexicon())
    things, end = Phrases(tokens, load_lexicon()).list_of(0)
    assert len(things) < 30
    assert end < len(tokens)
