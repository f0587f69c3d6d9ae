"""In another language no page of a depot at work has a sentence of ours that was left in English."""

from __future__ import annotations

import json
import re
import string
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import translation
from django.utils.translation import trans_real

from lastscrew.bench.depot import batch
from lastscrew.bench.invented import cast, filling
from lastscrew.bench.language import VOICE
from lastscrew.bench.models import OwnerData, StoredEvent, Unit
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.clock import now_ms
from lastscrew.bench.store.jobs import load_job
from lastscrew.bench.workshop.planning import Planner
from lastscrew.device.model import KINDS, Device
from lastscrew.device.reading import load_device
from lastscrew.fasteners import tray_drawing
from lastscrew.paper import svg
from lastscrew.paper.qr import job_text
from lastscrew.paper.sheet import SheetOptions, sheet_html
from lastscrew.paper.sheet_tray import TrayWish, tray_page
from lastscrew.plan.model import Request
from lastscrew.run import events as e
from lastscrew.run.events import Event
from lastscrew.saying import speaking, told
from tests.bench.conftest import Bench
from tests.bench.language.marked import Marked, left_over, said, seen, words_of
from tests.bench.work.conftest import demo

GENERAL = (
    "/", "/?stage=parked", "/take-in/", "/take-in/batch/", "/find/?q=U000001", "/labels/", "/devices/", "/stock/",
    "/depot/", "/devices/new-draft/", "/devices/new-teardown/", "/login/",
)  # fmt: skip
OF_DEVICE = ("", "plan/", "history/", "edits/", "compare/", "photo/")
OF_UNIT = (
    "", "plan/", "fault/", "fault/next/", "hand-back/", "hand-back/?outcome=scrapped", "record/", "plan/tray.svg",
)  # fmt: skip
OF_JOB = ("work/", "prove/", "park/", "bundle.json")

SHOWN = frozenset({
    "text", "verb", "name", "parts", "tool", "count", "notes", "found", "remarks", "losses", "waiting", "asked",
    "otherwise", "fields", "lines", "asks", "planned", "sides",
})  # fmt: skip
"""Keys of the work page's value below which its words stand."""

PERMITTED = frozenset({
    # names of ours, of languages, of units and standards
    "Lastscrew", "English", "Deutsch", "Bench", "min", "mm", "N·cm", "kg",
    "ISO 7045", "ISO 7046-2", "ISO 4762", "ISO 7380", "ISO 4017", "ISO 4032",
    "/api/openapi.json",
    # places that the work page fills in itself
    "{count}", "{part}",
})  # fmt: skip

TOLD_BY_PEOPLE = frozenset({
    "accessories", "agreed_by", "asset_tag", "by", "compartment", "condition", "may_be_lost", "new_serial", "note",
    "old_serial", "order_code", "place", "seals", "thread", "where", "serial", "told", "unit", "waiting_for",
})  # fmt: skip
"""Keys of an event whose values a person typed."""


def _typed(value: Any, *, inside: bool = False) -> Iterator[str]:  # noqa: ANN401 - JSON
    if isinstance(value, str) and inside:
        yield value
    elif isinstance(value, dict):
        for key, each in value.items():
            yield from _typed(each, inside=inside or key in TOLD_BY_PEOPLE)
    elif isinstance(value, list):
        for each in value:
            yield from _typed(each, inside=inside)


def _of_devices() -> set[str]:
    """Names and values that are the same in every language: those of the device files, and a few of ours."""
    found = set(PERMITTED)
    for name in cast.STORIES:
        device = demo(name)
        found |= words_of(device)
        found |= {device.revision_hash[:length] for length in (8, 10, 12)}
        # Mends that the file does not name are kept by such an id.
        found |= {f"{do}_{part}" for do in ("exchange", "reseat") for part in device.parts}
    # Letters that stand for joints on a drawing.
    return found | {a + b for a in "abc" for b in string.ascii_lowercase}


