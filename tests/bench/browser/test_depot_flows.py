"""Taking in, finding, the overview by keys, handing back: in a real browser, as a person or a hand scanner does it."""

from __future__ import annotations

import re
from random import Random
from typing import Any

import pytest
from playwright.sync_api import FilePayload, Page, expect

from lastscrew.bench.depot import events as d
from lastscrew.bench.invented.playing import Playing, play
from lastscrew.bench.models import OwnerData, Unit
from lastscrew.bench.store.adding import add_depot_event, add_run_events, take_in
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from tests.bench.browser.conftest import Windows, axe_finds
from tests.bench.conftest import Bench
from tests.bench.store.making import publish


def machine(place: str = "", **values: Any) -> Unit:  # noqa: ANN401 (fields of the event)
    """A unit of its own for one test."""
    key = new_key()
    publish()
    take_in(
        key, d.TakenIn(number=1, device="larkmoor_13", serial=f"SN-{key[:10]}", **values), by="Ada"
    )
    if place:
        add_depot_event(key, d.Placed(place=place), by="Ada")
    return Unit.objects.get(pk=key)


def test_a_machine_with_a_swollen_pack_is_taken_in_by_keyboard_alone(
    served: Bench, page: Page
) -> None:
    publish()
    serial = f"KB-{new_key()[:8]}"
    page.goto("/take-in/")
    page.get_by_label("Device", exact=True).select_option("larkmoor_13")
    page.get_by_label("Serial number").fill(serial)
    page.keyboard.press("Enter")
    expect(page.get_by_text("The normal way stops here")).to_be_hidden()
    page.get_by_label("What is wrong, as the owner says it").fill("The pad stands up.")
    page.get_by_label("not seen yet").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    expect(page.get_by_text("The normal way stops here")).to_be_visible()
    assert page.locator(".stop .hazard.warning").first.is_visible()
    page.get_by_label("It is off and on no charger").focus()
    page.keyboard.press("Space")
    page.get_by_label("Who was told").fill("Mr Moss")
    page.get_by_label("Where it was put").fill("sand box")
    page.get_by_role("button", name="Take it in").focus()
    assert axe_finds(page) == []
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Set apart: swollen pack")).to_be_visible()
    made = Unit.objects.get(serial=serial)
    assert made.stage == "set_apart"
    assert OwnerData.objects.get(pk=made.pk).complaint == "The pad stands up."


def test_what_is_wrong_gets_the_focus_and_leads_to_its_field(served: Bench, page: Page) -> None:
    publish()
    page.goto(f"/take-in/?device=larkmoor_13&serial=WR-{new_key()[:8]}")
    page.get_by_label("Condition").fill("Password: hunter2")
    page.get_by_role("button", name="Take it in").click()
    expect(page.locator("#problems")).to_be_focused()
    page.get_by_role("link", name="Condition").click()
    expect(page.get_by_label("Condition")).to_be_focused()
    expect(page.get_by_label("Condition")).to_have_value("Password: hunter2")
    assert axe_finds(page) == []


def test_a_table_is_corrected_in_the_page_and_then_stored(served: Bench, page: Page) -> None:
    publish()
    mark = new_key()[:8]
    text = f"device,serial,liquid\nlarkmoor_13,{mark}-1,no\nelmtop,{mark}-2,no\n"
    page.goto("/take-in/batch/")
    file: FilePayload = {"name": "m.csv", "mimeType": "text/csv", "buffer": text.encode()}
    page.get_by_label("Table of machines").set_input_files([file])
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_role("alert")).to_contain_text("One row has something wrong")
    assert axe_finds(page) == []
    page.get_by_label("The table as text").fill(text.replace("elmtop", "larkmoor_13"))
    page.get_by_role("button", name="Look at it again").click()
    page.get_by_role("button", name="Take these 2 in").click()
    expect(page.get_by_role("heading", name="2 machines were taken in")).to_be_visible()
    assert Unit.objects.filter(serial__startswith=mark).count() == 2


# The keys come in one go, as from a scanner: sent one by one, a busy machine would spread them out like a person's.
SCANNER = """(text) => {
  for (const key of [...text, "Enter"])
    document.activeElement.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
}"""


def test_a_person_who_types_slowly_is_no_scanner(served: Bench, page: Page) -> None:
    page.goto("/stock/")
    page.get_by_role("link", name="Overview").focus()
    for key in ("1", "2", "3", "4"):
        page.keyboard.press(key)
        page.wait_for_timeout(90)
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/$"))


