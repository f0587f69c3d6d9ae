"""An owner's data can be erased, and nothing else changes."""

from __future__ import annotations

import time
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import time_machine
from django.db import connection

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import OwnerData, Photo, StoredEvent, Unit
from lastscrew.bench.store import starting
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.bench.store.owners import erase, erase_due, keep_owner
from lastscrew.bench.store.photos import keep_photo, path_of, read_photo
from lastscrew.bench.store.rebuilding import rebuild
from lastscrew.problems import InputError
from tests.bench.store import making
from tests.bench.store.making import BY
from tests.bench.store.test_photos import picture

if TYPE_CHECKING:
    from tests.bench.conftest import Bench

WORDS = ("Ottilie Quast", "ottilie@example.org", "It fell into the lake at home")


def _taken_in() -> Photo:
    making.unit("u1")
    keep_owner("u1", name=WORDS[0], contact=WORDS[1], complaint=WORDS[2])
    photo = keep_photo(picture(), unit="u1", is_owners=True)
    add_depot_event("u1", d.OwnerPhoto(sha256=photo.sha256), by=BY)
    return photo


def test_erasing_takes_words_and_photos_and_leaves_events_and_what_follows(both: Bench) -> None:
    photo = _taken_in()
    file = path_of(photo.sha256, photo.media_type)
    events = list(StoredEvent.objects.values_list("key", "body"))
    before = making.derived()
    assert file.exists()
    assert erase("u1", "asked", by="Lea") == (photo.sha256,)
    owner = OwnerData.objects.get()
    assert (owner.name, owner.contact, owner.complaint, owner.erased) == ("", "", "", True)
    assert not file.exists()
    with pytest.raises(KeyError):
        read_photo(photo.sha256)
    told = StoredEvent.objects.get(name="owner_erased")
    assert (told.by, told.unit, told.body["photos"]) == ("Lea", "u1", [photo.sha256])
    assert list(StoredEvent.objects.exclude(pk=told.pk).values_list("key", "body")) == events
    after = making.derived()
    assert {name: rows for name, rows in after.items() if name != "Unit"} == {
        name: rows for name, rows in before.items() if name != "Unit"
    }
    assert rebuild().changed == ()
    assert making.derived() == after


def test_what_an_owners_photo_shows_goes_with_it_and_may_be_told_anew(both: Bench) -> None:
    making.unit("u1")
    client = both.client("technician")

    def send(shows: str, is_owners: str) -> None:
        sent = {"photos": picture(), "shows": shows, "is_owners": is_owners}
        assert client.post("/units/u1/photos/", sent).status_code == 302

    send("Ottilie on the lake", "1")
    assert "Ottilie" not in str(StoredEvent.objects.get(name="owner_photo").body)
    assert "Ottilie on the lake" in client.get("/units/u1/").content.decode()
    assert "Ottilie on the lake" in client.get("/units/u1/record/").content.decode()
    erase("u1", "asked", by="Lea")
    assert OwnerData.objects.get().captions == {}
    assert "Ottilie" not in client.get("/units/u1/").content.decode()
    # Told again after that, it is there to be erased again.
    send("Quast at sea", "1")
    assert "Quast at sea" in client.get("/units/u1/").content.decode()
    assert len(erase("u1", "asked", by="Lea")) == 1
    assert "Quast" not in client.get("/units/u1/").content.decode()


def test_erasing_twice_is_told_once(both: Bench) -> None:
    _taken_in()
    erase("u1", "asked", by="Lea")
    assert erase("u1", "asked", by="Lea") == ()
    assert StoredEvent.objects.filter(name="owner_erased").count() == 1
    with pytest.raises(InputError, match="no unit u9"):
        erase("u9", "asked", by="Lea")


def test_nothing_of_an_owner_is_left_in_the_file_of_the_database(bench: Bench) -> None:
    _taken_in()
    erase("u1", "asked", by="Lea")
    for file in bench.config.data.rglob("*"):
        if file.is_file():
            content = file.read_bytes()
            assert not [word for word in WORDS if word.encode() in content], file.name


