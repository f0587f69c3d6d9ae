"""Taking in by page: one machine, many from a table, hazards, repeats; sent twice, stored once."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from django.test import Client
from PIL import Image

from lastscrew.bench.depot.events import HandedBack
from lastscrew.bench.models import OwnerData, Photo, Revision, StoredEvent, Unit
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.store.clock import now_ms
from lastscrew.run import events as e
from tests.bench.conftest import Bench
from tests.bench.store.making import begin, event, publish, unit

KEY = "ab" * 16
FORM = {
    "key": KEY,
    "device": "larkmoor_13",
    "serial": "LK-77",
    "complaint": "Does not start.",
    "owner_name": "Ada Quill",
    "owner_contact": "ada@example.org",
    "pack": "sound",
    "way_to_test": "guest_account",
    "check_boots": "fails",
    "accessories": "charger\nbag",
    "place": "shelf 3",
    "due": "2031-05-01",
}


def send(client: Client, **changes: Any) -> Any:  # noqa: ANN401 (a response of the test client)
    return client.post("/take-in/", {**FORM, **changes})


def picture() -> io.BytesIO:
    out = io.BytesIO(b"")
    Image.new("RGB", (40, 30), "red").save(out, "JPEG")
    out.name = "lid.jpg"
    out.seek(0)
    return out


def test_a_machine_is_taken_in_with_its_owner_apart_from_the_events(bench: Bench) -> None:
    publish()
    answer = send(bench.client("technician"))
    assert answer.status_code == 302
    assert answer.headers["Location"] == f"/units/{KEY}/?new=1"
    made = Unit.objects.get(pk=KEY)
    assert (made.number, made.serial, made.place, made.stage) == (1, "LK-77", "shelf 3", "taken_in")
    assert made.checks_before == {"boots": "fails"}
    assert OwnerData.objects.get(pk=KEY).complaint == "Does not start."
    kept = " ".join(str(body) for body in StoredEvent.objects.values_list("body", flat=True))
    assert all(word not in kept for word in ("Quill", "example.org", "Does not start"))
    page = bench.client("guest").get(f"/units/{KEY}/").content.decode()
    assert "U000001" in page
    assert "Does not start." in page
    assert "shelf 3" in page


def test_the_same_form_sent_twice_takes_one_machine_in(both: Bench) -> None:
    publish()
    client = both.client("technician")
    first, second = send(client), send(client)
    assert first.headers["Location"].startswith(second.headers["Location"])
    assert Unit.objects.count() == 1
    assert StoredEvent.objects.filter(name="taken_in").count() == 1


def test_what_is_wrong_is_told_at_its_field_and_nothing_is_stored(bench: Bench) -> None:
    publish()
    answer = send(bench.client("technician"), condition="password: hunter2", due="soon")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'href="#condition"' in page
    assert 'id="condition-wrong"' in page
    assert 'aria-describedby="due-wrong' in page
    assert "no_pass_code" in page
    assert "Does not start." in page
    assert not Unit.objects.exists()
    sure = send(bench.client("technician"), condition="password: hunter2", no_pass_code="1")
    assert sure.status_code == 302


def test_a_swollen_pack_sets_the_machine_apart_until_a_lead_clears_it(bench: Bench) -> None:
    publish()
    technician, lead = bench.client("technician"), bench.client("lead")
    hazard = {"pack": "swollen", "check_boots": ""}
    assert send(technician, **hazard).status_code == 422
    told = {"told": "Mr Moss", "hazard_place": "metal box", "power_off": "1"}
    assert send(technician, **hazard, **told).status_code == 302
    made = Unit.objects.get(pk=KEY)
    assert (made.stage, made.hazard, made.place) == ("set_apart", "swollen_pack", "metal box")
    page = technician.get(f"/units/{KEY}/").content.decode()
    assert "WARNING" in page
    assert "/plan/" not in page
    clear = {
        "tell": "hazard_cleared",
        "person": "Lea",
        "reason": "pack taken out",
        "event": "c" * 32,
    }
    assert technician.post(f"/units/{KEY}/clear-hazard/", clear).status_code == 403
    assert technician.post(f"/units/{KEY}/tell/", clear).status_code == 302
    assert Unit.objects.get(pk=KEY).stage == "set_apart"
    assert lead.post(f"/units/{KEY}/clear-hazard/", clear).status_code == 302
    assert Unit.objects.get(pk=KEY).stage == "taken_in"


def test_earlier_work_on_the_serial_is_shown_and_a_repeat_pointed_out(bench: Bench) -> None:
    begin("r1", "u1", replace=("fan",))
    add_run_events("r1", [event("r1-x", e.Exchanged(part="fan"))], by="Ada")
    add_run_events("r1", [event("r1-f", e.Finished(outcome="repaired"))], by="Ada")
    add_depot_event("u1", HandedBack(outcome="repaired"), by="Ada")
    Unit.objects.filter(pk="u1").update(
        serial="LK-77", serial_key="lk-77", gone_ms=now_ms() - 5 * 86_400_000
    )
    page = (
        bench.client("technician").get("/take-in/?device=larkmoor_13&serial=lk-77").content.decode()
    )
    assert "It is back." in page
    assert "U000001 left 5 days ago" in page
    assert "exchanged: fan" in page
    assert 'name="check_boots"' in page


def test_a_serial_that_is_here_is_not_taken_in_twice(bench: Bench) -> None:
    publish()
    unit("u1", serial="LK-77")
    page = (
        bench.client("technician").get("/take-in/?device=larkmoor_13&serial=LK-77").content.decode()
    )
    assert "here already, as U000001" in page
    assert send(bench.client("technician")).status_code == 422


@pytest.mark.parametrize(("here", "typed"), [("ÖL-77É", "öl-77é"), ("ÄR 5", "är 5"), ("öl", "ÖL")])
def test_a_serial_number_is_known_in_small_letters_and_capitals_beyond_a_to_z(
    both: Bench, here: str, typed: str
) -> None:
    publish()
    unit("u1", serial=here)
    query = {"device": "larkmoor_13", "serial": typed, "next": "1"}
    page = both.client("technician").get("/take-in/", query).content.decode()
    assert "here already, as U000001" in page
    add_depot_event("u1", HandedBack(outcome="scrapped"), by="Ada")
    page = both.client("technician").get("/take-in/", query).content.decode()
    assert "here already" not in page
    assert "U000001" in page


def test_photos_are_kept_without_what_hides_in_them_and_what_is_none_is_said(bench: Bench) -> None:
    publish()
    client = bench.client("technician")
    nonsense = io.BytesIO(b"<script>alert(1)</script>")
    nonsense.name = "lid.png"
    answer = client.post("/take-in/", {**FORM, "photos": [picture(), nonsense]}, follow=True)
    page = answer.content.decode()
    assert "lid.png" in page
    assert Photo.objects.count() == 1
    shown = client.get(f"/photos/{Photo.objects.get().pk}")
    assert shown.headers["Content-Type"] == "image/jpeg"
    assert "sandbox" in shown.headers["Content-Security-Policy"]
    again = client.get(
        f"/photos/{Photo.objects.get().pk}", headers={"If-None-Match": shown.headers["ETag"]}
    )
    assert again.status_code == 304


def test_an_owner_is_erased_by_a_lead_alone_and_the_picture_with_them(bench: Bench) -> None:
    publish()
    bench.client("technician").post("/take-in/", {**FORM, "photos": [picture()]})
    photo = Photo.objects.get().pk
    seen = bench.client("technician").get(f"/photos/{photo}")
    # What may have to be erased is kept by no browser, and a guest sees the machine only.
    assert (seen.status_code, seen.headers["Cache-Control"]) == (200, "no-store")
    assert bench.client("guest").get(f"/photos/{photo}").status_code == 403
    for page in (f"/units/{KEY}/", f"/units/{KEY}/record/"):
        shows = f'<img src="/photos/{photo}"'
        assert shows in bench.client("technician").get(page).content.decode()
        assert shows not in bench.client("guest").get(page).content.decode()
    assert (
        bench.client("technician").post(f"/units/{KEY}/erase/", {"reason": "asked"}).status_code
        == 403
    )
    assert bench.client("lead").post(f"/units/{KEY}/erase/", {"reason": "asked"}).status_code == 302
    page = bench.client("lead").get(f"/units/{KEY}/").content.decode()
    assert "Ada Quill" not in page
    assert "Does not start." not in page
    assert bench.client("lead").get(f"/photos/{photo}").status_code == 410


# --- many at once ---------------------------------------------------------------------------------

GOOD = 'device,serial,complaint,place\nLarkmoor 13,S1,loud,shelf 1\nlarkmoor_13,S2,"dark, cold",shelf 2\n'


def test_a_table_is_shown_before_anything_is_stored_and_then_stored_once(both: Bench) -> None:
    publish()
    client = both.client("technician")
    file = io.BytesIO(GOOD.encode())
    file.name = "machines.csv"
    preview = client.post("/take-in/batch/", {"table": file, "key": KEY})
    page = preview.content.decode()
    assert preview.status_code == 200
    assert "Nothing is stored yet" in page
    assert "dark, cold" in page
    assert not Unit.objects.exists()
    for _twice in range(2):
        stored = client.post("/take-in/batch/", {"text": GOOD, "key": KEY, "store": "1"})
        assert stored.headers["Location"] == f"/take-in/batch/{KEY}/"
    assert sorted(Unit.objects.values_list("serial", "place")) == [
        ("S1", "shelf 1"),
        ("S2", "shelf 2"),
    ]
    assert OwnerData.objects.count() == 2
    assert "S2" in client.get(f"/take-in/batch/{KEY}/").content.decode()


def test_one_wrong_row_keeps_the_whole_table_out(bench: Bench) -> None:
    publish()
    bad = GOOD + "elmtop,S3,,\n"
    answer = bench.client("technician").post(
        "/take-in/batch/", {"text": bad, "key": KEY, "store": "1"}
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "No device is called “elmtop”" in page
    assert not Unit.objects.exists()


def test_a_row_that_came_in_meanwhile_is_told(bench: Bench) -> None:
    publish()
    unit("u1", serial="S2")
    answer = bench.client("technician").post(
        "/take-in/batch/", {"text": GOOD, "key": KEY, "store": "1"}
    )
    assert "here already, as U000001" in answer.content.decode()
    assert Unit.objects.count() == 1


def test_text_in_a_table_is_never_markup(bench: Bench) -> None:
    publish()
    text = "device,serial,complaint\nlarkmoor_13,<script>x</script>,</textarea><script>y</script>\n"
    page = (
        bench.client("technician")
        .post("/take-in/batch/", {"text": text, "key": KEY})
        .content.decode()
    )
    assert "<script>x" not in page
    assert "<script>y" not in page


@pytest.mark.parametrize("address", ["/take-in/", "/take-in/batch/", "/take-in/batch/example.csv"])
def test_a_guest_takes_nothing_in(bench: Bench, address: str) -> None:
    assert bench.client("guest").get(address).status_code == 403


def test_a_table_says_which_machines_are_back(bench: Bench) -> None:
    publish()
    unit("u1", serial="S1")
    add_depot_event("u1", HandedBack(outcome="no_fault_found", evidence="ran"), by="Ada")
    Unit.objects.filter(pk="u1").update(gone_ms=now_ms() - 3 * 86_400_000)
    page = (
        bench.client("technician")
        .post("/take-in/batch/", {"text": GOOD, "key": KEY})
        .content.decode()
    )
    assert "back after 3 days" in page
    assert page.count("U000001") == 1


def test_a_link_with_a_serial_number_alone_asks_for_the_rest_without_reproach(bench: Bench) -> None:
    publish()
    client = bench.client("technician")
    assert 'role="alert"' not in client.get("/take-in/?serial=NEW-1").content.decode()
    assert 'role="alert"' in client.get("/take-in/?serial=NEW-1&next=1").content.decode()
    nothing = client.get("/take-in/?device=&device_words=&serial=&asset_tag=&next=1")
    assert 'role="alert"' in nothing.content.decode()
    assert 'role="alert"' not in client.get("/take-in/").content.decode()


STOPPED = "device,serial,battery,liquid\nlarkmoor_13,S1,swollen,\nlarkmoor_13,S2,sound,\nlarkmoor_13,S3,,yes\n"


def answers(page: str) -> list[str]:
    """Marks of the rows that ask about their hazard, from top to bottom."""
    return re.findall(r'name="told\.([0-9a-f]{16}-1)"', page)


def test_each_row_with_a_hazard_asks_who_was_told_where_it_was_put_and_that_it_is_off(
    both: Bench,
) -> None:
    publish()
    client = both.client("technician")
    sent = {"text": STOPPED, "key": KEY}
    first = client.post("/take-in/batch/", sent).content.decode()
    one, three = answers(first)
    assert first.count("Answer it below.") == 6
    assert "WARNING" in first
    assert f'name="power_off.{one}"' in first
    said = {f"told.{one}": "Bo Finch", f"hazard_place.{one}": "sand box", f"power_off.{one}": "1"}
    again = client.post("/take-in/batch/", {**sent, **said, f"told.{three}": "Cy"})
    page = again.content.decode()
    assert again.status_code == 422
    assert page.count("Answer it below.") == 2
    assert 'value="Bo Finch"' in page
    assert 'value="Cy"' in page
    assert re.search(rf'name="power_off.{one}" value="1" checked', page)
    assert not Unit.objects.exists()
    # A row above goes: the answers stay with their machines.
    said |= {f"told.{three}": "Cy", f"hazard_place.{three}": "sink", f"power_off.{three}": "1"}
    shorter = STOPPED.replace("larkmoor_13,S2,sound,\n", "").split("\n")
    moved = "\n".join([shorter[0], shorter[2], shorter[1], ""])
    kept = client.post("/take-in/batch/", {"text": moved, "key": KEY, **said})
    assert kept.status_code == 200
    assert answers(kept.content.decode()) == [three, one]
    client.post("/take-in/batch/", {"text": moved, "key": KEY, **said, "store": "1"})
    assert sorted(Unit.objects.values_list("serial", "stage", "place", "hazard")) == [
        ("S1", "set_apart", "sand box", "swollen_pack"),
        ("S3", "set_apart", "sink", "liquid"),
    ]
    told = StoredEvent.objects.filter(name="hazard_met").order_by("position")
    assert [row.body["told"] for row in told] == ["Cy", "Bo Finch"]


def test_a_table_with_more_cells_than_a_database_takes_at_once_is_looked_at(both: Bench) -> None:
    publish()
    head = "device,serial,condition,seals\n"
    rows = "".join(f"larkmoor_13,N{n},as new,whole\n" for n in range(1000))
    page = both.client("technician").post("/take-in/batch/", {"text": head + rows, "key": KEY})
    assert page.status_code == 200


def test_signs_that_turn_the_order_of_letters_do_not_stay_in_a_serial_number(both: Bench) -> None:
    publish()
    send(both.client("technician"), serial="AB\u202eDC\u2066-1")
    assert Unit.objects.get().serial == "ABDC-1"
    text = "device,serial\nlarkmoor_13,AB\u202eDC-1\n"
    page = both.client("technician").post("/take-in/batch/", {"text": text, "key": "cd" * 16})
    assert page.status_code == 422
    assert "here already, as U000001" in page.content.decode()


def test_the_table_to_begin_with_holds_no_formula_whatever_a_device_is_called(bench: Bench) -> None:
    device = publish()
    Revision.objects.filter(device=device.id).update(name="=HYPERLINK(1)")
    text = bench.client("lead").get("/take-in/batch/example.csv").content.decode("utf-8-sig")
    cells = [cell for line in text.splitlines() for cell in line.split(",")]
    assert device.id in cells
    assert [cell for cell in cells if cell[:1] in ("=", "+", "-", "@", "\t", "\r")] == []
