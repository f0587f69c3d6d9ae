"""Finding the fault on the page: words become symptoms, an outcome is two taps, the mend leads into the plan."""

from __future__ import annotations

import re
import threading
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import OwnerData, StoredEvent
from lastscrew.bench.opening_tables import TableFolder, table_name
from lastscrew.bench.pages import faults
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.workshop.fault_desk import DESK, FaultDesk
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.proposing import Terms
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.run.events import Event, Exchanged, Opened
from tests.bench.conftest import Bench
from tests.bench.faults.radio import publish_radio, radio
from tests.bench.store.making import BY, publish, started, unit

pytestmark = pytest.mark.usefixtures("bench")


def said(client: Client, address: str, status: int = 200) -> str:
    """A page."""
    answer = client.get(address)
    assert answer.status_code == status
    return answer.content.decode()


def case(complaint: str = "No sound comes out.") -> str:
    """A unit with a complaint; the address of its fault."""
    publish_radio()
    key = unit(device="radio")
    OwnerData.objects.create(unit=key, complaint=complaint)
    return f"/units/{key}/fault/"


def proposed(page: str) -> str:
    """Id of the check or mend that is proposed."""
    box = page[page.index("next-try") :]
    found = re.search(r'name="what" value="([a-z0-9_]+)"', box)
    assert found is not None
    return found[1]


def test_from_the_owners_words_to_the_next_check_in_two_taps(bench: Bench) -> None:
    """Words propose, a person confirms; an outcome is one tap; the next proposal follows from it."""
    place = case()
    technician = bench.client("technician")
    page = said(technician, place)
    assert "next-try" not in page
    assert re.search(r'name="shows" value="silent" checked', page)
    technician.post(f"{place}symptoms/", {"event": "s1", "shows": "silent"})
    page = said(technician, place)
    first = proposed(page)
    outcomes = {**{k: c.outcomes for k, c in radio().checks.items()}, "volts": ("good", "bad")}
    bad = outcomes[first][-1]
    for _ in range(2):
        answer = technician.post(f"{place}tried/", {"event": "t1", "what": first, "outcome": bad})
        assert answer.status_code == 302
    assert StoredEvent.objects.filter(name="fault_tried").count() == 1
    after = said(technician, place)
    assert proposed(after) != first
    assert "What was tried" in after


def test_who_does_something_else_is_followed_and_a_doubtful_result_is_taken_back(
    bench: Bench,
) -> None:
    """Another check than proposed, a measured value with a comma, a mend; then one of them back."""
    place = case()
    technician = bench.client("technician")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    technician.post(f"{place}tried/", {"event": "t1", "what": "rail", "value": "4,2"})
    technician.post(f"{place}tried/", {"event": "t2", "what": "exchange_supply", "outcome": "done"})
    bodies = (
        StoredEvent.objects.filter(name="fault_tried")
        .order_by("position")
        .values_list("body", flat=True)
    )
    assert [body["outcome"] for body in bodies] == ["4.2", "done"]
    page = said(technician, place)
    assert "Mended by what was done" in page
    technician.post(f"{place}back/", {"about": "t2", "event": "b1"})
    page = said(technician, place)
    assert "Mended by what was done" not in page
    assert technician.post(f"{place}back/", {"about": "nothing"}).status_code == 302
    assert StoredEvent.objects.filter(name="fault_taken_back").count() == 1


def test_a_value_at_a_function_is_read_by_its_limits(bench: Bench) -> None:
    """The field has unit and limit; below the limit counts as bad does, above it as good does."""
    place = case()
    technician = bench.client("technician")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    page = said(technician, place)
    field = page[page.index('for="v-volts') :]
    assert "Value in V, at least 5" in field[: field.index("</label>")]
    chances = {}
    for number, told in enumerate(({"value": "4,9"}, {"outcome": "bad"}, {"value": "5"})):
        technician.post(f"{place}tried/", {"event": f"t{number}", "what": "volts", **told})
        page = said(technician, place)
        chances[number] = re.findall(r'class="p">([^<]*)<', page)
        if number == 0:
            assert "4.9 V (bad)" in page
        technician.post(f"{place}back/", {"about": f"t{number}"})
    assert chances[0] == chances[1] != chances[2]
    for typed in ("nan", "1e999", "five"):
        answer = technician.post(f"{place}tried/", {"what": "volts", "value": typed})
        assert answer.status_code == 422


