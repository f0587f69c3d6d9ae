"""Pages of devices: a file comes in, is checked, edited, compared, published; work in hand keeps its revision."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from lastscrew.bench.models import DevicePhoto, Draft, Photo, Revision, StoredEvent
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.clock import now_ms
from lastscrew.bench.store.jobs import current_revision
from lastscrew.bench.workshop.checking import corrected, shown_text
from lastscrew.device.reading import load_device
from lastscrew.paper.pdf import print_pdf
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.device_draft import draft_device
from lastscrew.reading.sources import open_source
from lastscrew.run.events import CountCorrected, Event
from tests.bench.conftest import Bench
from tests.bench.store.making import demo, demo_text, publish, started, unit

pytestmark = pytest.mark.usefixtures("bench")

SMALL = """format: 1
device: {name: Small}
parts:
  case: {name: Case, fixed: true}
  lid: {name: Lid}
joints:
  lid_screws: {kind: screw, joins: [lid, case], count: 4}
"""
PROCEDURE = """# Removing the fan

1. Remove the four M2x5 screws that hold the bottom cover to the chassis.
2. Lift the bottom cover off.
3. Disconnect the fan cable from the main board.
4. Remove the two screws that hold the fan to the chassis and lift the fan out.
"""


TARN = Path(__file__).parents[3] / "src/lastscrew/demo/tarn_14.procedure.md"


def upload(client: Client, name: str, data: bytes) -> str:
    """Send a file; the address of the draft that it became."""
    answer = client.post("/devices/new-draft/", {"file": SimpleUploadedFile(name, data)})
    assert answer.status_code == 302, answer.content.decode()[:2000]
    return str(answer["Location"])


def said(client: Client, address: str) -> str:
    """A page that can be looked at."""
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def publish_draft(client: Client, draft: Draft, **extra: str) -> int:
    """Send the form of the page that publishes; the status of the answer."""
    page = said(client, f"/devices/draft-{draft.pk}/publish/")
    key = re.search(r'name="key" value="([^"]+)"', page)
    assert key is not None
    values = {"key": key[1], "version": str(draft.version), **extra}
    return client.post(f"/devices/draft-{draft.pk}/publish/", values).status_code


def test_a_device_file_comes_in_is_published_once_and_is_there_for_new_jobs(bench: Bench) -> None:
    """Upload, look, publish; the same form sent twice publishes once."""
    lead = bench.client("lead")
    place = upload(lead, "notebook.device.yaml", demo_text().encode())
    page = said(lead, place)
    assert "The file can be used." in page
    draft = Draft.objects.get()
    assert draft.text == demo_text()
    values = {"key": "pub-1", "version": str(draft.version), "note": "First."}
    for _ in range(2):
        lead.post(f"/devices/draft-{draft.pk}/publish/", values)
    assert StoredEvent.objects.filter(name="revision_published").count() == 1
    row = current_revision(demo().id)
    assert row is not None
    assert row.revision == demo().revision_hash
    assert row.note == "First."
    listed = said(lead, "/devices/")
    assert demo().name in listed
    page = said(lead, f"/devices/{demo().id}/")
    assert "Battery pack" in page
    assert "<svg" in page
    draft.refresh_from_db()
    assert draft.published == row.revision


def test_errors_are_told_with_line_and_column_and_saving_checks_anew(bench: Bench) -> None:
    """A file with a misspelt key can't be published; corrected in the editor it can."""
    lead = bench.client("lead")
    place = upload(lead, "small.yaml", SMALL.replace("count: 4", "cuont: 4").encode())
    page = said(lead, place)
    line = SMALL.split("\n").index("  lid_screws: {kind: screw, joins: [lid, case], count: 4}") + 1
    assert f'data-line="{line}"' in page
    assert "1 error: the file can&#x27;t be used yet." in page or "1 error: the file can't" in page
    draft = Draft.objects.get()
    assert lead.get(f"/devices/draft-{draft.pk}/publish/").status_code == 302
    answer = lead.post(place, {"text": SMALL.replace("\n", "\r\n"), "version": draft.version})
    assert answer.status_code == 302
    draft.refresh_from_db()
    assert (draft.text, draft.version, draft.title) == (SMALL, 2, "Small")
    assert "The file can be used." in said(lead, place)


