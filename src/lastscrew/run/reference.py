"""The reference of run events as Markdown, made from the events themselves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import MISSING, Field, fields
from typing import Any

from lastscrew.run.events import HAPPENINGS, Happening, envelope_fields, json_key, rule_of


def event_reference() -> str:
    """Every event with its keys: what each means, what it looks like, whether it must be there."""
    lines = ["### Every event", "", *_table(envelope_fields())]
    for kind in HAPPENINGS.values():
        lines += ["", f"### {kind.name}", "", *_paragraphs(kind), *_table(fields(kind))]
        lines += _together(kind)
    return "\n".join(lines).rstrip() + "\n"


def _paragraphs(kind: type[Happening]) -> Iterator[str]:
    for paragraph in (kind.__doc__ or "").split("\n\n"):
        yield " ".join(paragraph.split()).replace("``", "`")
        yield ""


def _table(specs: Iterable[Field[Any]]) -> list[str]:
    rows = [
        f"| `{json_key(spec)}` | {rule_of(spec).name} | {_needed(spec)} | {spec.metadata['meaning']} |"
        for spec in specs
    ]
    if not rows:
        return ["It has no keys of its own."]
    return ["| key | value | | meaning |", "|---|---|---|---|", *rows]


def _needed(spec: Field[Any]) -> str:
    if spec.default_factory is not MISSING or spec.default is None or spec.default == ():
        return ""
    return "needed" if spec.default is MISSING else f"left out: {_shown(spec.default)}"


def _shown(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _together(kind: type[Happening]) -> list[str]:
    for words, keys in (("Exactly one", kind.one_of), ("At least one", kind.any_of)):
        if keys:
            return ["", f"{words} of {', '.join(f'`{key}`' for key in keys)}."]
    return []
