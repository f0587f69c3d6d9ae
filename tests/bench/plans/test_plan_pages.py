"""The page of a plan: chosen, shown, printed, begun; what speaks against beginning is said."""

from __future__ import annotations

import io
import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import Run, StoredEvent, Unit
from lastscrew.bench.pages.plans import unit_place
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.store.jobs import load_job
from lastscrew.bench.workshop.planning import tray_of
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.run.events import CountCorrected, Event, Opened
from tests.bench.conftest import Bench
from tests.bench.store.making import BY, demo, publish, started, unit

pytestmark = pytest.mark.usefixtures("bench")


def said(client: Client, address: str, status: int = 200) -> str:
    """A page."""
    answer = client.get(address)
    assert answer.status_code == status, answer.content.decode()[:1500]
    return answer.content.decode()


def form_of(page: str) -> dict[str, str]:
    """The hidden fields of the form that begins a job."""
    form = page[page.index('class="begin') :]
    fields = re.findall(r'name="([a-z]+)" value="([^"]*)"', form[: form.index("</form>")])
    return {name: value.replace("&amp;", "&") for name, value in fields if name != "saved"}


def test_a_job_is_chosen_planned_and_begun_once(bench: Bench) -> None:
    """From nothing chosen to a job in hand; the form sent twice begins it once, with what was asked."""
    publish()
    key = unit()
    technician = bench.client("technician")
    assert "What is to be exchanged?" in said(technician, f"/units/{key}/plan/")
    page = said(technician, f"/units/{key}/plan/?replace=fan&without=io_ribbon&lacks=backlight")
    form = form_of(page)
    for _ in range(2):
        answer = technician.post(f"/units/{key}/plan/start/", {**form, "saved": "1"})
        assert answer.status_code == 302, answer.content.decode()[:3000]
    assert answer["Location"] == f"/runs/{form['run']}/work/"
    assert StoredEvent.objects.filter(name="started").count() == 1
    state = load_job(form["run"]).state
    assert (state.replace, state.without, state.not_fitted) == (
        ("fan",),
        ("io_ribbon",),
        ("backlight",),
    )
    assert state.revision == demo().revision_hash
    assert state.unit == "SN-u1"
    assert Unit.objects.get().run == form["run"]
    again = said(technician, f"/units/{key}/plan/?replace=fan")
    assert "A job is in hand on this unit." in again
    assert "Begin the job" not in again


def test_the_page_shows_what_the_planner_says(bench: Bench) -> None:
    """Every joint of the plan, its range, its hazards, what would be lost; the V as a drawing and as a list."""
    publish()
    page = said(bench.client("guest"), f"/devices/{demo().id}/plan/?replace=board")
    found = plan(demo(), Request(replace=("board",)))
    assert page.count('<li value="') == len(found.way_in) + len(found.way_out)
    assert "<svg" in page
    assert "Lithium pack. Do not bend" in page
    assert "Would be lost" in page
    assert "LM-300" in page
    assert "Begin the job" not in page


def test_what_lies_in_stock_stands_beside_what_is_needed(bench: Bench) -> None:
    """By order code, with its place."""
    publish()
    add_depot_event("", d.StockCounted(item="code:LM-351", count=3, place="shelf 4"), by=BY)
    add_depot_event("", d.StockCounted(item="code:LM-C031", count=0), by=BY)
    page = said(bench.client("guest"), f"/devices/{demo().id}/plan/?replace=fan")
    table = page[page.index('id="have"') : page.index('id="prove"')]
    rows = re.findall(r"<tr( class=\"short\")?><th scope=\"row\">([^<]+)", table)
    assert ("", "Fan ") in rows
    assert "shelf 4" in page
    assert len([row for row in rows if row[0]]) == len(rows) - 1
    assert "order</b>" in page


def test_no_job_begins_while_the_unit_is_set_apart_or_unsaid_losses_wait(bench: Bench) -> None:
    """Refused on the server too, with the reason; nothing is stored."""
    publish()
    technician = bench.client("technician")
    key = unit()
    page = said(technician, f"/units/{key}/plan/?replace=board")
    form = form_of(page)
    answer = technician.post(f"/units/{key}/plan/start/", form)
    assert answer.status_code == 422
    assert "Something would be lost." in answer.content.decode()
    other = unit("u2", pack="swollen")
    assert "Begin the job" not in said(technician, f"/units/{other}/plan/?replace=board")
    answer = technician.post(f"/units/{other}/plan/start/", {**form, "saved": "1"})
    assert answer.status_code == 422
    assert "set apart" in answer.content.decode()
    assert not Run.objects.exists()


