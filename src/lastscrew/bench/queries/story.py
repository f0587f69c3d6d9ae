"""All that a unit's page shows: what happened in order, its jobs, order lines, pictures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.event_words import say
from lastscrew.bench.depot.running import moment_of
from lastscrew.bench.models import OwnerData, Photo, StoredEvent
from lastscrew.bench.store.jobs import device_of
from lastscrew.device.model import Device
from lastscrew.plan.wording import joint_name
from lastscrew.problems import InputError
from lastscrew.run import events as r
from lastscrew.run.events import HAPPENINGS, Event, Happening
from lastscrew.run.lines import event_from_json

MOST_EVENTS = 400
MOST_PICTURES = 60
TOGETHER = {"opened": r.Opened, "closed": r.Closed}


@dataclass(frozen=True, slots=True)
class Told:
    """One line of what happened.

    Attributes:
        text: The sentence.
        at_ms: When it happened, as the screen says that it was entered on.
        by: Who.
        is_work: It belongs to a job.
        is_back: It was taken back.
        name: Name of the event.
        photo: Hash of a picture, empty for none.
        joints: Joints that were opened or closed one after the other.
        act: Act that was done or confirmed, empty for none.
    """

    text: str
    at_ms: int
    by: str
    is_work: bool
    name: str
    is_back: bool = False
    photo: str = ""
    joints: tuple[str, ...] = ()
    act: str = ""


@dataclass(frozen=True, slots=True)
class Shot:
    """A photo as the story tells it.

    Attributes:
        text: What it shows, where that may be told.
        is_shown: It is there, and whoever asks may see it.
        is_erased: It was erased.
    """

    text: str
    is_shown: bool
    is_erased: bool

    @property
    def words(self) -> str:
        """One sentence without its full stop."""
        if self.is_erased:
            return _("Photo, erased")
        return "; ".join(filter(None, (_("Photo"), self.text)))


@dataclass(frozen=True, slots=True)
class Story:
    """What happened to a unit, oldest first; ``earlier`` events before that are not shown."""

    lines: tuple[Told, ...]
    earlier: int


def story_of(
    unit: str,
    revisions: Mapping[str, str],
    *,
    present: Device | None = None,
    everything: bool = False,
    with_owners: bool = True,
) -> Story:
    """What happened to a unit.

    Args:
        unit: Its key.
        revisions: Revision of the device file by job.
        present: The device file that what belongs to no job goes by.
        everything: All of it, not only the last four hundred events.
        with_owners: Also the photos that may show something of the owner, and what they show: not for guests.
    """
    rows = StoredEvent.objects.filter(unit=unit).order_by("-position")
    found: list[StoredEvent] = list(rows if everything else rows[: MOST_EVENTS + 1])
    earlier = 0
    if not everything and len(found) > MOST_EVENTS:
        found = found[:MOST_EVENTS]
        earlier = rows.count() - MOST_EVENTS
    devices = _devices(revisions)
    events = [(row, _event(row)) for row in reversed(found)]
    back = {
        event.what.about
        for _row, event in events
        if event and isinstance(event.what, r.TakenBack | d.FaultTakenBack)
    }
    shots = _shots(unit, [event.what for _row, event in events if event], with_owners=with_owners)
    lines = [
        _told(row, event, devices.get(row.run) if row.run else present, back, shots)
        for row, event in events
        if event
    ]
    return Story(tuple(_together(lines)), earlier)


def _captions(unit: str) -> dict[str, str]:
    """What the owner's photos of a unit show, by hash."""
    row = OwnerData.objects.filter(pk=unit, erased=False).only("captions").first()
    return {str(key): str(text) for key, text in row.captions.items()} if row is not None else {}