def test_who_saves_an_old_version_gets_both_texts_and_overwrites_nothing(bench: Bench) -> None:
    """Two people edit one draft."""
    lead = bench.client("lead")
    place = upload(lead, "small.yaml", SMALL.encode())
    theirs, mine = SMALL.replace("Lid", "Hood"), SMALL.replace("Lid", "Cover")
    assert lead.post(place, {"text": theirs, "version": 1}).status_code == 302
    answer = lead.post(place, {"text": mine, "version": 1})
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "name: Hood" in page
    assert "name: Cover" in page
    assert Draft.objects.get().text == theirs


def test_a_procedure_becomes_a_draft_with_each_line_beside_what_was_made_of_it(
    bench: Bench,
) -> None:
    """Read, answered, written anew; the answers stay."""
    technician = bench.client("technician")
    place = upload(technician, "fan.md", PROCEDURE.encode())
    assert place.endswith("/source/")
    page = said(technician, place)
    assert "Lift the bottom cover off." in page
    assert "line-3" in page
    draft = Draft.objects.get()
    assert load_device(draft.text).joints
    answer = technician.post(place, {"fixed": "Base", "count.fan_cable": "1"})
    assert answer.status_code == 302
    draft.refresh_from_db()
    device = load_device(draft.text)
    assert device.parts[device.fixed_part].name == "Base"
    assert {row["question"] for row in draft.steps} >= {"fixed"}
    assert technician.post(place, {"count.fan_cable": "many"}).status_code in (302, 422)


@pytest.mark.parametrize(
    "text",
    [
        PROCEDURE,
        (
            "<html><body><h1>Removing the fan</h1><p>1. Remove the four M2x5 screws that hold the bottom cover to the "
            "chassis.</p><p>2. Lift the bottom cover off.</p></body></html>"
        ),
        (
            "[0:05] So first I remove the four screws that hold the bottom cover to the chassis.\n"
            "[0:20] Then I lift the bottom cover off.\n"
        ),
        SMALL,
    ],
)
def test_what_is_pasted_is_told_by_what_it_says(bench: Bench, text: str) -> None:
    """Markdown, a page, a transcript, a device file: no name helps, each becomes a draft that can be used."""
    technician = bench.client("technician")
    place = technician.post("/devices/new-draft/", {"text": text})["Location"]
    draft = Draft.objects.get()
    assert load_device(draft.text).joints
    assert place.endswith("source/") == (text != SMALL)


def test_a_pdf_is_read_again_as_it_was_read_first(bench: Bench) -> None:
    """Headings and page headers are kept: the draft is that of the file itself, before and after an answer."""
    data = print_pdf(
        "<html><body><h1>Removing the fan</h1><ol><li>Remove the four M2x5 screws that hold the bottom cover to "
        "the chassis.</li><li>Lift the bottom cover off.</li><li>Disconnect the fan cable from the main board.</li>"
        "<li>Remove the two screws that hold the fan to the chassis and lift the fan out.</li></ol></body></html>"
    ).data
    lexicon = load_lexicon()
    wanted = draft_device(read(open_source(data, "fan.pdf"), lexicon), lexicon)
    technician = bench.client("technician")
    place = upload(technician, "fan.pdf", data)
    assert Draft.objects.get().text == wanted.text
    page = said(technician, place)
    assert "fan.pdf, line by line" in page
    assert "Lift the bottom cover off." in page
    assert technician.post(place, {"fixed": "Base"}).status_code == 302
    device = load_device(Draft.objects.get().text)
    assert device.parts[device.fixed_part].name == "Base"
    # The chassis that all hangs on stays as it is, on the base that was answered.
    assert set(device.joints) == {*wanted.device.joints, "chassis_seat"}


