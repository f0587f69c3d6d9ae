"""Handing back: barred while anything is open, done once, and told in a record on page and paper."""

from __future__ import annotations

import io
import re
from random import Random
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from lastscrew.bench.depot import events as d
from lastscrew.bench.invented.playing import Playing, play
from lastscrew.bench.models import Item, PartLineState, Run, StoredEvent, Unit
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.store.clock import now_ms
from lastscrew.bench.store.jobs import load_job
from lastscrew.bench.store.owners import keep_owner
from lastscrew.bench.store.rebuilding import rebuild
from lastscrew.fasteners.ledger import ledger_of
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.run import events as e
from tests.bench.conftest import Bench
from tests.bench.store.making import begin, demo, derived, event, publish, unit

KEY = "ab" * 16


@pytest.fixture(autouse=True)
def nobody_looks_twice(request: pytest.FixtureRequest) -> None:
    """A second look is asked for by a rule of its own; here nobody has to."""
    bench = request.getfixturevalue("bench" if "bench" in request.fixturenames else "both")
    assert bench
    add_depot_event("", d.RuleChanged(rule="second_check_share", value=0), by="Lea")


def whole_job(run: str = "r1", key: str = "u1", upto: int | None = None) -> None:
    """A fan is exchanged, everything as planned, up to the last check."""
    device = publish()
    unit(key, checks={"cooling": "fails"}, accessories=("charger", "bag"))
    playing = Playing(run, "c1", now_ms() - 4_000_000, Random(1), unit=f"SN-{key}")
    events = list(play(device, plan(device, Request(replace=("fan",))), playing))
    add_run_events(run, events[:upto], by="Ada", unit=key)


def post(bench: Bench, role: str = "technician", **fields: Any) -> Any:  # noqa: ANN401 (a response)
    form = {"do": "hand_back", "outcome": "repaired", "key": KEY, "to": "owner", **fields}
    return bench.client(role).post("/units/u1/hand-back/", form)


def test_a_machine_that_is_closed_and_proven_is_handed_back_once(both: Bench) -> None:
    whole_job()
    first = post(both, accessories=["charger"], evidence="Runs cool.")
    assert first.headers["Location"] == "/units/u1/record/"
    gone = Unit.objects.get(pk="u1")
    assert (gone.stage, gone.outcome) == ("gone", "repaired")
    assert Run.objects.get(pk="r1").outcome == "repaired"
    again = post(both)
    assert again.headers["Location"] == "/units/u1/record/"
    assert StoredEvent.objects.filter(name="handed_back").count() == 1
    assert StoredEvent.objects.filter(name="finished").count() == 1


def test_nothing_open_leaves_and_each_thing_in_the_way_is_named(bench: Bench) -> None:
    whole_job(upto=14)
    answer = post(bench)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "stand in the way" in page
    assert "is open." in page
    assert Unit.objects.get(pk="u1").stage != "gone"
    assert not StoredEvent.objects.filter(name__in=("handed_back", "finished")).exists()


def test_a_job_is_not_closed_while_the_check_that_closes_every_job_is_open_or_fails(
    bench: Bench,
) -> None:
    whole_job()
    opened = event("o", e.Opened(joint="foot_bond"))
    closed = event("c", e.Closed(joint="foot_bond"))
    add_run_events("r1", [opened, closed], by="Ada")
    assert Unit.objects.get(pk="u1").stage == "to_prove"
    answer = post(bench)
    assert answer.status_code == 422
    assert "has not been tried again: it was worked on since" in answer.content.decode()
    fails = event("f", e.FinalCheck(check="works", outcome="fails"))
    add_run_events("r1", [fails], by="Ada")
    answer = post(bench)
    assert answer.status_code == 422
    assert "<b>Everything works</b> fails" in answer.content.decode()
    add_run_events("r1", [event("g", e.FinalCheck(check="works", outcome="works"))], by="Ada")
    assert Unit.objects.get(pk="u1").stage == "proven"
    assert post(bench).status_code == 302


def test_a_machine_that_fails_its_final_check_may_go_back_unrepaired(bench: Bench) -> None:
    whole_job()
    add_run_events("r1", [event("f", e.FinalCheck(check="works", outcome="fails"))], by="Ada")
    assert post(bench).status_code == 422
    assert post(bench, outcome="returned_unrepaired").status_code == 302


def test_two_histories_must_be_decided_first(bench: Bench) -> None:
    whole_job()
    late = e.Event(id="z1", what=e.Opened(joint="cover_screws"), client="c2", sequence=0, base=1)
    added = add_run_events("r1", [late], by="Bo")
    assert added.branch
    answer = post(bench)
    assert answer.status_code == 422
    assert "/runs/r1/histories/" in answer.content.decode()