def _shots(unit: str, happened: Iterable[Happening], *, with_owners: bool) -> dict[str, Shot]:
    """How each photo is told, by hash: as a link where whoever asks may see it and it is still there."""
    told = {w.sha256: w.text or "" for w in happened if isinstance(w, r.Photo | d.OwnerPhoto)}
    if not told:
        return {}
    captions = _captions(unit) if with_owners else {}
    rows = Photo.objects.filter(pk__in=told).values_list("sha256", "is_owners", "erased")
    return {
        key: Shot(
            captions.get(key) or told[key] if is_shown and not erased else "",
            is_shown=is_shown and not erased,
            is_erased=erased,
        )
        for key, is_owners, erased in rows
        for is_shown in (with_owners or not is_owners,)
    }


def _devices(revisions: Mapping[str, str]) -> dict[str, Device]:
    found = {}
    for run, revision in revisions.items():
        try:
            found[run] = device_of(revision)
        except KeyError:
            continue
    return found


def _event(row: StoredEvent) -> Event | None:
    body: dict[str, Any] = dict(row.body)
    try:
        return event_from_json(body, HAPPENINGS if row.run else d.HAPPENINGS)
    except InputError:
        return None


def _told(
    row: StoredEvent,
    event: Event,
    device: Device | None,
    back: Iterable[str],
    shots: Mapping[str, Shot],
) -> Told:
    what = event.what
    text, photo = say(what, device), ""
    if isinstance(what, r.Photo | d.OwnerPhoto):
        shot = shots.get(what.sha256, Shot("", is_shown=False, is_erased=False))
        text, photo = shot.words, what.sha256 if shot.is_shown else ""
    joints: tuple[str, ...] = ()
    if isinstance(what, r.Opened | r.Closed):
        joints = (joint_name(device, what.joint) if device else what.joint.replace("_", " "),)
    return Told(
        text,
        moment_of(event) or row.stored_ms,
        row.by,
        bool(row.run),
        row.name,
        event.id in back,
        photo,
        joints,
        (what.act or "") if isinstance(what, r.ActDone | r.Confirmed) else "",
    )


def _together(lines: Sequence[Told]) -> Iterable[Told]:
    """Fewer lines: openings one after the other by one person are one, closings too, an act confirmed and done."""
    kept: Told | None = None
    for line in lines:
        if kept is not None and line.act and (kept.name, line.name) == ("confirmed", "act_done"):
            if (kept.act, kept.by, kept.is_back) == (line.act, line.by, line.is_back):
                kept = line
                continue
        same = (
            kept is not None
            and line.name in TOGETHER
            and (line.name, line.by, line.is_back) == (kept.name, kept.by, kept.is_back)
        )
        if kept is not None and same:
            kept = replace(kept, joints=(*kept.joints, *line.joints))
            continue
        if kept is not None:
            yield _worded(kept)
        kept = line
    if kept is not None:
        yield _worded(kept)


def _worded(line: Told) -> Told:
    if len(line.joints) < 2:
        return line
    words = _("%(count)d joints opened: %(names)s")
    if line.name == "closed":
        words = _("%(count)d joints closed: %(names)s")
    return replace(line, text=words % {"count": len(line.joints), "names": ", ".join(line.joints)})


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture of a unit and what it shows."""

    sha256: str
    text: str
    width: int
    height: int
    is_owners: bool


def pictures_of(unit: str, *, with_owners: bool) -> tuple[Picture, ...]:
    """Pictures of a unit that are there, oldest first, at most sixty.

    Args:
        unit: Key of the unit.
        with_owners: Also those that may show something of its owner: not for guests.
    """
    bodies = StoredEvent.objects.filter(unit=unit, name__in=("owner_photo", "photo"))
    words = {
        body["sha256"]: str(body.get("text", "")) for body in bodies.values_list("body", flat=True)
    }
    if words and with_owners:
        words |= _captions(unit)
    rows = Photo.objects.filter(sha256__in=words, erased=False).order_by("stored_ms", "sha256")
    if not with_owners:
        rows = rows.filter(is_owners=False)
    return tuple(
        Picture(row.sha256, words.get(row.sha256, ""), row.width, row.height, row.is_owners)
        for row in rows[:MOST_PICTURES]
    )
