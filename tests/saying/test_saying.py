"""A sentence is its English text, and remembers enough to be told in another language."""

from __future__ import annotations

import copy
import json
import pickle
from typing import ClassVar

from hypothesis import given
from hypothesis import strategies as st

from lastscrew.saying import changed, joined, say, speaking, told


class Loud:
    """A voice for these tests: knows a few forms, writes decimals with a comma."""

    FORMS: ClassVar[dict[str, str]] = {
        "{part} was exchanged": "getauscht: {part}",
        "{n} clip": "{n} Clip",
        "{n} clips": "{n} Clips",
        "by hand": "von Hand",
        "{length} mm": "{length} mm",
        "open/Free": "Lösen",
        "close/Free": "Befreien",
    }

    def form(self, one: str, many: str, count: int, context: str) -> str:
        form = many if many and count != 1 else one
        return self.FORMS.get(f"{context}/{form}" if context else form, form)

    def number(self, value: float) -> str:
        return f"{value:g}".replace(".", ",")


def _loudly(text: str) -> str:
    with speaking(Loud()):
        return told(text)


def test_a_sentence_is_its_english_text_wherever_it_is_compared_stored_or_copied() -> None:
    said = say("{part} was exchanged", part="Fan")
    assert said == "Fan was exchanged"
    assert len({said, "Fan was exchanged"}) == 1
    assert json.dumps([said]) == '["Fan was exchanged"]'
    assert type(pickle.loads(pickle.dumps(said))) is str
    assert copy.deepcopy([said])[0] is said


def test_it_is_told_by_the_voice_in_force_and_in_english_without_one() -> None:
    said = say("{part} was exchanged", part="Fan")
    assert _loudly(said) == "getauscht: Fan"
    assert told(said) == "Fan was exchanged"
    with speaking(Loud()):
        assert str(said) == "Fan was exchanged"


def test_a_sentence_inside_another_one_is_told_as_well() -> None:
    said = say("{part} was exchanged", part=say("by hand"))
    assert _loudly(said) == "getauscht: von Hand"
    assert _loudly(joined(", ", ("Lid", said))) == "Lid, getauscht: von Hand"


def test_the_number_chooses_the_form_and_is_written_as_the_language_writes_it() -> None:
    assert say("{n} clip", "{n} clips", n=1) == "1 clip"
    assert _loudly(say("{n} clip", "{n} clips", n=3)) == "3 Clips"
    assert say("{length} mm", length=2.50) == "2.5 mm"
    assert _loudly(say("{length} mm", length=2.50)) == "2,5 mm"


def test_what_the_words_are_about_tells_like_words_apart() -> None:
    both = [say("Free", context=each) for each in ("open", "close")]
    assert both == ["Free", "Free"]
    assert [_loudly(each) for each in both] == ["Lösen", "Befreien"]


def test_a_change_reaches_the_names_in_a_sentence_and_leaves_its_form() -> None:
    said = changed(say("{part} was exchanged", part="*Fan*"), lambda name: name.strip("*"))
    assert said == "Fan was exchanged"
    assert _loudly(said) == "getauscht: Fan"


def test_on_a_page_it_is_told_and_escaped() -> None:
    said = say("{part} was exchanged", part="<b>")
    with speaking(Loud()):
        assert said.__html__() == "getauscht: &lt;b&gt;"


@given(st.text(), st.lists(st.text(), max_size=4))
def test_names_are_put_in_as_they_are_whatever_stands_in_them(name: str, rest: list[str]) -> None:
    said = say("{part} was exchanged", part=name)
    assert said == name + " was exchanged"
    assert _loudly(joined("; ", [said, *rest])) == "; ".join(["getauscht: " + name, *rest])