def test_only_a_lead_lets_things_stand_with_name_and_reason(bench: Bench) -> None:
    begin("r1", "u1", replace=("fan",))
    add_run_events("r1", [event("o1", e.Opened(joint="cover_screws"))], by="Ada")
    stand = {
        "outcome": "returned_unrepaired",
        "let_stand": "1",
        "person": "Lea",
        "reason": "board burnt",
    }
    assert post(bench, **stand).status_code == 422
    assert post(bench, "lead", **{**stand, "reason": ""}).status_code == 422
    assert not StoredEvent.objects.filter(name="waived").exists()
    assert post(bench, "lead", **stand).status_code == 302
    assert Unit.objects.get(pk="u1").outcome == "returned_unrepaired"
    page = bench.client("guest").get("/units/u1/record/").content.decode()
    assert "board burnt" in page


def test_a_waiver_is_not_kept_when_something_else_still_bars_the_way(bench: Bench) -> None:
    begin("r1", "u1", replace=("fan",))
    add_run_events("r1", [event("o1", e.Opened(joint="cover_screws"))], by="Ada")
    add_depot_event("u1", d.Custody(item="Drive 9", state="held", person="Ada"), by="Ada")
    stand = {"let_stand": "1", "person": "Lea", "reason": "board burnt"}
    answer = post(bench, "lead", outcome="returned_unrepaired", **stand)
    assert answer.status_code == 422
    assert "Drive 9" in answer.content.decode()
    assert not StoredEvent.objects.filter(name="waived").exists()


SAID = {
    "place": "Donors 3",
    "pack": "unplugged",
    "pieces": "thrown_away",
    "lines": "1",
    "identity": "board SN 77, accounts signed off",
    "to": "scrap",
}


def half_open() -> None:
    """Parked with the fan off and screws in the tray; a line is ordered, one has come, the pack is unplugged."""
    begin("r1", "u1", replace=("fan",))
    way = plan(demo(), Request(replace=("fan",))).way_in
    happened = [e.Opened(joint=step.joint) for step in way]
    lines = [
        e.PartLine(line="part:fan", state="ordered", part="fan"),
        e.PartLine(line="x1", state="received", order_code="LM-X1"),
    ]
    parked = e.Parked(place="Shelf 2; tray: T1", tray="T1", waiting_for="the owner")
    events = [event(f"h{n}", what) for n, what in enumerate([*happened, *lines, parked])]
    add_run_events("r1", events, by="Ada")


def test_a_half_open_machine_is_given_up_by_saying_where_everything_is(both: Bench) -> None:
    """No waiver, nothing closed: a technician says what lies where, and all of it is told once."""
    outcome = "scrapped"
    half_open()
    client = both.client("technician")
    page = client.get(f"/units/u1/hand-back/?outcome={outcome}").content.decode()
    assert "3 × M2 × 4 mm" in page
    assert re.search(r'name="pack" value="unplugged"[^>]* checked', page)
    assert 'name="kept" value="fan"' in page
    assert "was to be exchanged" in page
    assert "stand in the way" not in page
    said: dict[str, Any] = {**SAID, "outcome": outcome, "kept": ["fan", "board"]}
    # Each thing that is not said bars the way, and nothing is kept.
    for name in ("place", "pack", "pieces", "lines", "identity"):
        answer = post(both, **{**said, name: ""})
        assert answer.status_code == 422, name
    assert not StoredEvent.objects.filter(name__in=("scrapped", "finished", "handed_back")).exists()
    for _twice in range(2):
        assert post(both, **said).status_code == 302
    unit_row = Unit.objects.get(pk="u1")
    assert (unit_row.stage, unit_row.outcome, unit_row.place) == ("gone", outcome, "Donors 3")
    job = load_job("r1")
    assert (job.state.outcome, job.state.parked) == (outcome, None)
    ledger = ledger_of(job.device, job.state.log)
    assert not ledger.out
    assert all(kind.balances for kind in ledger.kinds)
    assert set(PartLineState.objects.values_list("state", flat=True)) == {"returned"}
    # The fan is out and has a code: it lies in the store. The board is still in it.
    code = demo().parts["fan"].order_code
    assert Item.objects.get(code=f"code:{code}").count == 1
    back = StoredEvent.objects.get(name="handed_back").body
    assert (back["kept"], back["pack"], back["pieces"]) == (["fan"], "unplugged", "thrown_away")
    record = client.get("/units/u1/record/").content.decode()
    for words in ("Donors 3", "is in the machine, unplugged", "board SN 77", "Fan"):
        assert words in record
    assert not StoredEvent.objects.filter(name="waived").exists()
    before = derived()
    assert rebuild().changed == ()
    assert derived() == before


def test_pieces_that_stay_with_a_machine_that_is_given_up_stay_in_the_books(bench: Bench) -> None:
    half_open()
    assert (
        post(bench, **SAID | {"outcome": "kept_for_parts", "pieces": "with_it"}).status_code == 302
    )
    job = load_job("r1")
    assert sum(lot.count for lot in ledger_of(job.device, job.state.log).out) > 3
    assert (
        "stay with the machine" in bench.client("guest").get("/units/u1/record/").content.decode()
    )


