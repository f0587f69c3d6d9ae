"""After the start nothing of ours is read from the disk any more: an upgrade below a running server mixes nothing."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from django.template.loaders import filesystem

from lastscrew.bench.serving.whole import TEMPLATES, load_whole, module_names, template_names
from tests.bench.conftest import Bench

PAGES = (
    "/",
    "/take-in/",
    "/take-in/batch/",
    "/devices/",
    "/devices/new-draft/",
    "/stock/",
    "/depot/",
    "/labels/",
    "/x",
)


def test_every_module_is_loaded_at_the_start() -> None:
    load_whole()
    assert {name for name in module_names() if name not in sys.modules} == set()
    assert {"lastscrew.bench.pages.plans", "lastscrew.reading.reader"} < set(module_names())
    assert not any(name.startswith("lastscrew.cli") for name in module_names())


def test_no_template_is_read_after_the_start(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    load_whole()

    def vanished(_loader: object, origin: object) -> str:
        raise AssertionError(f"{origin} was read from the disk")

    monkeypatch.setattr(filesystem.Loader, "get_contents", vanished)
    client = bench.client("lead")
    for page in PAGES:
        assert client.get(page).status_code in {200, 404}


def test_every_template_of_ours_is_known(tmp_path: Path) -> None:
    names = list(template_names(TEMPLATES))
    assert {"bench/base.html", "404.html", "bench/work/work.html"} < set(names)
    assert len(names) == len(list(TEMPLATES.rglob("*.html")))
    assert list(template_names(tmp_path)) == []
