"""Whatever a form says, it becomes a sound event or is refused with reasons; nothing of the owner is in the event."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.stock_words import read_stock
from lastscrew.bench.depot.taking_in import Known, read_intake
from lastscrew.bench.depot.telling import KINDS, read_tale
from lastscrew.run.events import Event, Happening
from lastscrew.run.lines import event_as_json, event_from_json

TEXT = st.text(st.characters(max_codepoint=0x2FFF), max_size=30) | st.sampled_from(
    ["", "1", "sound", "swollen", "owner", "2026-12-01", "x" * 5_000, "\x00"]
)
KNOWN = Known({"elm": ("boots",)}, {"elm": "elm"}, {})
FIELDS = (
    "device", "device_words", "serial", "asset_tag", "condition", "accessories", "seals", "may_be_lost", "agreed_by",
    "way_to_test", "pack", "liquid", "dropped", "due", "place", "told", "hazard_place", "power_off", "check_boots",
    "check_\x00", "what", "reason", "person", "item", "state", "amount", "tell",
)  # fmt: skip
FORMS = st.dictionaries(st.sampled_from(FIELDS), TEXT)


def is_sound(what: Happening) -> bool:
    """True when the event reads as strictly as if it came from a file, as itself."""
    event = Event(id="a", what=what)
    return event_from_json(event_as_json(event), d.HAPPENINGS) == event


@given(
    FORMS,
    st.text(st.characters(min_codepoint=0x4E00, max_codepoint=0x4E20), min_size=3, max_size=9),
)
def test_any_form_of_taking_in_is_a_sound_event_or_has_reasons(
    form: dict[str, str], secret: str
) -> None:
    """Law, with the owner's words in letters that nothing else uses."""
    owner = {"owner_name": secret, "owner_contact": secret, "complaint": secret}
    intake = read_intake({**form, **owner}, KNOWN)
    assert (intake.taken is None) is bool(intake.problems)
    assert intake.owner.name == secret
    if intake.taken is not None:
        assert is_sound(intake.taken)
        assert all(is_sound(hazard) for hazard in intake.hazards)
        assert secret not in str(event_as_json(Event(id="a", what=intake.taken)))


@given(st.sampled_from(sorted(KINDS)), FORMS)
def test_anything_told_on_a_page_is_a_sound_event_or_has_reasons(
    name: str, form: dict[str, str]
) -> None:
    what, problems = read_tale(name, form)
    assert (what is None) is bool(problems)
    assert what is None or is_sound(what)


@given(FORMS)
def test_anything_told_about_stock_is_a_sound_event_or_has_reasons(form: dict[str, str]) -> None:
    what, problems = read_stock(form, {"code:A-1": "Fan"})
    assert (what is None) is bool(problems)
    assert what is None or is_sound(what)