def _permitted() -> set[str]:
    """The same, and what people typed."""
    found = _of_devices()
    for event in StoredEvent.objects.all():
        found |= set(_typed(event.body))
        if event.name == "noted":
            found.add(event.body["text"])
    for unit in Unit.objects.all():
        found |= {str(unit), unit.serial, unit.asset_tag, unit.run, unit.run[:8]}
    for owner in OwnerData.objects.all():
        found |= {owner.name, owner.contact, owner.complaint}
    # Columns of a table are known by these names, in whatever language the page is.
    for name, others in batch.COLUMNS.items():
        found |= {name, name.replace("_", " "), *others}
    return found


@pytest.fixture
def in_brackets(monkeypatch: pytest.MonkeyPatch) -> None:
    """German is a language in which every text of the catalogue stands in brackets."""
    kept = vars(trans_real)["_translations"]
    monkeypatch.setitem(kept, "de", Marked("de"))
    # A text that is cut or broken into lines could not be told from one that was left alone.
    monkeypatch.setattr(svg, "fit", lambda text, *_, **__: told(text))
    monkeypatch.setattr(svg, "wrap", lambda text, *_, **__: [told(text)])
    monkeypatch.setattr(tray_drawing, "_fitted", lambda text, *_: told(text))
    monkeypatch.setattr(tray_drawing, "_wrapped", lambda text, *_: [told(text)])


