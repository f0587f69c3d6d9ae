"""Derived tables follow from the events alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import Branch, Item, Run, StageTime, StoredEvent, Unit
from lastscrew.bench.store import rebuilding
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.bench.store.rebuilding import rebuild
from tests.bench.store import making
from tests.bench.store.histories import Depot

if TYPE_CHECKING:
    from tests.bench.conftest import Bench


@settings(max_examples=6, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32))
def test_after_any_history_a_rebuild_gives_the_same_byte_for_byte(both: Bench, seed: int) -> None:
    making.empty()
    Depot(seed).live(60)
    before = making.derived()
    result = rebuild()
    assert making.derived() == before
    assert result.changed == ()
    assert result.events == StoredEvent.objects.count()


def test_the_histories_have_something_of_everything(bench: Bench) -> None:
    depot = Depot(7)
    depot.live(300)
    assert set(Unit.objects.values_list("stage", flat=True)) >= {"at_work", "set_apart", "gone"}
    assert StageTime.objects.filter(is_outlier=True).exists()
    assert StageTime.objects.filter(is_outlier=False).exists()
    assert Item.objects.count() > 3
    assert set(Branch.objects.values_list("state", flat=True)) >= {"taken", "set_aside"}
    assert Run.objects.filter(outcome="repaired").exists()
    assert StoredEvent.objects.filter(name="taken_back").exists()
    before = making.derived()
    rebuild()
    assert making.derived() == before


@pytest.mark.parametrize("change", ["stage", "count", "gone row"])
def test_what_went_wrong_in_a_derived_table_is_mended_and_told(bench: Bench, change: str) -> None:
    depot = Depot(3)
    depot.live(60)
    before = making.derived()
    if change == "stage":
        Unit.objects.update(stage="parked")
    elif change == "count":
        Item.objects.update(count=99)
    else:
        StageTime.objects.all().delete()
    name = {"stage": "Unit", "count": "Item", "gone row": "StageTime"}[change]
    assert rebuild().changed == (name,)
    assert making.derived() == before


def test_what_is_added_while_it_replays_is_there_too(both: Bench) -> None:
    depot = Depot(3)
    depot.live(20)
    with pytest.MonkeyPatch.context() as patch:
        # A chunk of one: progress is told, and others add, after each event.
        patch.setattr(rebuilding, "CHUNK", 1)
        added = []

        def meanwhile(count: int) -> None:
            if count == 5:
                unit = Unit.objects.order_by("number")[0].key
                added.append(add_depot_event(unit, d.Described(asset_tag="late"), by="Ben"))

        result = rebuild(meanwhile)
    assert added
    assert result.events == StoredEvent.objects.count()
    assert Unit.objects.filter(asset_tag="late").exists()
    assert result.changed == ()
