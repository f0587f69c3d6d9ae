"""A teardown recorded by taps on a page, with a photo, ends in a draft that can be published."""

from __future__ import annotations

import io
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from lastscrew.bench.models import Draft
from lastscrew.bench.pages.teardown import teardown_of
from lastscrew.bench.workshop.tapping import taken_from
from lastscrew.device.reading import load_device
from tests.bench.conftest import Bench

pytestmark = pytest.mark.usefixtures("bench")

TAPS = (
    {"kind": "screw", "moves_new": "Lid", "to": "Case", "count": "4", "size": "M2 x 5", "drive": "ph1",
     "side": "bottom", "tool_new": "Driver", "off": "1"},
    {"kind": "plug", "moves_new": "Battery", "to_new": "Board", "side": "bottom", "tool": "", "isolates": "1",
     "over": "Lid", "over_for": "bottom", "over_default": "Lid"},
    {"kind": "screw", "moves": "Board", "to": "Case", "count": "2", "side": "bottom", "tool": "Driver", "off": "1",
     "over": "Lid", "over_for": "bottom", "over_default": "Lid"},
)  # fmt: skip


def begin(client: Client) -> str:
    """A new teardown; its address."""
    answer = client.post(
        "/devices/new-teardown/", {"name": "Rill 2", "fixed": "Case", "machine": "radio"}
    )
    assert answer.status_code == 302
    return str(answer["Location"])


def key_of(client: Client, place: str) -> str:
    """The key that the page gives the next tap."""
    page = client.get(place).content.decode()
    form = page[page.index("tap-form") :]
    found = re.search(r'name="key" value="([^"]+)"', form)
    assert found is not None
    return found[1]


def test_taps_and_a_photo_end_in_a_file_that_can_be_published(bench: Bench) -> None:
    """Three taps, one sent twice, one taken back and made again; then the draft."""
    technician = bench.client("technician")
    place = begin(technician)
    picture = io.BytesIO()
    Image.new("RGB", (80, 60), "white").save(picture, "JPEG")
    for number, tap in enumerate(TAPS):
        key = key_of(technician, place)
        for _ in range(2):
            picture.seek(0)
            photo = SimpleUploadedFile("p.jpg", picture.read(), "image/jpeg")
            extra = {"photo": photo} if number == 0 else {}
            answer = technician.post(place, {**tap, "key": key, **extra})
            assert answer.status_code == 302, answer.content.decode()[-3000:]
    draft = Draft.objects.get()
    teardown = teardown_of(draft)
    assert len(teardown.steps) == 3
    assert len(teardown.steps[0].photo) == 64
    assert teardown.steps[0].drive == "PH1"
    technician.post(place, {"do": "take_back", "key": teardown.steps[2].key})
    draft.refresh_from_db()
    assert len(teardown_of(draft).steps) == 2
    technician.post(place, {**TAPS[2], "key": "once-more"})
    answer = technician.post(place, {"do": "finish"})
    assert answer["Location"] == f"/devices/draft-{draft.pk}/"
    draft.refresh_from_db()
    device = load_device(draft.text)
    assert device.id == "rill_2"
    assert device.fixed_part == "case"
    assert device.joints["board_screws"].accesses[0].under == ("lid",)
    assert device.joints["battery_plug"].isolates
    lead = bench.client("lead")
    assert lead.get(f"/devices/draft-{draft.pk}/publish/").status_code == 200


def test_what_must_work_and_what_goes_in_new_is_asked_once_and_kept(bench: Bench) -> None:
    """Proposed by the names of the parts, changed by whoever answers, there again the next time."""
    technician = bench.client("technician")
    place = begin(technician)
    taps = ({**TAPS[0], "kind": "tape", "size": "", "single_use": "1"}, TAPS[1], TAPS[2])
    for number, tap in enumerate(taps):
        technician.post(place, {**tap, "key": f"tap-{number}"})
    page = technician.get(place).content.decode()
    assert ticked(page) == {("works:Battery", "runs_on_pack"), ("works:Board", "starts")}
    assert 'value="tape for Lid"' in page
    said = {
        "works:Battery": ["runs_on_pack"],
        "works:Lid:other": "Latch holds",
        "new:tap-0": "foam tape 3 mm",
    }
    technician.post(place, {"do": "finish", "asked": "1", **said})
    device = load_device(Draft.objects.get().text)
    assert {name: part.functions for name, part in device.parts.items() if part.functions} == {
        "battery": ("runs_on_pack",),
        "lid": ("latch_holds",),
    }
    assert device.functions["runs_on_pack"].check_ms == 60_000
    assert device.joints["lid_tape"].renew == {"foam_tape_3_mm": 1}
    page = technician.get(place).content.decode()
    assert ticked(page) == {("works:Battery", "runs_on_pack")}
    assert 'value="foam tape 3 mm"' in page
    assert 'value="Latch holds"' in page


def ticked(page: str) -> set[tuple[str, str]]:
    return set(re.findall(r'name="(works:[^"]+)" value="([^"]+)" checked', page))


def test_a_tap_that_makes_no_sense_is_said_and_what_was_tapped_stays(bench: Bench) -> None:
    """No second part; a photo that is none."""
    technician = bench.client("technician")
    place = begin(technician)
    answer = technician.post(
        place, {"kind": "clip", "moves_new": "Lid", "key": "k1", "note": "Stiff."}
    )
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "two different parts" in page
    assert 'value="Stiff."' in page
    assert 'value="k1"' in page
    bad = SimpleUploadedFile("p.jpg", b"<script>", "image/jpeg")
    answer = technician.post(place, {**TAPS[0], "key": "k2", "photo": bad})
    assert answer.status_code == 422
    assert teardown_of(Draft.objects.get()).steps == ()
    assert technician.post(place, {"do": "finish"}).status_code == 302
    assert Draft.objects.get().text == ""


def test_two_people_tap_at_once_and_nothing_is_lost_silently(bench: Bench) -> None:
    """Both taps are there; the page is made from what is kept."""
    technician = bench.client("technician")
    place = begin(technician)
    technician.post(place, {**TAPS[0], "key": "a"})
    technician.post(place, {**TAPS[1], "key": "b"})
    assert [step.key for step in teardown_of(Draft.objects.get()).steps] == ["a", "b"]


def test_a_teardown_needs_names_that_ids_can_be_made_of(bench: Bench) -> None:
    """Blank, or signs only; a guest records nothing."""
    technician = bench.client("technician")
    answer = technician.post("/devices/new-teardown/", {"name": "…", "fixed": ""})
    assert answer.status_code == 422
    assert answer.content.decode().count("This needs a name") == 2
    assert bench.client("guest").get("/devices/new-teardown/").status_code == 403


def test_a_proposal_for_another_side_says_nothing_unless_it_was_changed() -> None:
    """Covers proposed for the bottom, the machine then turned: the order decides, unless the person ticked."""
    turned = {"over": ["Lid"], "over_default": ["Lid"], "over_for": ["bottom"], "side": ["top"]}
    assert taken_from(turned).over is None
    assert taken_from({**turned, "side": ["bottom"]}).over == ("Lid",)
    assert taken_from({**turned, "over": []}).over == ()
    assert taken_from({"side": ["top"]}).over is None