def test_a_mend_leads_straight_into_its_plan(bench: Bench) -> None:
    """The link of the page is a plan that can be made."""
    place = case()
    technician = bench.client("technician")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    page = said(technician, place)
    links = set(re.findall(r'href="(/units/u1/plan/\?(?:replace|reach)=[^"]+)"', page))
    assert "/units/u1/plan/?replace=coil" in links
    assert said(technician, "/units/u1/plan/?replace=coil")


def test_the_work_speaks_too_what_is_open_and_what_was_exchanged(bench: Bench) -> None:
    """A job in hand: its open joints make checks inside cheaper, its exchange counts as a mend."""
    place = case()
    technician = bench.client("technician")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    asked = Request(replace=("coil",))
    steps = plan(radio(), asked).way_in
    happened = [Event(id="e0", what=started(radio(), replace=("coil",)))]
    happened += [Event(id=f"o{n}", what=Opened(joint=s.joint)) for n, s in enumerate(steps)]
    happened.append(Event(id="x", what=Exchanged(part="coil")))
    add_run_events("r1", happened, by=BY, unit="u1")
    page = said(technician, place)
    assert "from the work" in page
    assert "Mended by what was done" in page


def test_a_drop_or_liquid_is_reckoned_with(bench: Bench) -> None:
    """Said by the owner or seen at the counter: two faults at once."""
    place = case("It fell down the stairs and has no sound.")
    technician = bench.client("technician")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    assert "two faults at once are reckoned with" in said(technician, place)


def test_wrong_results_are_refused_on_the_page(bench: Bench) -> None:
    """Before symptoms are confirmed; an unknown check; nothing stored."""
    place = case()
    technician = bench.client("technician")
    answer = technician.post(f"{place}tried/", {"what": "hum", "outcome": "hums"})
    assert answer.status_code == 422
    technician.post(f"{place}symptoms/", {"shows": ["silent", "nonsense"]})
    for what, outcome in (("nothing", "hums"), ("hum", "green"), ("hum", "")):
        answer = technician.post(f"{place}tried/", {"what": what, "outcome": outcome})
        assert answer.status_code == 422
    assert not StoredEvent.objects.filter(name="fault_tried").exists()


def test_no_proposal_while_the_unit_is_set_apart_and_none_for_a_guest_to_answer(
    bench: Bench,
) -> None:
    """A hazard stops the normal way; a guest looks."""
    place = case()
    technician, guest = bench.client("technician"), bench.client("guest")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    assert "fault/tried/" not in said(guest, place)
    assert guest.post(f"{place}tried/", {}).status_code == 403
    what = d.HazardMet(what="swollen_pack", told="Lead", place="box", power_off=True)
    add_depot_event("u1", what, by=BY)
    assert "next-try" not in said(technician, place)


def test_a_device_without_faults_or_without_a_file_says_so(bench: Bench) -> None:
    """Then the plan is where one goes on."""
    publish("slate")
    unit("u7", device="pellam_slate_10")
    technician = bench.client("technician")
    assert "names no faults" in said(technician, "/units/u7/fault/")
    unit("u8", device="unheard_of")
    assert "no published device file" in said(technician, "/units/u8/fault/")
    assert technician.get("/units/u7/fault/next/").status_code == 204


def test_the_proposal_can_be_set_into_other_pages(bench: Bench) -> None:
    """As a piece of a page; nothing before somebody has confirmed symptoms."""
    place = case()
    technician = bench.client("technician")
    assert technician.get(f"{place}next/").status_code == 204
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    piece = said(technician, f"{place}next/")
    assert "<html" not in piece
    assert proposed(piece)


def test_the_page_asks_the_database_a_bounded_number_of_times(bench: Bench) -> None:
    """Whatever was tried."""
    place = case()
    technician = bench.client("technician")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    for number in range(5):
        technician.post(f"{place}tried/", {"event": f"t{number}", "what": "hum", "outcome": "hums"})
    technician.get(place)
    with CaptureQueriesContext(connection) as asked:
        technician.get(place)
    assert len(asked) <= 10, [query["sql"][:120] for query in asked]


