"""Devices, teardowns, plans and faults on SQLite and on PostgreSQL alike."""

from __future__ import annotations

from django.core.files.uploadedfile import SimpleUploadedFile

from lastscrew.bench.models import Draft, Revision, StoredEvent
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.jobs import current_revision, load_job
from lastscrew.device.reading import load_device
from lastscrew.run.events import CountCorrected, Event
from tests.bench.conftest import Bench
from tests.bench.faults.radio import RADIO, radio
from tests.bench.store.making import BY, unit

EVIL = "\x00\u202e'; DROP TABLE bench_draft; -- <script>"


def test_from_the_file_to_the_mended_unit(both: Bench) -> None:
    """Published, a unit planned and begun, a contradiction published, the fault found: the same on both."""
    lead = both.client("lead")
    file = SimpleUploadedFile("radio.device.yaml", RADIO.encode())
    place = lead.post("/devices/new-draft/", {"file": file})["Location"]
    draft = Draft.objects.get()
    lead.post(f"{place}publish/", {"key": "p1", "version": draft.version, "note": "First."})
    row = current_revision("radio")
    assert row is not None
    assert row.revision == radio().revision_hash
    assert b"Radio" in lead.get("/devices/?q=rAd").content
    key = unit(device="radio")
    form = {"asked": "replace=coil", "run": "r1", "event": "s1", "revision": row.revision}
    assert lead.post(f"/units/{key}/plan/start/", form)["Location"] == "/runs/r1/work/"
    assert load_job("r1").state.replace == ("coil",)
    add_run_events("r1", [Event(id="c1", what=CountCorrected(joint="back_screws", count=5))], by=BY)
    place = lead.post("/devices/radio/edits/", {"edit": "count.back_screws.5"})["Location"]
    draft = Draft.objects.get(published="")
    lead.post(f"{place}publish/", {"key": "p2", "version": draft.version})
    newer = current_revision("radio")
    assert newer is not None
    assert load_device(newer.text).joints["back_screws"].count == 5
    assert load_job("r1").run.revision == row.revision
    lead.post(f"/units/{key}/fault/symptoms/", {"event": "f1", "shows": "silent"})
    lead.post(f"/units/{key}/fault/tried/", {"event": "f2", "what": "hum", "outcome": "hums"})
    assert b"What was tried" in lead.get(f"/units/{key}/fault/").content
    assert StoredEvent.objects.filter(unit=key, name="fault_tried").count() == 1
    assert Revision.objects.filter(is_current=True).count() == 1


def test_signs_that_a_database_can_not_keep_do_no_harm(both: Bench) -> None:
    """Zero bytes, direction marks and quotes in every field: an answer, never an error of the server."""
    lead = both.client("lead")
    key = unit(device="radio")
    place = lead.post("/devices/new-teardown/", {"name": f"Rill {EVIL}", "fixed": f"Case {EVIL}"})
    assert place.status_code in (302, 422)
    posts = [
        ("/devices/new-draft/", {"text": f"# Removing\n\n1. Remove the lid. {EVIL}\n"}),
        (
            "/devices/new-draft/",
            {"text": f"format: 1\nparts: {{a: {{fixed: true, note: '{EVIL}'}}}}\n"},
        ),
        (f"/units/{key}/plan/start/", {"asked": f"replace={EVIL}", "run": EVIL, "event": EVIL}),
        (f"/units/{key}/fault/symptoms/", {"shows": EVIL, "event": EVIL}),
        (f"/units/{key}/fault/tried/", {"what": EVIL, "outcome": EVIL, "text": EVIL}),
        (f"/units/{key}/fault/back/", {"about": EVIL}),
        ("/devices/radio/republish/", {"rev": EVIL}),
        ("/devices/radio/edits/", {"edit": EVIL}),
    ]
    if place.status_code == 302:
        tap = {"kind": "clip", "moves_new": f"Lid {EVIL}", "to": "Case", "key": EVIL, "note": EVIL}
        posts.append((str(place["Location"]), tap))
        posts.append((str(place["Location"]), {"do": "finish"}))
    for address, form in posts:
        assert lead.post(address, form).status_code < 500, address
    for address in (
        "/devices/?q=",
        "/devices/radio/?side=",
        "/units/u1/plan/?replace=",
        "/devices/radio/?rev=",
    ):
        assert lead.get(address + EVIL.replace("\x00", "%00")).status_code < 500, address
    for draft in Draft.objects.all():
        assert lead.get(f"/devices/draft-{draft.pk}/").status_code == 200