@pytest.mark.parametrize("where", ["/", "/stock/", "/devices/"])
def test_a_hand_scanner_finds_the_unit_from_any_page(served: Bench, page: Page, where: str) -> None:
    """A scanner is a keyboard that types without a pause and ends with Enter; the focus is wherever it is."""
    unit = machine()
    page.goto(where)
    page.locator("nav a").first.focus()
    page.evaluate(SCANNER, str(unit))
    page.wait_for_url(re.compile(rf"/units/{unit.pk}/"))


CAMERA = """
window.BarcodeDetector = class {
  static getSupportedFormats() { return Promise.resolve(["qr_code"]); }
  detect() { return Promise.resolve([{ rawValue: "%s" }]); }
};
const canvas = document.createElement("canvas");
setInterval(() => canvas.getContext("2d").fillRect(0, 0, Math.random() * 9, 9), 50);
navigator.mediaDevices.getUserMedia = () => Promise.resolve(canvas.captureStream(5));
"""


def test_a_label_in_front_of_the_camera_leads_to_its_unit(served: Bench, page: Page) -> None:
    """The camera and the reader are stand-ins: neither is there in a browser without a screen."""
    unit = machine()
    page.add_init_script(CAMERA % unit)
    page.goto("/stock/")
    page.get_by_role("button", name="Camera").click()
    page.wait_for_url(re.compile(rf"/units/{unit.pk}/"))


def test_where_the_camera_reads_nothing_the_page_says_so(served: Bench, page: Page) -> None:
    page.add_init_script("delete window.BarcodeDetector;")
    page.goto("/find/")
    expect(page.get_by_text("can’t read codes with the camera")).to_be_visible()
    expect(page.get_by_role("button", name="Camera")).to_be_hidden()


def test_the_overview_is_walked_by_keys(served: Bench, page: Page) -> None:
    place = f"Bench {new_key()[:6]}"
    units = [machine(place) for _n in range(3)]
    page.goto(f"/?place={place}")
    assert axe_finds(page) == []
    page.keyboard.press("j")
    page.keyboard.press("j")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("k")
    expect(page.locator(".unit.here .number-word")).to_have_text(str(units[1]))
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(rf"/units/{units[1].pk}/"))


def test_a_machine_goes_back_and_its_record_is_there(served: Bench, page: Page) -> None:
    add_depot_event("", d.RuleChanged(rule="second_check_share", value=0), by="Lea")
    unit, run = machine("Bench 1"), new_key()
    device = publish()
    events = list(
        play(
            device, plan(device, Request(replace=("fan",))), Playing(run, "c", now_ms(), Random(1))
        )
    )
    add_run_events(run, events, by="Ada", unit=unit.pk)
    page.goto(f"/units/{unit.pk}/")
    page.get_by_role("link", name="Hand back").first.click()
    expect(page.get_by_text("Nothing stands in the way")).to_be_visible()
    assert axe_finds(page) == []
    page.get_by_label("In words, for the record").fill("Runs cool.")
    page.get_by_role("button", name="Hand it back").click()
    expect(page.get_by_role("heading", name=f"Record of {unit}")).to_be_visible()
    expect(page.get_by_text("Every screw accounted for")).to_be_visible()
    assert axe_finds(page) == []
    for _ in range(60):
        printed = page.request.get(f"/units/{unit.pk}/record.pdf")
        if printed.status != 202:  # being set
            break
        page.wait_for_timeout(500)
    assert printed.body().startswith(b"%PDF")


def test_nothing_is_wider_than_a_phone_and_all_can_be_reached_there(
    served: Bench, windows: Windows
) -> None:
    unit = machine("Shelf 9", condition="scratched " * 20)
    page = windows.open(360, 740, dark=True)
    for address in (
        "/", "/take-in/", f"/take-in/?device=larkmoor_13&serial={new_key()}", "/take-in/batch/", f"/units/{unit.pk}/",
        f"/units/{unit.pk}/hand-back/", f"/units/{unit.pk}/record/", "/stock/", "/labels/", "/find/?q=larkmoor",
        "/devices/larkmoor_13/history/",
    ):  # fmt: skip
        page.goto(address)
        wide = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wide <= 0, address
        assert axe_finds(page) == [], address
    # Words of another language are longer: the last station of the V must not stand beside the screen.
    page.goto("/")
    page.get_by_role("button", name="Deutsch").click()
    expect(page.locator(".depot-v .proven")).to_contain_text("nachgewiesen")
    wide = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    assert wide <= 0