def test_a_procedure_page_asks_and_advises_only_what_can_be_done_on_it(bench: Bench) -> None:
    """No hint of the command line; the side of one joint is answered; the text is corrected, answers stay."""
    technician = bench.client("technician")
    place = upload(technician, "tarn.md", TARN.read_bytes() + b"\n5. Frob the lid with the zorp.\n")
    page = said(technician, place)
    draft = Draft.objects.get()
    for hint in ("--words", "--keep-apart", ".JOINT", "lastscrew read", "--answers"):
        assert hint not in page
        assert hint not in draft.text
    assert "The text can be corrected below." in page
    one = re.search(r'name="(side\.([a-z0-9_]+))"', page)
    assert one is not None
    assert technician.post(place, {"fixed": "Base", one[1]: "top"}).status_code == 302
    draft.refresh_from_db()
    assert load_device(draft.text).joints[one[2]].accesses[0].side == "top"
    # Somebody else has answered meanwhile: nothing is overwritten, nothing typed is lost.
    stale = {"do": "text", "source_text": "Take the lid off.", "version": str(draft.version - 1)}
    answer = technician.post(place, stale)
    assert answer.status_code == 422
    assert "Take the lid off." in answer.content.decode()
    poem = {"do": "text", "source_text": "The sea was calm.", "version": str(draft.version)}
    assert technician.post(place, poem).status_code == 422
    text = draft.source_text.replace("5. Frob the lid with the zorp.", "Remove the lid.")
    answer = technician.post(
        place, {"do": "text", "source_text": text, "version": str(draft.version)}
    )
    assert answer.status_code == 302
    page = said(technician, place)
    assert "Frob the lid" not in page
    draft.refresh_from_db()
    device = load_device(draft.text)
    assert device.joints[one[2]].accesses[0].side == "top"
    assert device.parts[device.fixed_part].name == "Base"


def test_of_a_corrected_pdf_every_line_that_stays_keeps_what_the_format_said_of_it() -> None:
    """Headings stay headings, also where a line was changed or one came between."""
    lines = [
        ["Removing the fan", "heading", 1, "", None, ""],
        ["Remve it.", "text", 0, "1.", None, ""],
    ]
    kept = json.dumps({"format": "pdf", "spoken": False, "repairs": [], "lines": lines})
    assert shown_text(kept, "fan.pdf.lines") == "Removing the fan\nRemve it."
    typed = "Removing the fan\r\nRemove it.\r\nLift it off."
    again = json.loads(corrected(kept, "fan.pdf.lines", typed))
    assert again["format"] == "pdf"
    assert [line[:2] for line in again["lines"]] == [
        ["Removing the fan", "heading"],
        ["Remove it.", "text"],
        ["Lift it off.", "text"],
    ]
    one = json.loads(corrected(kept, "fan.pdf.lines", "Removing the fan\nRemove it."))
    assert one["lines"][1] == ["Remove it.", "text", 0, "1.", None, ""]
    assert corrected("a\nb", "fan.md", "a\r\nc") == "a\nc"


def test_two_names_that_were_read_as_one_can_be_told_apart_and_stay_so(bench: Bench) -> None:
    """Ticked: the draft has two parts; unticked again: one."""
    technician = bench.client("technician")
    text = TARN.read_bytes()
    place = upload(technician, "tarn.md", text)
    page = said(technician, place)
    pair = re.search(r'name="apart" value="(speaker=[^"]+)"', page)
    assert pair is not None
    technician.post(place, {"fixed": "Base"})
    before = len(load_device(Draft.objects.get().text).parts)
    assert technician.post(place, {"apart": pair[1], "fixed": "Base"}).status_code == 302
    draft = Draft.objects.get()
    assert {"apart": pair[1]} in draft.steps
    assert len(load_device(draft.text).parts) == before + 1
    assert f'name="apart" value="{pair[1]}" checked' in said(technician, place)
    technician.post(place, {"fixed": "Base"})
    assert len(load_device(Draft.objects.get().text).parts) == before


