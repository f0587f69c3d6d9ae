"""What is known about a fault: from events of the unit and of its job, whoever proposed what was done."""

from __future__ import annotations

import pytest

from lastscrew.bench.depot.event_words import say
from lastscrew.bench.depot.events import FaultTakenBack, FaultTried, SymptomsConfirmed
from lastscrew.bench.workshop.fault_desk import (
    FaultDesk,
    check_tried,
    cost_words,
    plan_query,
    shown_of,
)
from lastscrew.bench.workshop.fault_story import story_of, symptoms_to_confirm, without_unknown
from lastscrew.device.diagnosis import Limits
from lastscrew.device.fitting import fit
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.model import fault_model
from lastscrew.faults.proposing import Terms, propose
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.run.events import Checked, Event, Exchanged, Happening, Noted, TakenBack
from tests.bench.faults.radio import radio
from tests.bench.store.making import demo

SMALL_MACHINE = Terms()


def events(*what: Happening) -> list[Event]:
    """Events in order, with ids from e0 on."""
    return [Event(id=f"e{n}", what=one, at_ms=n, by="Ada") for n, one in enumerate(what)]


def test_evidence_is_what_people_confirmed_and_tried_in_order() -> None:
    """The last word on symptoms counts; results keep their order; what was taken back is gone."""
    story = story_of(
        demo(),
        events(
            SymptomsConfirmed(shows=("dead",)),
            FaultTried(what="other_charger", outcome="bad"),
            SymptomsConfirmed(shows=("no_charge",), lacks=("dead",)),
            FaultTried(what="pack_voltage", outcome="6.1"),
            FaultTried(what="start_lights", outcome="good"),
            FaultTakenBack(about="e4"),
        ),
    )
    assert story.evidence("It is empty.") == Evidence(
        ("no_charge",), ("dead",), (("other_charger", "bad"), ("pack_voltage", "6.1")),
        complaint="It is empty.",
    )  # fmt: skip
    assert story.confirmed
    assert not story_of(demo(), events(Noted(text="x"))).confirmed


def test_taking_back_a_taking_back_brings_the_result_back() -> None:
    """As everywhere: by id, the last word counts."""
    happened = [
        FaultTried(what="other_charger", outcome="bad"),
        FaultTakenBack(about="e0"),
        FaultTakenBack(about="e1"),
    ]
    assert [one.what for one in story_of(demo(), events(*happened)).tried] == ["other_charger"]


def test_what_the_job_says_counts_as_tried_and_is_taken_back_there() -> None:
    """A part exchanged is its mend; a function tried before or during the work its check; at the end not."""
    device = radio()
    happened: list[tuple[Happening, tuple[str, str] | None]] = [
        (Exchanged(part="coil_set"), ("exchange_coil", "done")),
        (Checked(function="sound", outcome="fails", phase="during"), ("hum", "hums")),
        (Checked(function="sound", outcome="works", phase="before"), ("hum", "clear")),
        (Checked(function="light", outcome="fails", phase="during"), ("light", "bad")),
        (Checked(function="volts", outcome="fails", phase="during", value=4.2), ("volts", "4.2")),
        (Checked(function="volts", outcome="works", phase="during"), ("volts", "good")),
        (Checked(function="sound", outcome="works", phase="after"), None),
        (Checked(function="sound", outcome="not_tried", phase="before"), None),
        (Checked(function="all", outcome="works", phase="during"), None),
        (Checked(function="case_looks", outcome="fails", phase="during"), None),
        (Exchanged(part="lamp"), None),
        (TakenBack(about="e10"), None),
    ]
    story = story_of(device, events(*(what for what, _ in happened)))
    assert [(one.what, one.outcome) for one in story.tried] == [
        told for _, told in happened if told
    ]
    assert all(one.from_job for one in story.tried)
    before = story_of(device, [], {"sound": "works", "light": "not_tried", "gone": "fails"})
    assert [(one.key, one.what, one.outcome) for one in before.tried] == [("", "hum", "clear")]
    shown = shown_of(propose(device, Evidence(("silent",))))
    assert next(work for work in shown.works_known if work.id == "volts").limits == Limits("V", 5.0)


def test_symptoms_are_proposed_from_the_owners_words_and_confirmed_ones_stand() -> None:
    """Before a person has spoken the words propose; afterwards only the person counts."""
    words = "The battery stays empty, it does not charge."
    rows = symptoms_to_confirm(demo(), story_of(demo(), []), words)
    assert [row[0] for row in rows if row[2]] == ["no_charge"]
    assert rows[0][0] == "no_charge"
    assert len(rows) == len(demo().symptoms)
    story = story_of(demo(), events(SymptomsConfirmed(shows=("dead",), lacks=("no_charge",))))
    rows = symptoms_to_confirm(demo(), story, words)
    assert {row[0]: (row[2], row[3]) for row in rows if row[2] or row[3]} == {
        "dead": (True, False), "no_charge": (False, True),
    }  # fmt: skip


