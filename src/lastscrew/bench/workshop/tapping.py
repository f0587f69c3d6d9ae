"""Taps of a teardown as a form sends them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from lastscrew.bench.workshop.teardown import MOST_NAME, Taken

LONGEST_NOTE: Final = 500
TOOL_UNSAID: Final = "?"
"""Value of the field ``tool`` where nobody says which."""


def taken_from(values: Mapping[str, Sequence[str]], photo: str = "") -> Taken:
    """One tap from the fields of a form; what makes no sense is found by ``check_step``.

    Args:
        values: Fields, each with its values. ``moves`` and ``to`` are the parts that the joint holds together,
            ``off`` says that the first one came off with it. ``came_off`` and ``over`` hold names;
            ``over_for`` says which side was up when the form proposed ``over_default`` for it: on another side a
            proposal that nobody changed says nothing.
        photo: Hash of a photo that came with it.
    """

    def one(name: str) -> str:
        found = values.get(name, ())
        return found[-1].strip()[:MOST_NAME] if found else ""

    moves = one("moves_new") or one("moves")
    to = one("to_new") or one("to")
    joins = tuple(dict.fromkeys(name for name in (moves, to) if name))
    came_off = [moves] if one("off") and moves else []
    came_off += [name.strip()[:MOST_NAME] for name in values.get("came_off", ()) if name.strip()]
    tool = one("tool_new") or one("tool")
    count = one("count")
    side = one("side_new") or one("side") or "bottom"
    over = tuple(name.strip()[:MOST_NAME] for name in values.get("over", ()) if name.strip())
    untouched = set(over) == {name.strip() for name in values.get("over_default", ())}
    over_said = bool(one("over_for")) and (one("over_for") == side or not untouched)
    note = (values.get("note") or [""])[-1].strip()[:LONGEST_NOTE]
    return Taken(
        key=one("key")[:100],
        kind=one("kind"),
        joins=joins,
        count=(int(count) if count.isdecimal() and len(count) < 6 else 0) if count else None,
        side=side,
        tool=None if tool == TOOL_UNSAID else tool,
        size=one("size"),
        drive=one("drive").upper(),
        came_off=tuple(dict.fromkeys(came_off)),
        over=over if over_said else None,
        isolates=bool(one("isolates")),
        single_use=bool(one("single_use")),
        note=note,
        photo=photo,
    )
