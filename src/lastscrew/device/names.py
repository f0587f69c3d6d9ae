"""Names: how ids, paths and parts are shown, and which known name a misspelt one is nearest to."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from difflib import get_close_matches
from hashlib import sha256
from typing import Final, TypeAlias

from lastscrew.device.model import Device
from lastscrew.device.types import HAND_WORD, IDENTIFIER, MAX_IDENTIFIER, UNKNOWN_WORD

Path: TypeAlias = tuple[str | int, ...]

_IDENTIFIER = re.compile(IDENTIFIER)
_PLAIN_KEY = re.compile(r"[A-Za-z0-9_-]+")
_MOST_CANDIDATES: Final = 400


def is_identifier(text: str) -> bool:
    """True for small letters, digits and ``_``, beginning with a letter, of bearable length."""
    return len(text) <= MAX_IDENTIFIER and _IDENTIFIER.fullmatch(text) is not None


def is_extension(key: str) -> bool:
    """True for keys that are kept and ignored."""
    return key.startswith("x_")


def path_text(path: Path) -> str:
    """``joints.keys_ribbon.access[1].open_s`` for a path of keys and list indices."""
    out: list[str] = []
    for step in path:
        if isinstance(step, int):
            out.append(f"[{step}]")
        elif _PLAIN_KEY.fullmatch(step):
            out.append(f".{step}" if out else step)
        else:
            out.append(f"[{shown(step)}]")
    return "".join(out)


def extra_key(path: Path) -> str:
    """Key in ``Device.extra`` of something that is kept: its path, the last key as it is written."""
    above = path_text(path[:-1])
    return f"{above}.{path[-1]}" if above else str(path[-1])


def path_steps(text: str) -> Path:
    """The path of a :func:`path_text` of plain keys."""
    steps = re.findall(r"\[(\d+)\]|([^.\[\]]+)", text)
    return tuple(int(index) if index else name for index, name in steps)


def extra_steps(key: str) -> Path:
    """The path of an :func:`extra_key`; an extension's own name (from ``x_`` on) stays whole."""
    found = re.search(r"(?:^|\.)(?=x_)", key)
    if found is None:
        return path_steps(key)
    return (*path_steps(key[: found.start()]), key[found.end() :])


def shown(text: str, longest: int = 60) -> str:
    """Text in quotes for a message: shortened, control and direction characters made visible."""
    cut = text if len(text) <= longest else text[: longest - 1] + "…"
    return '"' + visible(cut).replace('"', '\\"') + '"'


def visible(text: str) -> str:
    """Text with line breaks, control, format and lone surrogate characters written as escapes."""
    return "".join(
        char if char == " " or unicodedata.category(char)[0] not in "CZ" else _escape(char)
        for char in text
    )


def _escape(char: str) -> str:
    code = ord(char)
    return (
        f"\\x{code:02x}" if code < 256 else f"\\u{code:04x}" if code < 65536 else f"\\U{code:08x}"
    )


def nearest(word: str, known: Collection[str]) -> str | None:
    """The known name that ``word`` is most likely meant to be, or None."""
    if len(word) > 2 * MAX_IDENTIFIER:
        return None
    simple = to_identifier(word)
    if simple in known:
        return simple
    candidates = sorted(k for k in known if abs(len(k) - len(word)) <= 3 + len(word) // 3)
    if len(candidates) > _MOST_CANDIDATES:
        pairs = {word[i : i + 2] for i in range(len(word) - 1)}
        candidates.sort(key=lambda k: (-sum(pair in k for pair in pairs), k))
        del candidates[_MOST_CANDIDATES:]
    found = get_close_matches(word.lower(), candidates, n=1, cutoff=0.6)
    return found[0] if found else None


def to_identifier(name: str) -> str | None:
    """An id made from a name: ``Alder 13`` gives ``alder_13``; None where nothing is left.

    What the format keeps for itself gets an ``n_`` before it: ``X axis`` would be an extension, ``Hand`` a word.
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii")
    words = re.findall(r"[a-z0-9]+", plain.lower())
    made = "_".join(words)[:MAX_IDENTIFIER].rstrip("_")
    reserved = is_extension(made) or made in (HAND_WORD, UNKNOWN_WORD)
    if made and (reserved or not made[0].isalpha()):
        made = f"n_{made}"[:MAX_IDENTIFIER].rstrip("_")
    return made or None


def device_id_from_name(name: str) -> str:
    """Id of a device whose file gives none; a name in another script gets one from its hash."""
    return (
        to_identifier(name) or f"device_{sha256(name.encode('utf-8', 'replace')).hexdigest()[:8]}"
    )


def name_from_id(entry_id: str) -> str:
    """``Main board`` for ``main_board``."""
    words = entry_id.replace("_", " ").strip()
    return words[:1].upper() + words[1:]


def joint_label(device: Device, joint_id: str) -> str:
    """What people call a joint: its name, else its id as words (``Cover screws``)."""
    joint = device.joints.get(joint_id)
    return joint.name if joint is not None and joint.name else name_from_id(joint_id)


def part_label(device: Device, part_id: str) -> str:
    """What people call a part."""
    part = device.parts.get(part_id)
    return part.name if part is not None and part.name else name_from_id(part_id)
