"""Devices, teardowns, plans and faults in a real browser: taps, keys, the editor, what a tap on the drawing does."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from lastscrew.bench.depot.events import SymptomsConfirmed
from lastscrew.bench.models import DevicePhoto, Draft, OwnerData, Revision, StoredEvent
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.jobs import current_revision
from lastscrew.bench.store.photos import keep_photo
from lastscrew.device.reading import load_device
from lastscrew.run.events import Event
from tests.bench.browser.conftest import Windows, axe_finds
from tests.bench.conftest import Bench
from tests.bench.faults.radio import publish_radio, radio
from tests.bench.store.making import demo, publish, started, unit


@pytest.fixture
def device(served: Bench) -> Iterator[str]:
    """The notebook, published; its id."""
    if current_revision(demo().id) is None:
        publish()
    yield demo().id
    DevicePhoto.objects.filter(device=demo().id).delete()


def test_a_tap_on_the_drawing_ticks_the_part_and_the_list_lights_it(
    device: str, page: Page
) -> None:
    """Both ways: the shape marks the box, the box marks the shape; then the plan is made from the form."""
    page.goto(f"/devices/{device}/plan/")
    box = page.locator('input[data-part-name="pack"]')
    shape = page.locator('.map-sheet [data-choose="pack"] polygon')
    shape.dispatch_event("click")
    expect(box).to_be_checked()
    expect(page.locator('.map-sheet [data-part="pack"]')).to_have_class(re.compile("chosen"))
    box.focus()
    page.keyboard.press("Space")
    expect(box).not_to_be_checked()
    page.keyboard.press("Space")
    page.locator('input[data-part-name="fan"]').check()
    page.locator("#choose-form button.main").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Exchange Battery pack and Fan")
    assert "replace=pack&replace=fan" in page.url
    expect(page.locator(".v-sheet svg")).to_be_visible()
    assert axe_finds(page) == []


def test_a_job_is_planned_and_begun_with_the_keyboard_alone(device: str, page: Page) -> None:
    """From the unit through the list of parts to the beginning, never a mouse."""
    key = unit(new_key(), serial="KEYS-1")
    page.goto(f"/units/{key}/plan/")
    page.locator('input[data-part-name="rear_foot"]').focus()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Exchange Rear foot")
    begin = page.get_by_role("button", name="Begin the job")
    begin.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/runs/*/work/")
    assert StoredEvent.objects.filter(unit=key, name="started").count() == 1


def test_the_editor_numbers_its_lines_and_a_finding_leads_to_its_place(
    served: Bench, windows: Windows
) -> None:
    """A misspelt key: the finding selects its line; typing adds numbers; saved and checked anew."""
    text = "format: 1\ndevice: {name: Small}\nparts:\n  case: {fixed: true}\n  lid: {nmae: Lid}\njoints:\n  lid_screws: {kind: screw, joins: [lid, case], count: 4}\n"  # noqa: E501
    draft = Draft.objects.create(title="Small", origin="file", text=text, changed_ms=now_ms())
    page = windows.open()
    page.goto(f"/devices/draft-{draft.pk}/")
    page.locator(".said-list a[data-line='5']").click()
    area = page.locator("#text")
    expect(area).to_be_focused()
    chosen = area.evaluate("e => e.value.slice(e.selectionStart, e.selectionEnd)")
    assert chosen.startswith("nmae: Lid")
    page.keyboard.type("name: Lid, note: ok}")
    page.keyboard.press("Control+Home")
    page.keyboard.type("# a comment\n")
    expect(page.locator(".gutter span")).to_have_count(9)
    page.keyboard.press("Control+s")
    expect(page.locator("#verdict")).to_contain_text("The file can be used.")
    draft.refresh_from_db()
    assert load_device(draft.text).parts["lid"].note == "ok"
    assert axe_finds(page) == []
    narrow = windows.open(360, 740, dark=True)
    narrow.goto(f"/devices/draft-{draft.pk}/")
    assert narrow.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_photo_is_fixed_by_four_taps(device: str, page: Page) -> None:
    """Two corners on the photo, the same on the drawing; the numbers are those of the corners."""
    picture = io.BytesIO()
    Image.new("RGB", (608, 428), "white").save(picture, "JPEG")
    picture.seek(0)
    photo = keep_photo(picture)
    DevicePhoto.objects.update_or_create(
        device=device, side="bottom", layer=0, defaults={"photo": photo.sha256}
    )
    page.goto(f"/devices/{device}/photo/?side=bottom&layer=0")
    scale = 186 / 304
    for point, (x, y) in enumerate(((0.1, 0.9), (0.9, 0.1)), 1):
        expect(page.locator("#tap-next")).to_contain_text(f"point {point} on the photo")
        box = page.locator("#tap-photo").bounding_box()
        assert box is not None
        page.locator("#tap-photo").click(position={"x": box["width"] * x, "y": box["height"] * y})
        expect(page.locator("#tap-next")).to_contain_text(f"point {point} on the drawing")
        at = page.locator("#tap-drawing svg").evaluate(
            """(svg, [x, y]) => {
                const p = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM());
                const box = svg.getBoundingClientRect();
                return {x: p.x - box.x, y: p.y - box.y};
            }""",
            [x * 304 * scale, 20 + y * 214 * scale],
        )
        page.locator("#tap-drawing svg").click(position=at, force=True)
    page.get_by_role("button", name="Lay it below").click()
    page.wait_for_url(f"**/devices/{device}/?*")
    row = DevicePhoto.objects.get(device=device, side="bottom", layer=0)
    for kept, (x, y) in zip(row.points, ((0.1, 0.9), (0.9, 0.1)), strict=True):
        assert kept["share"] == pytest.approx([x, y], abs=0.01)
        assert kept["mm"] == pytest.approx([x * 304, (1 - y) * 214], abs=1.5)
    expect(page.locator(".map-sheet image.underlay")).to_have_count(1)


def test_a_slanted_photo_is_straightened_by_its_four_corners(device: str, page: Page) -> None:
    """Four taps on the photo alone; it then lies below the whole side, and the checker finds nothing."""
    picture = io.BytesIO()
    Image.new("RGB", (500, 400), "tan").save(picture, "JPEG")
    picture.seek(0)
    photo = keep_photo(picture)
    DevicePhoto.objects.update_or_create(
        device=device, side="top", layer=0, defaults={"photo": photo.sha256, "points": []}
    )
    page.goto(f"/devices/{device}/photo/?side=top&layer=0")
    page.get_by_text("Taken at a slant?").click()
    assert axe_finds(page) == []
    corners = ((0.2, 0.2), (0.8, 0.15), (0.9, 0.9), (0.1, 0.85))
    for number, (x, y) in enumerate(corners, 1):
        expect(page.locator("#tap-next")).to_contain_text(f"corner {number} on the photo")
        box = page.locator("#tap-photo").bounding_box()
        assert box is not None
        page.locator("#tap-photo").click(position={"x": box["width"] * x, "y": box["height"] * y})
    expect(page.locator("#tap-next")).to_contain_text("All four corners are known")
    expect(page.locator(".tap-mark")).to_have_count(4)
    page.get_by_role("button", name="Straighten it").click()
    expect(page.get_by_text("The photo is straightened")).to_be_visible()
    row = DevicePhoto.objects.get(device=device, side="top", layer=0)
    assert row.photo != photo.sha256
    assert [point["mm"] for point in row.points] == [[0, 428], [304, 0]]


def test_a_teardown_is_tapped_on_a_phone(served: Bench, windows: Windows) -> None:
    """Three joints with thumbs at 360 px; what was named before is a tap the next time."""
    page = windows.open(360, 740)
    page.goto("/devices/new-teardown/")
    page.get_by_label("What the device is called").fill(f"Rill {new_key()[:6]}")
    page.get_by_label("What stays on the bench to the end").fill("Case")
    page.get_by_role("button", name="Begin").click()
    page.get_by_label("another part").first.fill("Lid")
    page.get_by_label("How many").fill("4")
    page.get_by_label("With this the first of them comes off").check()
    page.get_by_role("button", name="Opened").click()
    expect(page.locator(".taps li")).to_have_count(1)
    page.locator('.pill:has(input[value="plug"])').click()
    page.get_by_label("another part").first.fill("Pack")
    page.get_by_label("This takes the power away").check()
    expect(page.locator('input[name="over"][value="Lid"]')).to_be_checked()
    page.get_by_role("button", name="Opened").click()
    expect(page.locator(".taps li")).to_have_count(2)
    # Typed or chosen: the later counts, and the page shows which.
    typed = page.get_by_label("another part").first
    page.locator('.pill:has(input[name="moves"][value="Pack"])').click()
    typed.fill("Clamp")
    expect(page.locator('input[name="moves"]:checked')).to_have_count(0)
    page.locator('.pill:has(input[name="moves"][value="Pack"])').click()
    expect(typed).to_have_value("")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert axe_finds(page) == []
    page.get_by_role("button", name="Write the device file").click()
    expect(page.locator("#verdict")).to_contain_text("The file can be used.")
    draft = Draft.objects.get(pk=int(page.url.split("draft-")[1].split("/")[0]))
    assert load_device(draft.text).joints["pack_plug"].accesses[0].under == ("lid",)


def test_the_fault_is_found_in_taps_and_shown_on_the_units_page(device: str, page: Page) -> None:
    """Symptoms confirmed, one outcome tapped, the next proposal there; the unit's page shows it too."""
    key = unit(new_key(), serial="FAULT-1")
    OwnerData.objects.create(unit=key, complaint="It does not charge.")
    page.goto(f"/units/{key}/fault/")
    page.get_by_role("button", name="Confirm").click()
    expect(page.get_by_role("heading", name="Symptoms:")).to_be_visible()
    first = page.locator(".next-try .what").inner_text()
    page.locator(".next-try button.outcome").first.click()
    # While it is being worked out the page says so, and shows it by itself.
    expect(page.locator(".next-try .what")).to_be_visible()
    expect(page.locator(".next-try .what")).not_to_have_text(first)
    assert StoredEvent.objects.filter(unit=key, name="fault_tried").count() == 1
    second = page.locator(".next-try .what").inner_text()
    assert axe_finds(page) == []
    page.goto(f"/units/{key}/")
    expect(page.locator(".next-try .what")).to_have_text(second)


