"""Device files are read before anybody asks: those of jobs in hand and those for new jobs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import connection
from django.test.utils import CaptureQueriesContext

from lastscrew.bench.models import Revision
from lastscrew.bench.store.jobs import device_of, forget_everything, read_ahead
from lastscrew.bench.store.revisions import publish
from lastscrew.cli.demo import demo_text
from lastscrew.device.reading import load_device

if TYPE_CHECKING:
    from tests.bench.conftest import Bench


def test_what_was_read_ahead_is_asked_for_without_the_database(bench: Bench) -> None:
    text = demo_text("slate")
    device = load_device(text, "slate")
    publish(device, text, by="ada")
    forget_everything()
    assert read_ahead() == 1
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert device_of(device.revision_hash).name == device.name
    assert len(asked) == 0


def test_a_file_that_can_not_be_read_does_not_stop_the_others(bench: Bench) -> None:
    for name, text in (("bad", "no device file"), ("slate", demo_text("slate"))):
        Revision.objects.create(
            revision=name, device=name, name=name, text=text, made_ms=1, is_current=True
        )
    forget_everything()
    assert read_ahead() == 1