def test_a_text_without_a_step_says_so_and_what_is_no_text_is_refused(bench: Bench) -> None:
    """A wait alone; a poem; pictures, whole and in part; a broken PDF; nothing at all."""
    technician = bench.client("technician")
    place = upload(technician, "wait.txt", b"Wait ten seconds.\n")
    assert "No step of this text opens a joint" in said(technician, place)
    for name, data, why in (
        ("poem.txt", b"The sea was calm.\nNobody came.\n", "No line of this text"),
        ("short.txt", b"P6 1 1", "No line of this text"),
        ("a.txt", b"GIF89a", "a picture (GIF)"),
        ("a.md", b"\x89PNG\r\n\x1a\n", "a picture (PNG)"),
        ("picture", b"\xff\xd8\xff\xe0", "a picture (JPEG)"),
        ("any.txt", bytes(range(256)), "no text"),
        ("any.device.yaml", b"GIF89a\x00\x01", "a picture (GIF)"),
        ("more.yaml", b"a: \x01\x02\x03\x04", "control characters"),
        ("a.pdf", b"%PDF-1.4 broken", ""),
        ("b.docx", b"PK\x03\x04rest", ""),
        ("c.txt", b"", ""),
    ):
        answer = technician.post(
            "/devices/new-draft/", {"file": SimpleUploadedFile(name, data)} if data else {}
        )
        assert answer.status_code == 422
        assert 'role="alert"' in answer.content.decode()
        assert why in answer.content.decode()
    pasted = technician.post("/devices/new-draft/", {"text": "Dear Bo,\nthe sea was calm.\n"})
    assert "No line of this text" in pasted.content.decode()
    assert "the sea was calm" in pasted.content.decode()
    assert Draft.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/steps.txt", "steps.txt"),
        ("steps\u202etxt.exe.md", "stepstxt.exe.md"),
        ("a\u200b\u0007b.md", "ab.md"),
        ("<b>x</b>.md", "b>.md"),
        ("räumung-取り外し.md", "räumung-取り外し.md"),
    ],
)
def test_a_file_is_called_by_what_can_be_seen_of_its_name(
    bench: Bench, name: str, shown: str
) -> None:
    place = upload(bench.client("technician"), name, b"Remove the two screws of the lid.\n")
    assert Draft.objects.get().source_name == shown
    assert "<b>x" not in said(bench.client("technician"), place)


def test_publishing_tells_what_loses_its_history_and_asks_for_it(bench: Bench) -> None:
    """A renamed joint: refused without a tick, with the hint to say was; with was there is nothing to lose."""
    lead = bench.client("lead")
    upload(lead, "small.yaml", SMALL.encode())
    first = Draft.objects.get()
    assert publish_draft(lead, first) == 302
    renamed = SMALL.replace("lid_screws", "lid_bolts")
    upload(lead, "small.yaml", renamed.encode())
    draft = Draft.objects.get(published="")
    page = said(lead, f"/devices/draft-{draft.pk}/publish/")
    assert "<code>was: lid_screws</code>" in page
    assert publish_draft(lead, draft) == 422
    saved = renamed.replace("lid_bolts: {", "lid_bolts: {was: lid_screws, ")
    lead.post(f"/devices/draft-{draft.pk}/", {"text": saved, "version": 1})
    draft.refresh_from_db()
    assert "lid_screws</code></strong>" not in said(lead, f"/devices/draft-{draft.pk}/publish/")
    assert publish_draft(lead, draft) == 302
    page = said(lead, "/devices/small/")
    assert page.count("compare/?old=") == 1
    old = Revision.objects.get(is_current=False)
    assert "was called Lid screws (lid_screws)" in said(
        lead, f"/devices/small/compare/?old={old.revision}"
    )