def test_the_fault_goes_on_beside_the_work_an_outcome_is_two_taps(
    served: Bench, windows: Windows
) -> None:
    """Opened, answered, and the next one is there; the work page was not left; a phone has it too."""
    if current_revision("radio") is None:
        publish_radio()
    key, run = unit(new_key(), device="radio"), new_key()
    begun = Event(id=new_key(), what=started(radio(), replace=("coil",)))
    add_run_events(run, [begun], by="Ada", unit=key)
    add_depot_event(key, SymptomsConfirmed(shows=("silent",)), by="Ada")
    page = windows.open(360, 740)
    page.goto(f"/runs/{run}/work/")
    page.wait_for_selector("body[data-ready]")
    box = page.locator("details.fault-box")
    summary = box.locator("> summary")
    expect(summary).to_contain_text("Fault, next:")
    first = summary.inner_text()
    summary.click()
    expect(box.locator("button.outcome").first).to_be_visible()
    assert axe_finds(page) == []
    box.locator("button.outcome").first.click()
    expect(summary).not_to_have_text(first, use_inner_text=True)
    expect(page).to_have_url(re.compile(f"/runs/{run}/work/$"))
    assert StoredEvent.objects.filter(unit=key, name="fault_tried").count() == 1
    box.get_by_text("I have done something else").click()
    other = box.locator("ul.others > li details").last
    second = summary.inner_text()
    other.locator("> summary").click()
    other.get_by_role("button").first.click()
    expect(summary).not_to_have_text(second, use_inner_text=True)
    assert StoredEvent.objects.filter(unit=key, name="fault_tried").count() == 2


def test_a_procedure_is_brought_in_read_and_published(served: Bench, page: Page) -> None:
    """Pasted, line by line, the draft, published for new jobs."""
    name = f"Tern {new_key()[:6]}"
    page.goto("/devices/new-draft/")
    page.get_by_label("Or paste it").fill(
        f"# {name}\n\n## Removing the lid\n\n1. Remove the four M2x5 screws that hold the lid to the case.\n"
        "2. Lift the lid off.\n"
    )
    page.get_by_role("button", name="Read it").click()
    expect(page.locator(".line-table")).to_contain_text("Lift the lid off.")
    page.locator("main a").first.click()
    page.get_by_role("link", name="Compare and publish").click()
    page.get_by_role("button", name="Publish for new jobs").click()
    page.wait_for_url("**/devices/*/")
    assert Revision.objects.filter(is_current=True, made_by="Bench").exists()
