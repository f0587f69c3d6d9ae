"""The record says what was found, done, renewed and proven, by whom, and where every screw went."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.event_words import say
from lastscrew.bench.depot.records import record_of
from lastscrew.run import events as e
from lastscrew.run.events import HAPPENINGS, Happening
from lastscrew.run.folding import fold
from tests.run.machines import events_of, radio, start

RADIO = radio()
IN = ("cover_screws", "cover_clips", "pack_plug", "fan_plug", "fan_screws")


def test_a_whole_job_is_told() -> None:
    happenings = [
        start(RADIO, replace=("fan",)),
        *[e.Opened(joint=joint) for joint in IN],
        e.Stripped(joint="cover_screws", count=1, what="drive"),
        e.Exchanged(part="fan", old_serial="F1", new_serial="F2", order_code="E-9"),
        *[e.Closed(joint=joint) for joint in reversed(IN[1:])],
        e.Closed(joint="cover_screws", new=1),
        e.Checked(function="cooling", outcome="works"),
        e.Waived(person="Lea", reason="hardly used", function="boots"),
    ]
    events = [
        replace(
            event, by="Ada" if number < 9 else "Bo", at_ms=1_000 * number, stored_ms=1_000 * number
        )
        for number, event in enumerate(events_of(*happenings), 1)
    ]
    record = record_of(RADIO, fold(RADIO, events), {"boots": "fails"})
    assert record.asked == ("Fan",)
    assert [line.text for line in record.found] == ["Cover screws: drive of 1 worn out"]
    assert {opening.name: (opening.left, opening.new) for opening in record.opened}[
        "Cover screws"
    ] == ("closed", 1)
    assert [(r.name, r.old_serial, r.new_serial, r.order_code) for r in record.renewed] == [
        ("Fan", "F1", "F2", "E-9")
    ]
    assert {(p.before, p.after) for p in record.proven} == {("", "works"), ("fails", "waived")}
    assert {p.name for p in record.proven if p.after == "works"} == {
        RADIO.functions["cooling"].name
    }
    assert [(w.person, w.reason) for w in record.waivers] == [("Lea", "hardly used")]
    assert [(hand.name, hand.entries) for hand in record.hands] == [
        ("Ada", 8),
        ("Bo", len(events) - 8),
    ]
    assert (record.started_ms, record.ended_ms) == (1_000, 1_000 * len(events))
    m2x5 = next(a for a in record.accounts if a.account.kind.key == "m2x5").account
    assert (m2x5.taken_out, m2x5.put_back, m2x5.new) == (8, 7, 1)


def test_what_failed_at_first_stands_beside_what_works_now() -> None:
    """Tried, failed, looked at again, works: the record tells both, and who saw it."""
    happenings = [
        start(RADIO, replace=("fan",)),
        *[e.Opened(joint=joint) for joint in IN],
        e.Exchanged(part="fan"),
        *[e.Closed(joint=joint) for joint in reversed(IN)],
        e.Checked(function="cooling", outcome="fails", text="rattles"),
        e.Checked(function="cooling", outcome="works"),
    ]
    events = [replace(each, by="Ada", at_ms=9_000) for each in events_of(*happenings)]
    proven = {p.name: p for p in record_of(RADIO, fold(RADIO, events)).proven}
    cooling = proven[RADIO.functions["cooling"].name]
    assert cooling.after == "works"
    (line,) = cooling.failed
    assert (line.by, line.at_ms) == ("Ada", 9_000)
    assert line.text.endswith("fails; rattles")
    # Disturbed once more, the last try counts no more, but it is not forgotten.
    again = [*happenings[:-1], e.Opened(joint="fan_plug")]
    proven = {p.name: p for p in record_of(RADIO, fold(RADIO, events_of(*again))).proven}
    assert proven[cooling.name].after == "open"
    assert len(proven[cooling.name].failed) == 1


def test_new_screws_are_told_though_the_joint_was_opened_once_more() -> None:
    """What the ledger calls new stands at the joint, too, whichever closing brought it."""
    opening = [e.Opened(joint=joint) for joint in IN]
    closing = [e.Closed(joint=joint) for joint in reversed(IN[1:])]
    happenings = [
        start(RADIO, replace=("fan",)),
        *opening,
        e.Lost(joint="cover_screws", count=1, searched=True),
        *closing,
        e.Closed(joint="cover_screws", new=1),
        *opening,
        *closing,
        e.Closed(joint="cover_screws"),
    ]
    record = record_of(RADIO, fold(RADIO, events_of(*happenings)), {})
    found = {each.name: (each.times, each.new) for each in record.opened}
    assert found["Cover screws"] == (2, 1)
    assert sum(line.account.new for line in record.accounts) == 1


def test_a_joint_that_two_screens_opened_was_opened_once() -> None:
    """Both histories count after a person took the other one over; the joint came open once."""
    told = [start(RADIO, replace=("fan",)), *[e.Opened(joint="cover_screws")] * 2]
    told += [e.Closed(joint="cover_screws"), e.Opened(joint="cover_screws")]
    (opening,) = record_of(RADIO, fold(RADIO, events_of(*told))).opened
    assert opening.times == 2


@pytest.mark.parametrize(("decision", "words"), [("taken", "over"), ("set_aside", "aside")])
def test_what_became_of_the_other_history_is_told(decision: str, words: str) -> None:
    decided = d.BranchDecided(branch="b", decision=decision, reason="Looked at it")
    assert say(decided, None).endswith(f"{words}; Looked at it")


def test_what_was_taken_back_is_not_in_the_record() -> None:
    events = events_of(
        start(RADIO), e.Noted(text="wrong machine"), e.TakenBack(about="e2"), by="Ada"
    )
    told = [*events[:2], replace(events[2], what=e.TakenBack(about=events[1].id))]
    assert record_of(RADIO, fold(RADIO, told)).found == ()


EXAMPLES: dict[str, dict[str, object]] = {
    "started": {"device": "elm", "revision": "x", "replace": ("fan",), "opened": ("cover_clips",)},
    "target_added": {"replace": "fan"}, "target_dropped": {"reach": "pack_plug"}, "opened": {"joint": "pack_plug"},
    "closed": {"joint": "pack_plug", "new": 1, "left_empty": 1}, "laid": {"joint": "pack_plug", "compartment": "A1"},
    "turned": {"side": "top"}, "act_done": {"act": "discharge"}, "confirmed": {"joint": "pack_plug"},
    "waived": {"person": "Lea", "reason": "so", "joint": "pack_plug"}, "renewed": {"supply": "compound", "amount": 0.3},
    "scrapped": {"count": 2, "joint": "pack_screws"}, "lost": {"count": 1, "joint": "pack_screws", "inside": True},
    "searched": {"about": "a"}, "found": {"count": 1, "length_mm": 4.5, "where": "floor"},
    "missing": {"joint": "pack_screws", "count": 1}, "count_corrected": {"joint": "pack_screws", "count": 3},
    "other_kind": {"joint": "pack_screws", "count": 1, "length_mm": 5.0}, "recounted": {"counts": {"m2x5": 3}},
    "stripped": {"joint": "pack_screws", "count": 1, "what": "thread"}, "broken": {"part": "fan", "text": "blade"},
    "unreachable": {"joint": "pack_plug", "reason": "in_the_way", "part": "fan"}, "exchanged": {"part": "fan"},
    "carried_over": {"part": "board", "what": "serial number"}, "part_judged": {"part": "fan", "state": "bad"},
    "part_line": {"line": "l1", "state": "ordered", "part": "fan", "order_code": "E-9"},
    "power_on": {}, "power_off": {},
    "checked": {"function": "boots", "outcome": "fails", "phase": "before", "value": 3.5, "unit": "V"},
    "final_check": {"check": "works", "outcome": "works", "text": "all of it"},
    "measured": {"quantity": "voltage", "value": 3.3, "unit": "V"}, "noted": {"text": "dusty", "part": "fan"},
    "photo": {"sha256": "ab" * 32}, "paused": {}, "resumed": {}, "handed_over": {"to": "Bo"},
    "parked": {"place": "shelf 2", "waiting_for": "fan"},
    "taken_back": {"about": "a"}, "finished": {"outcome": "repaired"},
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(HAPPENINGS))
@pytest.mark.parametrize("device", [RADIO, None], ids=["with its file", "without"])
def test_every_run_event_has_its_sentence(name: str, device: object) -> None:
    words = say(HAPPENINGS[name](**EXAMPLES[name]), RADIO if device else None)
    assert words
    assert "%(" not in words
    assert "None" not in words


def test_the_sentences_name_things_as_the_device_file_does() -> None:
    assert say(e.Opened(joint="cover_screws"), RADIO) == "Cover screws opened"
    lost = say(e.Lost(count=2, joint="cover_screws", inside=True), RADIO)
    assert lost == "Lost inside the machine: 2 × Cover screws"


DEPOT: list[Happening] = [
    d.TakenIn(number=7, device="elm", accessories=("charger",)), d.Described(serial="S2"),
    d.HazardMet(what="liquid", told="Lea", place="box", power_off=True), d.HazardCleared(person="Lea", reason="dry"),
    d.Placed(place="bench 2"), d.OwnerPhoto(sha256="ab" * 32), d.Custody(item="Drive", state="held", person="Ada"),
    d.HandedBack(outcome="repaired"), d.OwnerErased(reason="asked"),
    d.BranchDecided(branch="b", decision="taken", reason="same work"), d.LookedOver(job="r1", good=True),
    d.WaitingGivenUp(job="r1", client="c", branch="b", count=2),
]  # fmt: skip


@pytest.mark.parametrize("what", DEPOT, ids=lambda what: what.name)
def test_every_event_of_a_unit_has_its_sentence(what: Happening) -> None:
    words = say(what, None)
    assert words != what.name.replace("_", " ")
    assert "%(" not in words
    assert "None" not in words
