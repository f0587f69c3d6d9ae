"""The frame of every page, seen by a real browser."""

from __future__ import annotations

from playwright.sync_api import Page

from tests.bench.browser.conftest import axe_finds


def test_the_first_page_is_shown_without_a_serious_fault_of_access(page: Page) -> None:
    page.goto("/")
    assert page.get_by_role("heading", level=1).is_visible()
    assert axe_finds(page) == []
