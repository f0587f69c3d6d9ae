"""The invented depot: forty units in every stage, made of events like any other."""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest
import time_machine

from lastscrew.bench.depot.events import AccountChanged
from lastscrew.bench.invented.cast import COUNTS, STORIES
from lastscrew.bench.invented.filling import fill
from lastscrew.bench.invented.playing import Playing, play
from lastscrew.bench.models import Item, OwnerData, Run, StoredEvent, Unit
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.cli.demo import demo_text
from lastscrew.device.reading import load_device
from lastscrew.fasteners.ledger import hindrances, ledger_of
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.proof.checks import open_proofs
from lastscrew.run.folding import fold
from tests.bench.conftest import Bench

PIECES = [(name, story.pieces) for name, stories in STORIES.items() for story in stories]


@pytest.mark.parametrize(("name", "pieces"), PIECES)
def test_a_job_that_is_played_leaves_nothing_open_and_breaks_no_rule(
    name: str, pieces: tuple[str, ...]
) -> None:
    device = load_device(demo_text(name), name)
    events = list(
        play(
            device, plan(device, Request(replace=pieces)), Playing("r", "c", 1, Random(1), unit="S")
        )
    )
    state = fold(device, events)
    assert state.remarks == ()
    assert open_proofs(device, state) == ()
    assert hindrances(device, state, ledger_of(device, events)) == ()


def test_it_has_forty_units_and_some_in_every_stage(both: Bench) -> None:
    assert fill() == 40
    stages = Counter(Unit.objects.values_list("stage", flat=True))
    assert stages == Counter(dict(COUNTS))
    assert OwnerData.objects.count() == 40
    assert Run.objects.filter(outcome="repaired").count() == COUNTS["gone"]
    assert Item.objects.filter(count=0).exists()


def test_it_is_the_same_at_the_same_moment(bench: Bench) -> None:
    with time_machine.travel("2026-03-02T09:30:00Z", tick=False):
        fill()
        once = list(StoredEvent.objects.values_list("key", "body"))
        StoredEvent.objects.all().delete()
        for model in (Unit, OwnerData, Item, Run):
            model.objects.all().delete()
        fill()
        assert list(StoredEvent.objects.values_list("key", "body")) == once


def test_it_is_not_mixed_with_what_is_there(bench: Bench) -> None:
    add_depot_event("", AccountChanged(account="ada", what="made", role="lead"), by="ada")
    with pytest.raises(InputError, match="not empty"):
        fill()
    assert not Unit.objects.exists()