def test_nothing_of_an_owner_is_left_in_the_file_of_its_table(both: Bench) -> None:
    """PostgreSQL keeps rows that are gone until their place is needed: the erasure writes the table anew."""
    if connection.vendor != "postgresql":
        pytest.skip("SQLite: the test before")
    for each in ("u2", "u3"):
        making.unit(each)
        keep_owner(each, name="Someone else", complaint="x" * 200)
    _taken_in()
    words = [word.encode() for word in WORDS]
    with connection.cursor() as cursor:
        cursor.execute("SHOW data_directory")
        folder = Path(cursor.fetchone()[0])

        def left() -> list[bytes]:
            cursor.execute("CHECKPOINT")
            cursor.execute("SELECT pg_relation_filepath('bench_ownerdata')")
            content = (folder / cursor.fetchone()[0]).read_bytes()
            return [word for word in words if word in content]

        assert left() == words
        erase("u1", "asked", by="Lea")
        assert left() == []
        keep_owner("u1", name=WORDS[0], contact=WORDS[1], complaint=WORDS[2])
        OwnerData.objects.filter(pk="u1").update(erase_after=date(2020, 1, 1))
        assert erase_due() == ("u1",)
        assert left() == []


def test_the_time_runs_from_the_handing_back(both: Bench) -> None:
    _taken_in()
    with time_machine.travel("2026-03-01T12:00:00Z", tick=False):
        add_depot_event("u1", d.HandedBack(outcome="repaired", to="owner"), by=BY)
    assert OwnerData.objects.get().erase_after == date(2026, 8, 28)  # 180 days
    with time_machine.travel("2026-08-27T23:00:00Z", tick=False):
        assert erase_due() == ()
    with time_machine.travel("2026-08-28T00:10:00Z", tick=False):
        assert erase_due() == ("u1",)
        assert erase_due() == ()
    assert StoredEvent.objects.get(name="owner_erased").body["reason"] == "time"
    assert Unit.objects.get().stage == "gone"


def test_the_lead_sets_the_time(both: Bench) -> None:
    _taken_in()
    add_depot_event("", d.RuleChanged(rule="erase_after_days", value=30), by="Lea")
    with time_machine.travel("2026-03-01T12:00:00Z", tick=False):
        add_depot_event("u1", d.HandedBack(outcome="repaired", to="owner"), by=BY)
    assert OwnerData.objects.get().erase_after == date(2026, 3, 31)


def test_no_time_means_never(both: Bench) -> None:
    _taken_in()
    add_depot_event("", d.RuleChanged(rule="erase_after_days", value=0), by="Lea")
    add_depot_event("u1", d.HandedBack(outcome="repaired", to="owner"), by=BY)
    assert OwnerData.objects.get().erase_after is None


def test_what_is_entered_after_the_unit_has_left_goes_in_time_too(both: Bench) -> None:
    making.unit("u1")
    with time_machine.travel("2026-03-01T12:00:00Z", tick=False):
        add_depot_event("u1", d.HandedBack(outcome="repaired", to="owner"), by=BY)
        OwnerData.objects.all().delete()
        keep_owner("u1", name="Somebody")
    with time_machine.travel("2026-08-27T12:00:00Z", tick=False):
        assert erase_due() == ()
    with time_machine.travel("2026-08-28T12:00:01Z", tick=False):
        assert erase_due() == ("u1",)


def test_it_is_looked_at_daily_while_the_bench_serves(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    _taken_in()
    OwnerData.objects.update(erase_after=date(2020, 1, 1))
    monkeypatch.setattr(starting, "DAY_S", 0.02)
    with starting.erasing_daily():
        for _ in range(300):
            if OwnerData.objects.get().erased:
                break
            time.sleep(0.02)
    assert OwnerData.objects.get().erased


def test_a_photo_of_two_units_goes_with_either_owner(both: Bench) -> None:
    photo = _taken_in()
    making.unit("u2", number=2)
    assert keep_photo(picture(), unit="u2", is_owners=True).sha256 == photo.sha256
    assert erase("u2", "asked", by="Lea") == (photo.sha256,)


def test_a_photo_of_the_device_in_general_stays(both: Bench) -> None:
    making.unit("u1")
    photo = keep_photo(picture(), unit="u1")
    keep_owner("u1", name="Somebody")
    assert erase("u1", "asked", by="Lea") == ()
    assert read_photo(photo.sha256)