def test_a_page_whose_proposal_is_being_worked_out_says_so_and_shows_it_later(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody waits for a search: the page answers at once, the piece of it says 202 until it is there."""
    desk = FaultDesk(wait_s=0.0)
    monkeypatch.setattr(faults, "DESK", desk)
    may_search, searches = threading.Event(), []
    search = FaultDesk.ask

    def slowly(*asked: object, **more: object) -> object:
        searches.append(asked)
        assert may_search.wait(60)
        return search(*asked, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(FaultDesk, "ask", slowly)
    place = case()
    technician = bench.client("technician")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    page = said(technician, place)
    assert "The next step is being worked out" in page
    assert 'data-looks-again="/units/u1/fault/next/"' in page
    assert "<noscript><meta http-equiv" in page
    assert technician.get(f"{place}next/").status_code == 202
    may_search.set()
    monkeypatch.setattr(desk, "wait_s", 60.0)
    assert technician.get(f"{place}next/").status_code == 200
    assert len(searches) == 1
    monkeypatch.setattr(desk, "wait_s", 0.0)
    assert proposed(said(technician, place))


def test_what_was_tried_is_named_even_before_anything_is_proposed(bench: Bench) -> None:
    """Checks, mends and functions by their names; a part that was exchanged before the symptoms are confirmed."""
    place = case()
    told = Event(id="e0", what=started(radio(), replace=("coil",)))
    add_run_events("r1", [told, Event(id="x", what=Exchanged(part="coil"))], by=BY, unit="u1")
    page = said(bench.client("technician"), place)
    tried = page[page.index('id="tried"') :]
    tried = tried[: tried.index("</section>")]
    assert "exchange_coil" not in tried
    assert "<b>Exchange Coil</b>" in tried or "Coil" in tried


def test_the_work_has_the_proposal_in_few_words_and_an_outcome_leads_back_to_it(
    bench: Bench,
) -> None:
    """Next thing, outcomes, whatever else was done; told from the work page, one is at the work page again."""
    place = case()
    technician = bench.client("technician")
    add_run_events(
        "r1", [Event(id="e0", what=started(radio(), replace=("coil",)))], by=BY, unit="u1"
    )
    assert technician.get(f"{place}next/?on=work").status_code == 204
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    box = said(technician, f"{place}next/?on=work")
    first = re.search(r'name="what" value="([a-z0-9_]+)"', box)
    assert first is not None
    assert 'name="back" value="work"' in box
    assert "I have done something else" in box
    assert len(re.findall(r' id="([^"]+)"', box)) == len(set(re.findall(r' id="([^"]+)"', box)))
    shown = DESK.soon(radio(), Evidence(("silent",)), (), Terms())
    assert shown is not None
    works = {work.id for work in shown.works_known}
    assert set(re.findall(r'name="what" value="([a-z0-9_]+)"', box)) == works
    told = {"what": first[1], "outcome": "bad", "back": "work"}
    work = next(work for work in shown.works_known if work.id == first[1])
    told["outcome"] = work.outcomes[-1].outcome
    assert technician.post(f"{place}tried/", told).headers["Location"] == "/runs/r1/work/"
    assert said(technician, f"{place}next/?on=work") != box
    assert f'data-from="{place}next/?on=work"' in said(technician, "/runs/r1/work/")
    guest = said(bench.client("guest"), f"{place}next/?on=work")
    assert 'name="what"' not in guest


def test_a_device_file_is_looked_over_ahead_when_it_is_published(tmp_path: Path) -> None:
    """What opening costs lies there afterwards; somebody who waits comes first."""
    desk = FaultDesk(wait_s=60.0)
    folder = TableFolder(tmp_path)
    desk.warm_up(radio(), folder)
    assert desk.soon(radio(), Evidence(shows=("silent",)), (), Terms(), folder=folder)
    desk.warm_up(radio(), folder)
    assert folder.read(table_name(radio(), Terms())) is not None


def test_a_proposal_that_was_kept_is_told_in_the_language_of_who_asks(bench: Bench) -> None:
    """Worked out once, for an English page; a German one says it in German."""
    place = case()
    technician = bench.client("technician")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    assert "no strategy" in said(technician, place)
    answer = technician.get(place, headers={"accept-language": "de"})
    assert "no strategy" not in answer.content.decode()
    box = technician.get(f"{place}next/?on=work", headers={"accept-language": "de"})
    assert "Fehler, als Nächstes" in box.content.decode()
