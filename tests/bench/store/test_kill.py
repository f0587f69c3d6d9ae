"""The server is killed at random moments under load; what it acknowledged is there afterwards."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchmarks.bench_kill import kill_often

if TYPE_CHECKING:
    from tests.bench.conftest import Bench


def test_after_twenty_kills_nothing_acknowledged_is_lost_and_no_job_is_torn(both: Bench) -> None:
    report = kill_often(both.config, 20, seed=20, check_every=5)
    assert report.faults == []
    assert report.kills == 20
    assert report.acknowledged > 20
