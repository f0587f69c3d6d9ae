"""Texts of the bench application and their translations: ``python -m tools.texts [--compile-only]``.

Collects every text that is marked for translation in the templates and the Python files of the bench, and every
sentence that the other packages say (:mod:`lastscrew.saying`); brings the catalogue of each language up to date (new
texts without a translation, texts that are gone taken out) and compiles it. No other program is needed.
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
PACKAGE = ROOT / "src" / "lastscrew"
BENCH = PACKAGE / "bench"
LANGUAGES = ("de",)
HEADERS = {
    "MIME-Version": "1.0",
    "Content-Type": "text/plain; charset=utf-8",
    "Content-Transfer-Encoding": "8bit",
    "Language": "de",
    "Plural-Forms": "nplurals=2; plural=(n != 1);",
}

Text = tuple[str, str, str]
"""A text, its plural (empty where it has none), what it is about (empty where the words say it)."""

ONE = frozenset({"_", "gettext", "gettext_lazy"})
TWO = frozenset({"ngettext", "ngettext_lazy"})
SAYS = "lastscrew.saying"
_IN_TEMPLATE = re.compile(
    r"""\b(n?)gettext\(\s*(u?'(?:[^'\\]|\\.)*'|u?"(?:[^"\\]|\\.)*")(?:\s*,\s*(u?'(?:[^'\\]|\\.)*'|u?"(?:[^"\\]|\\.)*"))?"""
)
_CONSTANT = re.compile(r"""_\(("(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')\)""")


def texts() -> dict[Text, list[str]]:
    """Every text that is marked, in order, with the files that hold it."""
    found: dict[Text, list[str]] = {}
    for file in (*sorted([*BENCH.rglob("*.html"), *BENCH.rglob("*.py")]), *_other_modules()):
        if "migrations" in file.parts:
            continue
        root = BENCH if file.is_relative_to(BENCH) else PACKAGE
        reader = _of_template if file.suffix == ".html" else _of_module
        for text in reader(file):
            places = found.setdefault(text, [])
            name = file.relative_to(root).as_posix()
            if name not in places:
                places.append(name)
    return found


def unreadable() -> list[str]:
    """Sentences that are said in words which are not written out at the place, so that nobody can collect them."""
    return [
        f"{file.relative_to(PACKAGE).as_posix()}:{call.lineno}"
        for file in sorted(PACKAGE.rglob("*.py"))
        for call in _said(ast.parse(file.read_text("utf-8"), str(file)))
        if _sentence(call) is None
    ]


def _other_modules() -> list[Path]:
    return sorted(file for file in PACKAGE.rglob("*.py") if not file.is_relative_to(BENCH))


def _of_template(file: Path) -> Iterator[Text]:
    source = file.read_text("utf-8")
    for match in _IN_TEMPLATE.finditer(templatize(source)):
        yield ast.literal_eval(match[2]), ast.literal_eval(match[3]) if match[1] else "", ""
    for match in _CONSTANT.finditer(source):
        yield ast.literal_eval(match[1]), "", ""


def _of_module(file: Path) -> Iterator[Text]:
    tree = ast.parse(file.read_text("utf-8"), str(file))
    for call in _said(tree):
        if (text := _sentence(call)) is not None:
            yield text
    if not file.is_relative_to(BENCH):
        return
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
            yield values[0], "", ""
        elif name in TWO and len(values) >= 2:
            yield values[0], values[1], ""


def _said(tree: ast.Module) -> list[ast.Call]:
    """Calls of ``say``, in the order of the file, where it is that of :mod:`lastscrew.saying`."""
    taken = (n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module == SAYS)
    if not any(name.name == "say" for each in taken for name in each.names):
        return []
    calls = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "say"
    ]
    return sorted(calls, key=lambda call: (call.lineno, call.col_offset))


def _sentence(call: ast.Call) -> Text | None:
    about = [each.value for each in call.keywords if each.arg == "context"]
    words = [each.value for each in (*call.args, *about) if isinstance(each, ast.Constant)]
    if not call.args or len(words) != len(call.args) + len(about):
        return None
    one, *more = (str(word) for word in words)
    context = more.pop() if about else ""
    return one, more[0] if more else "", context


def catalogue(language: str) -> Path:
    """Where the translations of a language lie."""
    return BENCH / "locale" / language / "LC_MESSAGES" / "django.po"


def update(language: str) -> polib.POFile:
    """The catalogue with every present text; translations that are there are kept."""
    file = catalogue(language)
    old = polib.pofile(str(file)) if file.exists() else polib.POFile()
    kept = {(entry.msgid, entry.msgid_plural, entry.msgctxt or ""): entry for entry in old}
    new = polib.POFile(wrapwidth=110)
    new.metadata = {**HEADERS, "Language": language}
    for (text, plural, context), places in texts().items():
        entry = kept.get((text, plural, context)) or polib.POEntry(
            msgid=text, msgid_plural=plural, msgctxt=context or None
        )
        entry.occurrences = [(place, "") for place in places]
        is_format = re.search(r"%\(\w+\)[sd]|%[sd]", text + plural)
        in_braces = re.search(r"\{\w+\}", text + plural)
        entry.flags = (
            ["python-format"] if is_format else ["python-brace-format"] if in_braces else []
        )
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