@pytest.fixture
def depot(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """The invented depot with a unit in every stage."""
    monkeypatch.setattr(filling, "COUNTS", dict.fromkeys(cast.COUNTS, 1))
    filling.fill()
    return bench


def _pages() -> list[str]:
    units = list(Unit.objects.order_by("key"))
    pages = list(GENERAL)
    pages += [f"/devices/{demo(name).id}/{page}" for name in cast.STORIES for page in OF_DEVICE]
    for name, stories in cast.STORIES.items():
        pieces = "&".join(f"replace={piece}" for piece in stories[0].pieces)
        pages.append(f"/devices/{demo(name).id}/plan/?{pieces}")
    pages += [f"/units/{unit.key}/{page}" for unit in units for page in OF_UNIT]
    pages += [f"/runs/{unit.run}/{page}" for unit in units if unit.run for page in OF_JOB]
    return pages


def _look_for_faults(client: Client) -> None:
    for unit in Unit.objects.filter(device__in=[demo(name).id for name in cast.STORIES]):
        device = next(demo(name) for name in cast.STORIES if demo(name).id == unit.device)
        shows = list(device.symptoms)[:1]
        client.post(
            f"/units/{unit.key}/fault/symptoms/", {"event": f"s-{unit.key}", "shows": shows}
        )


def _go_wrong(run: str) -> None:
    """A job in which much goes wrong: what is shown then has words of its own."""
    job = load_job(run)
    device = job.device
    joint = next(j for j in device.joints.values() if j.fastener and j.count > 2)
    cable = next(j for j in device.joints.values() if j.kind in ("plug", "ribbon") and not j.rigid)
    part = next(p.id for p in device.parts.values() if not p.fixed and p.id not in joint.joins)
    happened = (
        e.Missing(joint=joint.id, count=1),
        e.Lost(joint=joint.id, count=1),
        e.Stripped(joint=joint.id, count=1, what="drive"),
        e.CountCorrected(joint=joint.id, count=joint.count + 1),
        e.OtherKind(joint=joint.id, count=1, thread="M2", length_mm=7.5),
        e.Found(count=1, thread="M2", length_mm=4.5, where="Shelf C"),
        e.Broken(joint=cable.id, count=1),
        e.Unreachable(joint=joint.id, reason="in_the_way", part=part),
        e.Unreachable(joint=cable.id, reason="too_short"),
        e.PartJudged(part=part, state="bad"),
        e.TargetAdded(replace=part),
        e.Opened(joint=joint.id),
        e.Closed(joint=joint.id, left_empty=1),
        e.PowerOn(functions=(), names=()),
        e.PowerOff(),
    )
    for number, what in enumerate(happened):
        add_run_events(
            run, [Event(id=f"wrong-{number}", what=what, by="Ada", at_ms=now_ms())], by="Ada"
        )


def _of_bundle(value: Any) -> Any:  # noqa: ANN401 - JSON
    """What of the work page's value is shown: the button of another outcome, not what happens with it."""
    if isinstance(value, dict):
        return {
            key: each[0] if key == "otherwise" and each else
            [one[1] for one in each] if key == "asks" else _of_bundle(each)
            for key, each in value.items()
            if key not in ("events", "event", "id", "kind", "drawing", "worn")
        }  # fmt: skip
    return [_of_bundle(each) for each in value] if isinstance(value, list) else value


@pytest.mark.usefixtures("in_brackets")
def test_no_page_has_a_sentence_of_ours_left_in_english(depot: Bench) -> None:
    client = depot.client()
    _look_for_faults(client)
    _go_wrong(Unit.objects.filter(stage="at_work").values_list("run", flat=True)[0])
    permitted = _permitted()
    left: dict[str, list[str]] = {}
    for page in _pages():
        answer = client.get(page, headers={"Accept-Language": "de"})
        assert answer.status_code in (200, 202, 204, 302, 422), page
        body = answer.content.decode()
        shown = (
            list(said(_of_bundle(json.loads(body)), SHOWN))
            if page.endswith(".json")
            else seen(body)
        )
        for text in left_over(shown, permitted):
            left.setdefault(text, []).append(page)
    assert not left, "\n".join(f"{text!r} on {pages[0]}" for text, pages in left.items())


BAD_FILE = """format: 1
device: {name: Fan, revision: 07}
sides: [bottom]
tools: {driver: {name: driver, fits: PH1}}
fasteners: {m2: {thread: M2, length_mm: yes}}
parts:
  base: {name: Base}
  lid: {nam: Lid}
joints:
  screws: {kind: scrw, joins: [lid, bse], fastener: m3, count: 0, after: [screws]}
  Clip: {kind: clip, joins: [lid]}
"""


@pytest.mark.usefixtures("in_brackets")
def test_what_is_wrong_with_a_device_file_or_a_request_is_told_too(depot: Bench) -> None:
    client = depot.client()
    german = {"Accept-Language": "de"}
    made = client.post(
        "/devices/new-draft/", {"text": BAD_FILE, "name": "fan.device.yaml", "kind": "device"},
        headers=german, follow=True,
    )  # fmt: skip
    device = demo("notebook")
    asked = f"/devices/{device.id}/plan/?replace=fan&without=fan_screws&reach=nothing&lacks=chassis"
    shown = [
        *seen(made.content.decode()),
        *seen(client.get(asked, headers=german).content.decode()),
    ]
    typed = set(re.findall(r"[\w.]+", BAD_FILE)) | {"nothing", "fan_screws", "pasted", *KINDS}
    left = left_over(shown, _permitted() | typed)
    assert not left, "\n".join(sorted(left))


@pytest.mark.usefixtures("in_brackets")
def test_what_a_colleague_would_say_about_a_device_file_is_told_too(bench: Bench) -> None:
    text = (Path(__file__).parents[2] / "device" / "alder.device.yaml").read_text("utf-8")
    page = bench.client().post(
        "/devices/new-draft/", {"text": text, "kind": "device"},
        headers={"Accept-Language": "de"}, follow=True,
    )  # fmt: skip
    shown = seen(page.content.decode())
    keys = set(re.findall(r"[\w.]+", text)) | {"pasted", "draft"}
    # What would be written into the file is written as files are, in any language.
    shown = [re.sub(r"\{kind: [^}]*\}", "", each) for each in shown]
    left = left_over(shown, _of_devices() | words_of(load_device(text, "alder")) | keys)
    assert not left, "\n".join(sorted(left))


@pytest.mark.usefixtures("in_brackets")
@pytest.mark.parametrize("name", list(cast.STORIES))
def test_a_job_sheet_has_none_either(name: str) -> None:
    device: Device = demo(name)
    briefing = Planner().plan(device, Request(replace=cast.STORIES[name][0].pieces)).briefing
    with translation.override("de"), speaking(VOICE):
        page = sheet_html(
            briefing,
            SheetOptions(date="2026-03-02", language="de"),
            tray_page(briefing, TrayWish(), "a4"),
        )
    code = job_text(device, briefing.plan.request)
    assert left_over(seen(page), _of_devices() | {code}) == set()


def test_the_check_itself_finds_what_was_left() -> None:
    marked = ["⟦Öffnen: ⟧Fan", "Take out", "⟦Es fehlt ⟧by hand"]
    assert left_over(marked, {"Fan"}) == {"Take out", "by hand"}