def test_what_came_from_nowhere_bars_giving_up_and_a_machine_never_opened_is_asked_nothing(
    bench: Bench,
) -> None:
    half_open()
    add_run_events("r1", [event("f1", e.Found(count=1, piece="m2p5x5"))], by="Ada")
    answer = post(bench, outcome="scrapped", **SAID)
    assert answer.status_code == 422
    assert "To the checks" in answer.content.decode()
    unit("u2")
    form = {"do": "hand_back", "outcome": "scrapped", "key": "cd" * 16, "to": "scrap"}
    assert bench.client("technician").post("/units/u2/hand-back/", form).status_code == 302


def test_no_fault_found_asks_for_its_evidence(bench: Bench) -> None:
    publish()
    unit("u1")
    assert post(bench, outcome="no_fault_found").status_code == 422
    sure = post(bench, outcome="no_fault_found", evidence="Ran four hours under load, 71 °C.")
    assert sure.status_code == 302
    assert "71 °C" in bench.client("guest").get("/units/u1/record/").content.decode()


def test_what_goes_back_unrepaired_is_planned_and_priced_from_where_it_stands(bench: Bench) -> None:
    add_depot_event("", d.RuleChanged(rule="labour_rate", value=600), by="Lea")
    begin("r1", "u1", replace=("fan",))
    opened = ("cover_screws", "cover_clips")
    add_run_events("r1", [event(f"o{j}", e.Opened(joint=j)) for j in opened], by="Ada")
    page = (
        bench.client("technician")
        .get("/units/u1/hand-back/?outcome=returned_unrepaired")
        .content.decode()
    )
    assert "The way out from here" in page
    assert "At 600 an hour" in page
    assert f"{len(plan(demo(), Request(opened=opened)).way_out)} steps" in page


def test_what_was_reached_by_the_job_leads_to_the_same_page(bench: Bench) -> None:
    whole_job(upto=3)
    answer = bench.client("technician").get("/runs/r1/hand-back/")
    assert answer.headers["Location"] == "/units/u1/hand-back/"


def test_the_record_says_what_was_renewed_proven_and_by_whom_on_page_and_paper(
    bench: Bench,
) -> None:
    whole_job()
    keep_owner("u1", name="Ada Quill", complaint="Too loud.")
    post(bench, accessories=["charger"])
    page = bench.client("guest").get("/units/u1/record/").content.decode()
    renewed = StoredEvent.objects.get(name="exchanged").body
    for words in (
        "Record of U000001",
        "Fan",
        "Cooling",
        "M2 × 4 mm",
        "Ada",
        "Too loud.",
        "planned",
    ):
        assert words in page, words
    printed = bench.client("guest").get("/units/u1/record.pdf")
    assert printed.headers["Content-Type"] == "application/pdf"
    text = "".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(printed.content)).pages)
    for words in (
        "U000001",
        "Repaired",
        "Every screw accounted for",
        "Cooling",
        str(renewed.get("order_code", "")),
    ):
        assert words in text, words
    again = bench.client("guest").get("/units/u1/record.pdf")
    assert again.content == printed.content


def test_what_was_tried_at_the_counter_is_told_by_its_name(bench: Bench) -> None:
    """A machine that leaves without work has a record, too: no ids of the device file in it."""
    publish()
    unit("u1")
    Unit.objects.filter(pk="u1").update(checks_before={"boots": "works"})
    page = bench.client("guest").get("/units/u1/record/").content.decode()
    assert "Starts: works" in page
    assert "boots" not in page


def test_how_the_fault_was_sought_is_told_by_its_names_on_record_and_unit_page(
    bench: Bench,
) -> None:
    """Evidence of a machine without a fault: symptoms and tries, less what was taken back."""
    publish()
    unit("u1")
    for key, what in (
        ("f1", d.SymptomsConfirmed(shows=("shuts_off",))),
        ("f2", d.FaultTried(what="other_fan", outcome="good", text="turns")),
        ("f3", d.FaultTried(what="fan_sound", outcome="silent")),
        ("f4", d.FaultTakenBack(about="f3")),
    ):
        add_depot_event("u1", what, by="Ada", key=key)
    record = bench.client("guest").get("/units/u1/record/").content.decode()
    assert "Symptoms: Switches itself off" in record
    assert "Tried: Another fan: good; turns" in record
    assert "Fan by ear" not in record
    page = bench.client("guest").get("/units/u1/").content.decode()
    assert "Tried: Another fan: good" in page
    assert "<s>Tried: Fan by ear: silent</s>" in page


def test_the_pages_of_a_long_job_cost_few_questions(bench: Bench) -> None:
    whole_job()
    client = bench.client("guest")
    for address, most in (("/units/u1/", 30), ("/units/u1/record/", 25)):
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address).status_code == 200
        assert len(asked) <= most, [query["sql"][:90] for query in asked]
