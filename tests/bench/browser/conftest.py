"""A real browser against a real server. One server and one browser for all tests of a worker.

``site`` is a server over an installation that all browser tests of a worker share: each test makes its own
units and looks at them only. ``page`` is a fresh window; it fails the test when the page writes an
error to its console or asks anything of another machine. ``axe_finds`` says what a checker of accessibility
holds to be serious.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    expect,
    sync_playwright,
)

from lastscrew.bench.config import Config
from tests.bench.browser.serving import Site, serving
from tests.bench.conftest import Bench, using

# Tests write to the database from the thread in which the browser's loop runs; there is only one.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

CHROMIUM = "/usr/bin/chromium"
# A busy machine may be slow; what is waited for comes at once on an idle one.
TIMEOUT_MS = 30_000
expect.set_options(timeout=TIMEOUT_MS)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests of a worker."""
    if not Path(CHROMIUM).exists():
        pytest.skip("no Chromium here")
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield found
        found.close()


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory, migrated: Path) -> Iterator[Site]:
    """A server over an installation without units, on this machine alone: nobody signs in."""
    config = Config(tmp_path_factory.mktemp("site"))
    shutil.copyfile(migrated, config.sqlite_file)
    with serving(config) as found:
        yield found


@pytest.fixture
def served(site: Site) -> Iterator[Bench]:
    """The installation that ``site`` serves, to make units in it."""
    with using(site.config) as bench:
        yield bench


class Watch:
    """What a page did that it must not do."""

    def __init__(self, address: str) -> None:
        """Watch pages of one server."""
        self.host = urlsplit(address).netloc
        self.errors: list[str] = []
        # A test that takes the network away expects the browser to complain about just that.
        self.offline = False
        # A test that has an entry refused expects the browser to say so.
        self.refusals = False

    def watch(self, page: Page) -> None:
        """Watch one window."""
        page.on("console", self._said)
        page.on("pageerror", lambda error: self.errors.append(f"page error: {error}"))
        page.on("request", self._asked)

    def _said(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            # What the page's own worker could not fetch the browser calls failed, not disconnected.
            gone = ("ERR_INTERNET_DISCONNECTED", "ERR_FAILED")
            if self.offline and any(word in message.text for word in gone):
                return
            # A form that comes back with what is wrong with it: the browser notes the status, and that is right.
            if "status of 422" in message.text:
                return
            if self.refusals and "status of 400" in message.text:
                return
            self.errors.append(f"console {message.type}: {message.text}")

    def _asked(self, request: Request) -> None:
        parts = urlsplit(request.url)
        if parts.scheme in ("http", "https", "ws", "wss") and parts.netloc != self.host:
            self.errors.append(f"asked another machine: {request.url}")


@contextmanager
def window(
    browser: Browser, address: str, width: int = 1280, height: int = 900, *, dark: bool = False
) -> Iterator[tuple[Page, Watch]]:
    """A fresh window with its own cookies and storage; what it did wrong fails the test at the end."""
    context: BrowserContext = browser.new_context(
        base_url=address,
        viewport={"width": width, "height": height},
        color_scheme="dark" if dark else "light",
    )
    context.set_default_timeout(TIMEOUT_MS)
    watch = Watch(address)
    page = context.new_page()
    watch.watch(page)
    try:
        yield page, watch
        assert watch.errors == []
    finally:
        context.close()


class Windows:
    """Opens further windows, as further screens would be."""

    def __init__(self, browser: Browser, address: str, stack: ExitStack) -> None:
        """Windows onto one server; the stack closes them."""
        self.browser, self.address, self.stack = browser, address, stack

    def open(self, width: int = 1280, height: int = 900, *, dark: bool = False) -> Page:
        """A fresh window."""
        return self.watched(width, height, dark=dark)[0]

    def watched(
        self, width: int = 1280, height: int = 900, *, dark: bool = False
    ) -> tuple[Page, Watch]:
        """A fresh window, and what watches it (say ``watch.offline = True`` before the network goes)."""
        return self.stack.enter_context(
            window(self.browser, self.address, width, height, dark=dark)
        )


@pytest.fixture
def windows(browser: Browser, site: Site) -> Iterator[Windows]:
    """Windows onto the shared server."""
    with ExitStack() as stack:
        yield Windows(browser, site.address, stack)


@pytest.fixture
def page(windows: Windows) -> Page:
    """One window, 1280 wide."""
    return windows.open()


def axe_finds(page: Page) -> list[str]:
    """What the checker holds to be serious or critical on this page, in words."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page).response["violations"]
    return [
        f"{each['id']}: {each['help']} at {each['nodes'][0]['target']}"
        for each in found
        if each["impact"] in ("serious", "critical")
    ]