def test_only_a_lead_publishes_and_a_draft_that_has_changed_is_looked_at_again(
    bench: Bench,
) -> None:
    """A technician may prepare, not put in force."""
    technician, lead = bench.client("technician"), bench.client("lead")
    upload(technician, "small.yaml", SMALL.encode())
    draft = Draft.objects.get()
    address = f"/devices/draft-{draft.pk}/publish/"
    assert technician.get(address).status_code == 200
    assert technician.post(address, {"key": "k", "version": "1"}).status_code == 403
    assert lead.post(address, {"key": "k", "version": "7"}).status_code == 422
    assert current_revision("small") is None


def test_work_in_hand_keeps_its_revision_and_an_older_one_can_be_put_in_force_again(
    bench: Bench,
) -> None:
    """A job on the first revision, a second one published, then back."""
    lead = bench.client("lead")
    upload(lead, "small.yaml", SMALL.encode())
    publish_draft(lead, Draft.objects.get())
    old = load_device(SMALL)
    unit(device="small")
    add_run_events("r1", [Event(id="e1", what=started(old))], by="Ada", unit="u1")
    upload(lead, "small.yaml", SMALL.replace("count: 4", "count: 6").encode())
    draft = Draft.objects.get(published="")
    assert "1 job keeps the revision" in said(lead, f"/devices/draft-{draft.pk}/publish/")
    publish_draft(lead, draft)
    current = current_revision("small")
    assert current is not None
    assert current.revision != old.revision_hash
    lead.post("/devices/small/republish/", {"rev": old.revision_hash, "key": "back"})
    again = current_revision("small")
    assert again is not None
    assert again.revision == old.revision_hash


def test_what_work_has_found_becomes_a_draft_for_the_lead(bench: Bench) -> None:
    """Five instead of four: listed with its job, ticked, a draft that says five."""
    lead = bench.client("lead")
    upload(lead, "small.yaml", SMALL.encode())
    publish_draft(lead, Draft.objects.get())
    unit(device="small")
    found = CountCorrected(joint="lid_screws", count=5)
    events = [Event(id="e1", what=started(load_device(SMALL))), Event(id="e2", what=found)]
    add_run_events("r1", events, by="Ada", unit="u1")
    assert "otherwise than the file says" in said(lead, "/devices/small/")
    assert "there are 5" in said(lead, "/devices/small/edits/")
    assert lead.post("/devices/small/edits/", {}).status_code == 422
    assert (
        bench.client("technician").post("/devices/small/edits/", {"edit": "x"}).status_code == 403
    )
    answer = lead.post("/devices/small/edits/", {"edit": "count.lid_screws.5"})
    draft = Draft.objects.get(published="")
    assert answer["Location"] == f"/devices/draft-{draft.pk}/"
    assert load_device(draft.text).joints["lid_screws"].count == 5
    publish_draft(lead, draft)
    assert "otherwise than the file says" not in said(lead, "/devices/small/")


def test_the_map_shows_sides_and_layers_and_its_parts_lead_to_a_plan(bench: Bench) -> None:
    """Links on the drawing and in the list beside it; deeper layers have lost the outer parts."""
    publish()
    guest = bench.client("guest")
    page = said(guest, f"/devices/{demo().id}/")
    assert 'data-choose="bottom_cover"' in page
    assert f"/devices/{demo().id}/plan/?replace=bottom_cover" in page
    deeper = said(guest, f"/devices/{demo().id}/?side=bottom&layer=2")
    assert 'data-choose="bottom_cover"' not in deeper
    assert 'data-choose="pack"' in deeper or 'data-choose="fan"' in deeper
    assert said(guest, f"/devices/{demo().id}/?side=nowhere&layer=99999")