def test_a_unit_that_is_set_apart_has_no_plan_but_why_and_what_is_allowed(bench: Bench) -> None:
    """Cautions come first, no steps and no sheet; scrap, exchange and clearing are offered."""
    publish()
    key = unit()
    met = d.HazardMet(what="swollen_pack", told="Lea", place="sand box", power_off=True)
    add_depot_event(key, met, by="Ada")
    technician = bench.client("technician")
    page = said(technician, f"/units/{key}/plan/?replace=fan")
    assert "Set apart: swollen pack" in page
    assert page.index('class="hazard warning"') < page.index("Why no job begins here")
    assert "can catch fire" in page
    for told in ("Ada", "Lea", "sand box"):
        assert told in page
    assert "v-sheet" not in page
    assert 'name="replace"' not in page
    assert f"/units/{key}/hand-back/?outcome=scrapped" in page
    assert "Have a lead clear it" in page
    assert "Clear it: say who" in said(bench.client("lead"), f"/units/{key}/plan/")
    assert "hand-back" not in said(bench.client("guest"), f"/units/{key}/plan/")
    sheet = technician.get(f"/units/{key}/plan/sheet.pdf?replace=fan")
    assert "Set apart" in sheet.content.decode()
    add_depot_event(key, d.HazardCleared(person="Lea", reason="new pack"), by="Lea")
    assert "v-sheet" in said(technician, f"/units/{key}/plan/?replace=fan")


def test_a_plan_by_an_older_revision_is_looked_at_again_before_it_begins(bench: Bench) -> None:
    """Somebody has published meanwhile."""
    publish()
    key = unit()
    technician = bench.client("technician")
    form = form_of(said(technician, f"/units/{key}/plan/?replace=fan"))
    answer = technician.post(
        f"/units/{key}/plan/start/", {**form, "saved": "1", "revision": "0" * 64}
    )
    assert answer.status_code == 422
    assert "Another revision" in answer.content.decode()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("replace=fann", "Did you mean"),
        ("replace=fan&without=fan_screws", "may not be opened"),
        ("reach=nowhere", "There is no joint"),
        ("replace=%2B%2B", "A name is missing"),
    ],
)
def test_what_can_not_be_planned_is_said_and_what_was_chosen_stays(
    bench: Bench, asked: str, words: str
) -> None:
    """Wrong names, impossible wishes: the form is still there."""
    publish()
    page = said(bench.client("guest"), f"/devices/{demo().id}/plan/?{asked}", 422)
    assert words in page
    assert 'id="choose-form"' in page


def test_a_tap_on_the_drawing_adds_a_part_and_a_second_one_drops_it(bench: Bench) -> None:
    """Without any script: each part of the drawing is a link."""
    publish()
    guest = bench.client("guest")
    address = f"/devices/{demo().id}/plan/"
    answer = guest.get(f"{address}?replace=fan&toggle=pack&side=bottom&layer=1")
    assert answer["Location"] == f"{address}?replace=fan&replace=pack&side=bottom&layer=1"
    answer = guest.get(f"{address}?replace=fan&replace=pack&toggle=fan&side=bottom&layer=1")
    assert answer["Location"] == f"{address}?replace=pack&side=bottom&layer=1"
    page = said(guest, f"{address}?replace=pack&side=bottom&layer=1")
    assert re.search(r'data-choose="pack"><g class="part chosen"', page)
    assert f"{address}?replace=fan%2Bpack" in said(guest, f"{address}?replace=fan&replace=pack")


def test_a_job_in_hand_is_planned_from_what_is_open(bench: Bench) -> None:
    """Two joints open: they are no steps of the way in, and are closed on the way out."""
    publish()
    key = unit()
    first = plan(demo(), Request(replace=("fan",))).way_in[:2]
    events = [Event(id="e0", what=started(replace=("fan",)))]
    events += [Event(id=f"o{n}", what=Opened(joint=s.joint)) for n, s in enumerate(first)]
    add_run_events("r1", events, by=BY, unit=key)
    page = said(bench.client("technician"), f"/units/{key}/plan/")
    assert "Exchange Fan" in page
    rest = plan(demo(), Request(replace=("fan",), opened=tuple(s.joint for s in first)))
    assert page.count('<li value="') == len(rest.way_in) + len(rest.way_out)
    assert "Open at the start:" in page


