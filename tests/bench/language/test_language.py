"""The application speaks a second language: every marked text has its translation, and the pages show it."""

from __future__ import annotations

import re
from pathlib import Path

import polib
import pytest

from tests.bench.conftest import Bench
from tools.texts import LANGUAGES, catalogue, texts, unreadable

PLACES = re.compile(r"%\(\w+\)[sd]|\{\w+\}|%[sd]")


def _places(text: str) -> list[str]:
    return sorted(PLACES.findall(text))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_marked_text_has_a_translation_and_no_text_is_left_over(language: str) -> None:
    book = {
        (entry.msgid, entry.msgid_plural, entry.msgctxt or ""): entry
        for entry in polib.pofile(str(catalogue(language)))
    }
    marked = set(texts())
    assert marked - set(book) == set(), "run: python -m tools.texts, then translate"
    assert set(book) - marked == set(), "run: python -m tools.texts"
    assert [entry.msgid for entry in book.values() if not entry.translated()] == []


def test_every_sentence_that_is_said_is_written_out_where_it_is_said() -> None:
    assert unreadable() == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_translation_keeps_the_places_for_names_and_numbers(language: str) -> None:
    wrong = [
        (entry.msgid, text)
        for entry in polib.pofile(str(catalogue(language)))
        for text in (entry.msgstr_plural or {0: entry.msgstr}).values()
        if _places(text) not in (_places(entry.msgid), _places(entry.msgid_plural or entry.msgid))
    ]
    assert wrong == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_compiled_catalogue_is_that_of_the_readable_one(language: str) -> None:
    file = catalogue(language)
    compiled = polib.mofile(str(Path(file).with_suffix(".mo")))
    assert {(e.msgctxt, e.msgid): e.msgstr for e in compiled if not e.msgid_plural} == {
        (e.msgctxt, e.msgid): e.msgstr
        for e in polib.pofile(str(file))
        if e.translated() and not e.msgid_plural
    }


def test_a_browser_that_asks_for_german_is_answered_in_german(bench: Bench) -> None:
    page = bench.client().get("/", headers={"Accept-Language": "de-AT,de;q=0.9"}).content.decode()
    assert '<html lang="de">' in page
    assert "Annehmen" in page
    assert "Take in" not in page


def test_a_language_that_was_chosen_stays_chosen(bench: Bench) -> None:
    client = bench.client()
    answer = client.post("/language/", {"language": "de", "next": "/stock/"})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/stock/")
    assert '<html lang="de">' in client.get("/").content.decode()
    client.post("/language/", {"language": "en", "next": "https://elsewhere.example/"})
    assert '<html lang="en">' in client.get("/").content.decode()


def test_each_language_is_called_as_it_calls_itself(bench: Bench) -> None:
    page = bench.client().get("/", headers={"Accept-Language": "de"}).content.decode()
    assert ">English</button>" in page
    assert ">Deutsch</button>" in page