def test_names_that_the_device_file_no_longer_knows_are_left_out_and_said() -> None:
    """An older revision had other checks: the rest still counts."""
    seen = Evidence(
        ("silent", "smells"),
        (),
        (("hum", "hums"), ("old_check", "good"), ("light", "blue")),
    )
    with pytest.raises(InputError) as refused:
        propose(radio(), seen, terms=SMALL_MACHINE)
    left, dropped = without_unknown(seen, refused.value.problems)
    assert left == Evidence(("silent",), (), (("hum", "hums"),))
    assert dropped == ("smells", "old_check", "light")
    shown = FaultDesk().ask(radio(), seen, (), SMALL_MACHINE)
    assert any("old_check" in remark for remark in shown.remarks)


def test_a_proposal_is_that_of_the_search_and_is_kept() -> None:
    """Names, chances and what would follow; the same question again is answered from the shelf."""
    desk = FaultDesk()
    seen = Evidence(("silent",))
    assert desk.known(radio(), seen, (), SMALL_MACHINE) is None
    shown = desk.ask(radio(), seen, (), SMALL_MACHINE, limit_s=60)
    assert desk.ask(radio(), seen, (), SMALL_MACHINE) is shown
    advice = propose(radio(), seen, terms=SMALL_MACHINE)
    assert advice.next is not None
    assert shown.next is not None
    assert shown.next.work is not None
    assert shown.next.work.id == advice.next.id
    assert [one.outcome for one in shown.next.work.outcomes] == list(advice.next.work.outcomes)  # type: ignore[union-attr]
    assert shown.likeliest[0][1] == pytest.approx(advice.posterior[0][1])
    assert {work.id for work in shown.works_known} == {work.id for work in advice.model.works}
    assert shown_of(advice).next == shown.next


def test_a_search_that_the_clock_stopped_is_begun_again_a_few_times() -> None:
    """Without any time: three tries, then what is there; with time it ends and stays."""
    desk, seen = FaultDesk(), Evidence(("silent",))
    tries = [desk.ask(radio(), seen, (), SMALL_MACHINE, limit_s=0).tries for _ in range(3)]
    assert tries == [1, 2, 3]
    kept = desk.ask(radio(), seen, (), SMALL_MACHINE, limit_s=0)
    assert desk.ask(radio(), seen, (), SMALL_MACHINE, limit_s=60) is kept
    other = FaultDesk()
    assert other.ask(radio(), seen, (), SMALL_MACHINE, limit_s=0).tries == 1
    assert other.ask(radio(), seen, (), SMALL_MACHINE, limit_s=60).tries == 0


def test_every_mend_that_needs_opening_leads_to_a_plan_that_can_be_made() -> None:
    """What the fault page asks of the plan page, the planner can plan."""
    model = fault_model(fit(demo()))
    asked = 0
    for work in model.mends:
        query = plan_query(model.device, work)
        if not query:
            assert not work.open
            continue
        pairs = [pair.split("=") for pair in query.replace("%2B", "+").split("&")]
        request = Request(
            replace=tuple(v for k, v in pairs if k == "replace"),
            reach=tuple(v for k, v in pairs if k == "reach"),
        )
        opened = plan(model.device, request).open_at_turning
        assert set(work.open) <= opened, work.id
        asked += 1
    assert asked > 10


def test_a_result_is_refused_with_what_could_come_out() -> None:
    """An unknown check, an outcome that it has not, a value that is none."""
    shown = FaultDesk().ask(radio(), Evidence(("silent",)), (), SMALL_MACHINE)
    assert [p.path for p in check_tried(shown, "nothing", "clear")] == ["what"]
    assert "clear or hums" in check_tried(shown, "hum", "green")[0].remedy
    assert check_tried(shown, "hum", "hums") == ()
    measured = next(work for work in shown.works_known if work.limits is not None)
    assert check_tried(shown, measured.id, "7.2") == ()
    assert check_tried(shown, measured.id, "much")[0].path == "outcome"
    mend = next(work for work in shown.works_known if work.is_mend)
    assert check_tried(shown, mend.id, "done") == ()


@pytest.mark.parametrize(
    ("cost", "rate", "words"),
    [(0, None, "0 s"), (89.4, None, "89 s"), (91, None, "2 min"), (7200, None, "2 h 00"), (12.345, 40.0, "12.35")],
)  # fmt: skip
def test_costs_are_told_as_time_or_money(cost: float, rate: float | None, words: str) -> None:
    """No false decimals."""
    assert cost_words(cost, rate) in (words, words.replace("12.35", "12.34"))


def test_the_history_of_a_unit_tells_of_it_in_words() -> None:
    """Symptoms, results, taking back; with names where the device file is at hand."""
    told = SymptomsConfirmed(shows=("no_charge",), lacks=("hot_and_loud",))
    assert say(told, demo()) == "Symptoms: Does not charge; looked for, not there: Hot or loud"
    assert say(SymptomsConfirmed(), None) == "Symptoms: none"
    tried = FaultTried(what="other_charger", outcome="wet_or_burnt", text="smells")
    assert say(tried, None) == "Tried: other charger: wet or burnt; smells"
    assert "taken back" in say(FaultTakenBack(about="e1"), None)