def test_targets_of_a_job_in_hand_are_added_and_dropped_from_its_plan(bench: Bench) -> None:
    """The fan was begun; the pack comes to it, the fan is left out: once each, and work goes on."""
    publish()
    key = unit()
    add_run_events("r1", [Event(id="e0", what=started(replace=("fan",)))], by=BY, unit=key)
    technician = bench.client("technician")
    assert "Change the job in hand" not in said(technician, f"/units/{key}/plan/")
    page = said(technician, f"/units/{key}/plan/?replace=pack")
    assert "Comes to the job: Battery pack." in page
    assert "Is left out of it: Fan." in page
    form = form_of(page)
    for _ in range(2):
        answer = technician.post(f"/units/{key}/plan/change/", form)
        assert answer["Location"] == "/runs/r1/work/"
    state = load_job("r1").state
    assert state.replace == ("pack",)
    assert state.version == 3
    wrong = technician.post(f"/units/{key}/plan/change/", {**form, "asked": "replace=nothing"})
    assert wrong.status_code == 422


def test_sheet_and_tray_map_are_printed_and_what_is_wrong_is_a_page(bench: Bench) -> None:
    """A PDF that can be read, a drawing in millimetres; a wrong name, nothing to lay in a tray."""
    publish()
    guest = bench.client("guest")
    key = unit()
    answer = guest.get(f"/units/{key}/plan/sheet.pdf?replace=fan")
    assert answer["Content-Type"] == "application/pdf"
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    assert "Exchange Fan" in text or "Fan" in text
    drawn = guest.get(f"/units/{key}/plan/tray.svg?replace=fan")
    assert drawn["Content-Type"] == "image/svg+xml"
    assert b"mm" in drawn.content
    assert guest.get(f"/devices/{demo().id}/plan/tray.svg?replace=nothing").status_code == 422
    assert guest.get(f"/devices/{demo().id}/plan/sheet.pdf").status_code == 422


def test_a_unit_without_a_device_file_says_what_is_missing(bench: Bench) -> None:
    """A device nobody has described; an unknown unit is none."""
    key = unit(device="somewhat")
    page = said(bench.client("technician"), f"/units/{key}/plan/")
    assert "no published device file for somewhat" in page
    assert bench.client("technician").get("/units/none/plan/").status_code == 404


def test_a_guest_may_look_and_not_begin(bench: Bench) -> None:
    """Rights of the routes."""
    publish()
    key = unit()
    guest = bench.client("guest")
    assert "Begin the job" not in said(guest, f"/units/{key}/plan/?replace=fan")
    assert guest.post(f"/units/{key}/plan/start/", {}).status_code == 403


def test_a_plan_asks_the_database_a_bounded_number_of_times(bench: Bench) -> None:
    """With a unit, stock and measured times."""
    publish()
    key = unit()
    technician = bench.client("technician")
    technician.get(f"/units/{key}/plan/?replace=board")
    with CaptureQueriesContext(connection) as asked:
        technician.get(f"/units/{key}/plan/?replace=board")
    assert len(asked) <= 10, [query["sql"][:120] for query in asked]


def test_the_plan_of_a_job_in_hand_goes_by_what_was_counted_in_the_machine(bench: Bench) -> None:
    """Told "there are five" where the file says three: page and tray say five, for this machine alone."""
    publish()
    key = unit()
    first = Event(id="e0", what=started(replace=("fan",)))
    told = Event(id="e1", what=CountCorrected(joint="fan_screws", count=5))
    add_run_events("r1", [first, told], by=BY, unit=key)
    technician = bench.client("technician")
    page = said(technician, f"/units/{key}/plan/")
    assert "5 were counted, the device file says 3" in page
    before = said(technician, f"/devices/{demo().id}/plan/?replace=fan")
    assert [page.count(f"<b>Fan screws</b> {n} ") for n in (3, 5)] == [0, 2]  # way in, way out
    assert [before.count(f"<b>Fan screws</b> {n} ") for n in (3, 5)] == [2, 0]
    place = unit_place(Unit.objects.get())
    assert place is not None
    tray = tray_of(place.plan(place.standing).briefing)
    assert tray is not None
    assert [g.pieces[0][1] for g in tray.groups if g.joint == "fan_screws"] == [5]
