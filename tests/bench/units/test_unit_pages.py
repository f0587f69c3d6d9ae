"""The page of a unit, its labels, and stock: what is told there becomes an event, once, or is refused with a reason."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
import zxingcpp
from django.test import Client
from PIL import Image
from pypdf import PdfReader

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.labels import Label, labels_page
from lastscrew.bench.depot.next_steps import Standing, next_steps
from lastscrew.bench.models import Item, OwnerData, Revision, StoredEvent, Unit
from lastscrew.bench.queries.story import story_of
from lastscrew.bench.serving.press import PRESS
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.paper.qr import draw_code
from lastscrew.run import events as e
from tests.bench.conftest import Bench
from tests.bench.store.making import begin, event, publish, unit

EVENT = "cd" * 16


def tell(client: Client, name: str, **fields: str) -> Any:  # noqa: ANN401 (a response)
    return client.post("/units/u1/tell/", {"tell": name, "event": EVENT, **fields})


def test_what_is_told_twice_with_one_key_is_one_event(bench: Bench) -> None:
    publish()
    unit("u1")
    client = bench.client("technician")
    for _twice in range(2):
        assert tell(client, "placed", place="bench 7").status_code == 302
    assert StoredEvent.objects.filter(name="placed").count() == 1
    assert Unit.objects.get(pk="u1").place == "bench 7"


def test_a_correction_tells_only_what_changed(bench: Bench) -> None:
    publish()
    unit("u1", condition="scratched", pack="sound")
    form = {
        "device": "larkmoor_13",
        "serial": "SN-u1",
        "condition": "scratched, dented",
        "pack": "sound",
    }
    assert tell(bench.client("technician"), "described", **form).status_code == 302
    body = StoredEvent.objects.get(name="described").body
    assert {key for key in body if key not in {"id", "event", "at", "stored", "by"}} == {
        "condition"
    }
    nothing = tell(
        bench.client("technician"), "described", event="e" * 32, condition="scratched, dented"
    )
    assert nothing.status_code == 422


@pytest.mark.parametrize(
    ("name", "fields", "words"),
    [
        ("placed", {"place": ""}, "Something is missing"),
        ("hazard_met", {"what": "liquid", "told": "Lea", "place": "box"}, "no charger"),
        ("custody", {"item": "Drive", "state": "eaten", "person": "Ada"}, "must be one of"),
        (
            "custody",
            {"item": "Drive", "state": "returned", "person": "Ada"},
            "not taken into custody",
        ),
        ("described", {"condition": "PIN: 4711"}, "pass code"),
    ],
)
def test_what_makes_no_sense_is_refused_with_a_reason(
    bench: Bench, name: str, fields: dict[str, str], words: str
) -> None:
    publish()
    unit("u1")
    answer = tell(bench.client("technician"), name, **fields)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not StoredEvent.objects.filter(name=name).exists()


def test_a_hazard_found_later_sets_it_apart_and_the_page_no_longer_calls_the_pack_sound(
    bench: Bench,
) -> None:
    publish()
    unit("u1", pack="sound")
    client = bench.client("technician")
    form = {"serial": "SN-u1", "pack": "swollen"}
    assert tell(client, "described", event="1" * 32, **form).status_code == 422
    met = {"what": "swollen_pack", "told": "Lea", "place": "sand box", "power_off": "1"}
    for _twice in range(2):
        tell(client, "hazard_met", **met)
    row = Unit.objects.get(pk="u1")
    assert (row.stage, row.pack, row.place) == ("set_apart", "swollen", "sand box")
    assert StoredEvent.objects.filter(unit="u1", name="described").count() == 1


def test_a_disk_that_was_taken_out_is_followed_until_it_is_returned(bench: Bench) -> None:
    publish()
    unit("u1")
    client = bench.client("technician")
    tell(client, "custody", item="Drive 7", state="held", place="safe", person="Ada")
    page = client.get("/units/u1/").content.decode()
    assert "Drive 7" in page
    assert "held here" in page
    tell(client, "custody", event="f" * 32, item="Drive 7", state="returned", person="Bo")
    assert "returned to the owner" in client.get("/units/u1/").content.decode()
    # The record shows the whole way: where, who, and what became of it.
    record = client.get("/units/u1/record/").content.decode()
    (table,) = re.findall(r'<table class="custody">(.*?)</table>', record, re.DOTALL)
    rows = [re.sub(r"<[^>]+>", "|", row) for row in table.split("<tr>")[2:]]
    assert [[word for word in row.split("|") if word][:4] for row in rows] == [
        ["Drive 7", "held here", "safe", "Ada"],
        ["Drive 7", "returned to the owner", "–", "Bo"],
    ]


def test_the_history_is_in_order_and_openings_by_one_person_are_one_line(bench: Bench) -> None:
    begin("r1", "u1", replace=("fan",))
    opened = [event(f"o{j}", e.Opened(joint=j)) for j in ("cover_screws", "cover_clips")]
    add_run_events("r1", [*opened, event("n1", e.Noted(text="<b>dusty</b>"))], by="Ada")
    add_run_events("r1", [event("t1", e.TakenBack(about="n1"))], by="Ada")
    page = bench.client("guest").get("/units/u1/").content.decode()
    assert "2 joints opened: Cover screws, Cover clips" in page
    assert "<b>dusty" not in page
    assert "taken back" in page
    assert page.index("Taken in as U000001") < page.index("2 joints opened")


def test_an_act_that_was_confirmed_and_then_done_is_one_line(bench: Bench) -> None:
    device = publish()
    act = next(iter(device.acts))
    begin("r1", "u1", replace=("fan",))
    both = [event("k1", e.Confirmed(act=act)), event("k2", e.ActDone(act=act))]
    add_run_events("r1", both, by="Ada")
    lines = story_of("u1", {"r1": device.revision_hash}).lines
    assert [line.name for line in lines].count("confirmed") == 0
    assert [line.name for line in lines].count("act_done") == 1


def test_the_next_step_follows_from_where_it_stands() -> None:
    def first(stage: str, **rest: Any) -> str:  # noqa: ANN401 (fields of a value)
        return next_steps(Standing("u1", stage, **{"has_device": True, **rest}))[0].address

    assert first("taken_in") == "/units/u1/plan/"
    assert first("taken_in", has_device=False) == "/devices/"
    assert first("at_work", run="r1") == "/runs/r1/work/"
    assert first("parked", run="r1") == "/runs/r1/park/"
    assert first("to_prove", run="r1") == "/runs/r1/prove/"
    assert first("proven", run="r1") == "/units/u1/hand-back/"
    assert first("at_work", run="r1", is_split=True) == "/runs/r1/histories/"
    assert first("set_apart") == "#hazard"
    assert first("gone", has_gone=True) == "/units/u1/record/"


def test_a_unit_that_is_not_there_is_not_found(bench: Bench) -> None:
    assert bench.client("guest").get("/units/none/").status_code == 404
    assert bench.client("guest").get("/units/none/record/").status_code == 404
    assert bench.client("technician").get("/units/none/hand-back/").status_code == 404
    assert bench.client("guest").get("/photos/none").status_code == 404


# --- labels ---------------------------------------------------------------------------------------


def drawn(text: str) -> Image.Image:
    """The code of a text as pixels, from the path that is printed."""
    root, _held = draw_code(text)
    side = float((root.get("viewBox") or "").split()[2])
    path = root.findall("path")[-1].get("d", "")
    image = Image.new("L", (600, 600), 255)
    scale = 600 / side
    for piece in path.split("z"):
        if not piece:
            continue
        x, rest = piece[1:].split(" ", 1)
        y, rest = rest.split("h", 1)
        width, rest = rest.split("v", 1)
        height = rest.split("h", 1)[0]
        box = (float(x), float(y), float(x) + float(width), float(y) + float(height))
        left, top, right, bottom = (round(v * scale) for v in box)
        image.paste(0, (left, top, right, bottom))
    return image


def test_the_code_of_a_label_reads_as_the_number_and_nothing_else() -> None:
    """Held against a reader that is not ours (zxing)."""
    assert [code.text for code in zxingcpp.read_barcodes(drawn("U000123"))] == ["U000123"]


def test_labels_are_printed_one_a_page_or_twenty_four_a_sheet(bench: Bench) -> None:
    publish()
    for n in range(25):
        unit(f"u{n}", condition="owner’s scratches")
    keys = "&".join(f"unit=u{n}" for n in range(25))
    client = bench.client("guest")
    for form, asked, pages, size in (
        ("roll", "unit=u0&unit=u1", 2, (62, 29)),
        ("sheet", keys, 2, (210, 297)),
    ):
        answer = client.get(f"/labels.pdf?form={form}&{asked}")
        read = PdfReader(io.BytesIO(answer.content))
        assert len(read.pages) == pages
        box = read.pages[0].mediabox
        assert (round(float(box.width) / 72 * 25.4), round(float(box.height) / 72 * 25.4)) == size
        assert "U000001" in read.pages[0].extract_text()
        assert "scratches" not in read.pages[0].extract_text()
    five = "&".join(f"unit=u{n}" for n in range(5))
    skipped = client.get(f"/labels.pdf?form=sheet&skip=20&{five}")
    assert len(PdfReader(io.BytesIO(skipped.content)).pages) == 2


def test_labels_that_take_a_while_are_waited_for_on_a_page_of_their_own(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    publish()
    unit("u1")
    monkeypatch.setattr(PRESS, "soon", lambda _html, _pictures: None)
    answer = bench.client("guest").get("/labels.pdf?form=sheet&unit=u1")
    assert answer.status_code == 202
    assert 'href="/labels/?form=sheet&amp;unit=u1"' in answer.content.decode()


def test_a_label_warns_of_a_hazard_and_escapes_what_is_on_it() -> None:
    page = labels_page(
        [Label("U000001", "U000001", ("<i>x</i>",), "swollen pack")], "roll", for_pdf=False
    )
    assert "WARNING: swollen pack" in page
    assert "<i>x" not in page


def test_a_place_gets_a_label_too(bench: Bench) -> None:
    page = bench.client("guest").get("/labels/?places=Bench 1%0AShelf 2&print=1").content.decode()
    assert "Bench 1" in page
    assert "Shelf 2" in page


# --- stock ----------------------------------------------------------------------------------------


def test_stock_is_counted_and_moved_by_events_alone(both: Bench) -> None:
    publish()
    client = both.client("technician")
    counted = {
        "tell": "counted",
        "item": "LM-351",
        "amount": "4",
        "place": "drawer 2",
        "event": "1" * 32,
    }
    for _twice in range(2):
        assert client.post("/stock/tell/", counted).status_code == 302
    used = {
        "tell": "moved",
        "item": "code:LM-351",
        "amount": "1,5",
        "reason": "used",
        "event": "2" * 32,
    }
    assert client.post("/stock/tell/", used).status_code == 302
    row = Item.objects.get(pk="code:LM-351")
    assert (row.count, row.place) == (2.5, "drawer 2")
    assert StoredEvent.objects.filter(name="stock_counted").count() == 1
    page = client.get("/stock/?words=fan").content.decode()
    assert "Fan, Larkmoor 13" in page
    assert "2.5" in page
    assert "counted:" in client.get("/stock/?item=code:LM-351").content.decode()


def test_stock_and_devices_are_searched_in_any_case_of_any_script(both: Bench) -> None:
    device = publish()
    Revision.objects.filter(device=device.id).update(name="Ärmelmoor Ж13")
    Item.objects.bulk_create(
        Item(code=f"code:A{n:03d}", place=f"Lade Ü{n:03d}", changed_ms=1) for n in range(120)
    )
    client = both.client("technician")
    for asked in ("ärmelmoor", "ÄRMELMOOR ж", "\uff41\u0308rmel"):
        assert "Ärmelmoor Ж13" in client.get("/devices/", {"q": asked}).content.decode()
    assert "Ärmelmoor Ж13" not in client.get("/devices/", {"q": "armelmoor"}).content.decode()
    for asked in ("lade ü07", "LADE Ü07"):
        page = client.get("/stock/", {"words": asked}).content.decode()
        assert re.findall(r"Lade Ü(\d+)", page) == [f"{n:03d}" for n in range(70, 80)]
    # One page follows the other, whatever is asked for.
    seen, after = [], ""
    for _page in range(4):
        page = client.get("/stock/", {"words": "lade ü", "after": after}).content.decode()
        seen += re.findall(r"Lade Ü(\d+)", page)
        following = re.search(r'rel="next" href="/stock/\?after=code%3A(A\d+)', page)
        if following is None:
            break
        after = f"code:{following[1]}"
    assert seen == [f"{n:03d}" for n in range(120)]


@pytest.mark.parametrize(
    "fields",
    [
        {"tell": "counted", "item": "x", "amount": "many"},
        {"tell": "counted", "item": "x", "amount": "-1"},
        {"tell": "counted", "item": "", "amount": "1"},
        {"tell": "moved", "item": "x", "amount": "0", "reason": "used"},
        {"tell": "moved", "item": "x", "amount": "1", "reason": "eaten"},
        {"tell": "counted", "item": "x", "amount": "nan"},
    ],
)
def test_what_is_no_amount_or_no_reason_changes_nothing(
    bench: Bench, fields: dict[str, str]
) -> None:
    answer = bench.client("technician").post("/stock/tell/", fields)
    assert answer.status_code == 422
    assert not Item.objects.exists()


def test_what_a_job_has_to_order_is_seen_beside_what_lies_there(bench: Bench) -> None:
    begin("r1", "u1", replace=("fan",))
    line = e.PartLine(line="l1", state="ordered", part="fan", count=3)
    add_run_events("r1", [event("p1", line)], by="Ada")
    add_depot_event("", d.StockCounted(item="code:LM-351", count=0), by="Ada")
    page = bench.client("guest").get("/stock/?short=1").content.decode()
    assert "LM-351" in page
    assert ">3</td>" in page


EVIL = '"><script>alert(1)</script>{{ 7 }}'


def test_script_in_every_text_field_stays_text(bench: Bench) -> None:
    publish()
    client = bench.client("lead")
    form = {
        "key": "ab" * 16, "device": "larkmoor_13", "serial": EVIL, "asset_tag": EVIL, "complaint": EVIL,
        "condition": EVIL, "accessories": EVIL, "seals": EVIL, "may_be_lost": EVIL, "agreed_by": "owner",
        "owner_name": EVIL, "owner_contact": EVIL, "place": EVIL, "pack": "sound", "way_to_test": "none",
    }  # fmt: skip
    assert client.post("/take-in/", form).status_code == 302
    key = "ab" * 16
    tell_it = {
        "tell": "custody",
        "item": EVIL,
        "state": "held",
        "place": EVIL,
        "person": EVIL,
        "event": EVENT,
    }
    assert client.post(f"/units/{key}/tell/", tell_it).status_code == 302
    client.post(
        "/stock/tell/", {"tell": "counted", "item": EVIL[:60], "amount": "1", "place": EVIL}
    )
    for address in (
        "/", f"/units/{key}/", f"/units/{key}/record/", f"/units/{key}/hand-back/", "/find/?q=script", "/stock/",
        f"/labels/?unit={key}", f"/labels/?unit={key}&print=1", "/take-in/?device=larkmoor_13&serial=x&words=",
    ):  # fmt: skip
        answer = client.get(address, {} if "?" in address else {"words": ""}, follow=True)
        page = answer.content.decode()
        assert answer.status_code == 200, address
        assert "<script>alert" not in page, address
        assert ">49<" not in page, address


def test_a_guest_sees_the_complaint_but_not_who_the_owner_is(bench: Bench) -> None:
    publish()
    unit("u1")
    OwnerData.objects.create(unit="u1", name="N. Orme", contact="07 11", complaint="It is dark.")
    seen = bench.client("guest").get("/units/u1/").content.decode()
    assert "It is dark." in seen
    assert "Orme" not in seen
    assert "07 11" not in seen
    assert "N. Orme" in bench.client("technician").get("/units/u1/").content.decode()
