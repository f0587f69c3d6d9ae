"""Style sheets and scripts: what a server names is what it serves, whatever becomes of the files meanwhile."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

from lastscrew.bench import assets
from lastscrew.bench.serving.files import Files

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    import pytest

    from tests.bench.conftest import Bench


def behind(_environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
    """An application that knows no file."""
    start("404 Not Found", [])
    return [b"behind"]


def asked(files: Files, path: str, method: str = "GET") -> tuple[str, dict[str, str], bytes]:
    """Status, headers and body of an answer."""
    told: list[Any] = []
    body = b"".join(
        files({"PATH_INFO": path, "REQUEST_METHOD": method}, lambda *said: told.extend(said))
    )
    return told[0], dict(told[1]), body


def test_an_upgrade_below_a_running_server_changes_nothing_that_it_serves(tmp_path: Path) -> None:
    folder = tmp_path / "static"
    shutil.copytree(assets.FOLDER, folder)
    contents = assets.read_folder(folder)
    version = assets.version_of(contents)
    served = Files(behind, f"/static/{version}/", contents)
    before = asked(served, f"/static/{version}/bench/work/work.js")
    (folder / "bench" / "work" / "work.js").write_text("changed();", encoding="utf-8")
    (folder / "bench" / "work" / "job.js").unlink()
    (folder / "bench" / "more.js").write_text("more();", encoding="utf-8")
    assert asked(served, f"/static/{version}/bench/work/work.js") == before
    assert asked(served, f"/static/{version}/bench/work/job.js")[0] == "200 OK"
    assert asked(served, f"/static/{version}/bench/more.js")[2] == b"behind"
    # A server that starts afterwards names and serves the new ones, under another address.
    assert assets.version_of(assets.read_folder(folder)) != version


def test_pages_need_no_file_of_the_folder_once_the_server_runs(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    client = bench.client("lead")
    page, worker = client.get("/").content, client.get("/service-worker.js").content
    monkeypatch.setattr(assets, "FOLDER", tmp_path / "gone")
    assert client.get("/service-worker.js").content == worker
    address = assets.static_url().encode()
    assert address in page
    assert address in worker
    assert assets.text_of("bench/record.css")


def test_a_file_is_kept_for_ever_and_its_kind_is_said() -> None:
    served = Files(behind, assets.static_url(), assets.contents())
    for name in assets.files():
        status, headers, body = asked(served, assets.static_url() + name)
        assert status == "200 OK"
        assert headers["Content-Length"] == str(len(body))
        assert "immutable" in headers["Cache-Control"]
        assert headers["Content-Type"] != "application/octet-stream", name
        assert asked(served, assets.static_url() + name, "HEAD") == (status, headers, b"")
        assert asked(served, assets.static_url() + name, "POST")[0].startswith("405")
    assert asked(served, "/static/0123456789ab/bench/look.css")[2] == b"behind"
