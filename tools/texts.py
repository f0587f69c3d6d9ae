"""Texts of the bench application and their translations: ``python -m tools.texts [--compile-only]``.

Collects every text that is marked for translation in the templates and the Python files of the bench, brings
the catalogue of each language up to date (new texts without a translation, texts that are gone taken out) and
compiles it. No other program is needed.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import polib
from django.utils.translation.template import templatize

ROOT = Path(__file__).parents[1]
BENCH = ROOT / "src" / "lastscrew" / "bench"
LANGUAGES = ("de",)
HEADERS = {
    "MIME-Version": "1.0",
    "Content-Type": "text/plain; charset=utf-8",
    "Content-Transfer-Encoding": "8bit",
    "Language": "de",
    "Plural-Forms": "nplurals=2; plural=(n != 1);",
}

Text = tuple[str, str]
"""A text and its plural, empty where it has none."""

ONE = frozenset({"_", "gettext", "gettext_lazy"})
TWO = frozenset({"ngettext", "ngettext_lazy"})
_IN_TEMPLATE = re.compile(
    r"""\b(n?)gettext\(\s*(u?'(?:[^'\\]|\\.)*'|u?"(?:[^"\\]|\\.)*")(?:\s*,\s*(u?'(?:[^'\\]|\\.)*'|u?"(?:[^"\\]|\\.)*"))?"""
)
_CONSTANT = re.compile(r"""_\(("(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')\)""")


def texts() -> dict[Text, list[str]]:
    """Every text that is marked, in order, with the files that hold it."""
    found: dict[Text, list[str]] = {}
    for file in sorted([*BENCH.rglob("*.html"), *BENCH.rglob("*.py")]):
        if "migrations" in file.parts:
            continue
        reader = _of_template if file.suffix == ".html" else _of_module
        for text in reader(file):
            places = found.setdefault(text, [])
            name = file.relative_to(BENCH).as_posix()
            if name not in places:
                places.append(name)
    return found


def _of_template(file: Path) -> Iterator[Text]:
    source = file.read_text("utf-8")
    for match in _IN_TEMPLATE.finditer(templatize(source)):
        yield ast.literal_eval(match[2]), ast.literal_eval(match[3]) if match[1] else ""
    for match in _CONSTANT.finditer(source):
        yield ast.literal_eval(match[1]), ""


def _of_module(file: Path) -> Iterator[Text]:
    tree = ast.parse(file.read_text("utf-8"), str(file))
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        if name not in ONE | TWO:
            continue
        values = [
            a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)
        ]
        if name in ONE and values:
            yield values[0], ""
        elif name in TWO and len(values) >= 2:
            yield values[0], values[1]


def catalogue(language: str) -> Path:
    """Where the translations of a language lie."""
    return BENCH / "locale" / language / "LC_MESSAGES" / "django.po"


def update(language: str) -> polib.POFile:
    """The catalogue with every present text; translations that are there are kept."""
    file = catalogue(language)
    old = polib.pofile(str(file)) if file.exists() else polib.POFile()
    kept = {(entry.msgid, entry.msgid_plural): entry for entry in old}
    new = polib.POFile(wrapwidth=110)
    new.metadata = {**HEADERS, "Language": language}
    for (text, plural), places in texts().items():
        entry = kept.get((text, plural)) or polib.POEntry(msgid=text, msgid_plural=plural)
        entry.occurrences = [(place, "") for place in places]
        is_format = re.search(r"%\(\w+\)[sd]|%[sd]", text + plural)
        entry.flags = ["python-format"] if is_format else []
        if plural and not entry.msgstr_plural:
            entry.msgstr_plural = {0: "", 1: ""}
        new.append(entry)
    return new


def main() -> None:
    """Bring all catalogues up to date and compile them."""
    for language in LANGUAGES:
        file = catalogue(language)
        file.parent.mkdir(parents=True, exist_ok=True)
        if "--compile-only" not in sys.argv:
            update(language).save(str(file))
        book = polib.pofile(str(file))
        book.save_as_mofile(str(file.with_suffix(".mo")))
        print(
            f"{language}: {len(book)} texts, {len(book.untranslated_entries())} without a translation"
        )


if __name__ == "__main__":
    main()