def test_a_photo_is_fixed_by_two_points_and_lies_below_the_drawing(bench: Bench) -> None:
    """Two corners; what lies outside or too near is refused and what was typed stays."""
    publish()
    sha = "a" * 64
    Photo.objects.create(
        sha256=sha, media_type="image/jpeg", width=3040, height=2140, size=1, stored_ms=now_ms()
    )
    DevicePhoto.objects.create(device=demo().id, side="bottom", layer=0, photo=sha)
    technician = bench.client("technician")
    address = f"/devices/{demo().id}/photo/?side=bottom&layer=0"
    assert "Fix it by two points" in said(technician, address)
    wrong = {"do": "fix", "share_x_1": "10", "share_y_1": "10", "mm_x_1": "900", "mm_y_1": "1",
             "share_x_2": "11", "share_y_2": "10", "mm_x_2": "20", "mm_y_2": "1"}  # fmt: skip
    answer = technician.post(address, wrong)
    assert answer.status_code == 422
    assert 'value="900"' in answer.content.decode()
    right = {"do": "fix", "share_x_1": "0", "share_y_1": "100", "mm_x_1": "0", "mm_y_1": "0",
             "share_x_2": "100", "share_y_2": "0", "mm_x_2": "304", "mm_y_2": "214"}  # fmt: skip
    assert technician.post(address, right).status_code == 302
    page = said(bench.client("guest"), f"/devices/{demo().id}/?side=bottom")
    assert f'href="/photos/{sha}"' in page
    matrix = re.search(r'transform="matrix\(([^)]+)\)"', page)
    assert matrix is not None
    a, b, c, d, e, f = (float(number) for number in matrix[1].split())
    scale = 186 / 304
    assert (a, b, c, d) == pytest.approx((scale / 10, 0, 0, scale / 10), rel=1e-4, abs=1e-6)
    assert (e, f) == pytest.approx((0, 20), abs=0.01)
    assert technician.post(address, {"do": "remove"}).status_code == 302
    assert not DevicePhoto.objects.exists()


def test_script_in_every_text_of_a_file_is_shown_as_text(bench: Bench) -> None:
    """A device whose names are markup."""
    lead = bench.client("lead")
    evil = "<script>alert(1)</script>"
    text = SMALL.replace("name: Small", f'name: "{evil}", id: small').replace(
        "name: Lid", f'name: "{evil}", outline_mm: [[0, 0], [10, 0], [10, 10]]'
    )
    place = upload(lead, "small.yaml", text.encode())
    publish_draft(lead, Draft.objects.get())
    for address in (place, "/devices/", "/devices/small/", "/devices/small/compare/"):
        page = said(lead, address)
        assert evil not in page
        assert "alert(1)" in page or "compare" in address


def test_the_file_of_a_revision_is_sent_to_keep_and_never_as_a_page(bench: Bench) -> None:
    """As an attachment of plain text."""
    publish()
    answer = bench.client("guest").get(f"/devices/{demo().id}/text/")
    assert answer.content.decode() == demo_text()
    assert answer["Content-Type"].startswith("text/plain")
    assert answer["Content-Disposition"].startswith("attachment")


def test_pages_ask_the_database_a_bounded_number_of_times(bench: Bench) -> None:
    """The list with sixty devices, a device with fifty jobs."""
    publish()
    for number in range(60):
        text = SMALL.replace("name: Small", f"name: Small {number}")
        device = load_device(text)
        Revision.objects.create(revision=device.revision_hash, device=device.id, name=device.name,
                                text=text, made_ms=1, is_current=True)  # fmt: skip
    unit()
    add_run_events("r1", [Event(id="e1", what=started())], by="Ada", unit="u1")
    lead = bench.client("lead")
    for address, most in (("/devices/", 8), (f"/devices/{demo().id}/", 14)):
        lead.get(address)
        with CaptureQueriesContext(connection) as asked:
            lead.get(address)
        assert len(asked) <= most, [query["sql"][:120] for query in asked]
    assert "page 1 of 2" in said(lead, "/devices/")
