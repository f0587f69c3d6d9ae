"""Bounds of what is read: no input may take more than this."""

from __future__ import annotations

from lastscrew.problems import InputError, Problem

MAX_BYTES = 40_000_000
MAX_CHARACTERS = 8_000_000
MAX_LINES = 200_000
MAX_LINE_CHARACTERS = 20_000
MAX_UNPACKED_BYTES = 120_000_000
MAX_PAGES = 2_000


def refuse(message: str, remedy: str, code: str, name: str = "") -> InputError:
    """An :class:`InputError` with one problem."""
    return InputError([Problem(message, remedy, code=code, file=name)])


def check_size(data: bytes, name: str) -> None:
    """Refuse what is empty or too large.

    Raises:
        InputError: Nothing in it, or more than :data:`MAX_BYTES`.
    """
    if not data.strip():
        raise refuse("The input is empty.", "Give a file with a procedure in it.", "empty", name)
    if len(data) > MAX_BYTES:
        raise refuse(
            f"The input has {len(data) / 1e6:.0f} MB; at most {MAX_BYTES / 1e6:.0f} MB are read.",
            "Split it, or extract the chapters that matter.",
            "too_large",
            name,
        )
