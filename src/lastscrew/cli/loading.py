"""Getting a device file from disk (or standard input) for every command that takes one."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from lastscrew.device.model import Device
from lastscrew.device.reading import ReadResult, read_device
from lastscrew.device.source import MAX_BYTES
from lastscrew.problems import InputError, Problem

if TYPE_CHECKING:
    from lastscrew.reading.lexicon import Lexicon

STDIN_NAME = "standard input"


def read_device_file(path: str) -> ReadResult:
    """Read and check the file at ``path`` (``-``: standard input); never more than the limit.

    Raises:
        OSError: The file can't be read.
    """
    if path == "-":
        return read_device(sys.stdin.buffer.read(MAX_BYTES + 1), STDIN_NAME)
    with Path(path).open("rb") as file:
        return read_device(file.read(MAX_BYTES + 1), path)


def load_device_file(path: str) -> Device:
    """The device of the file at ``path``.

    Raises:
        InputError: With every error of the file.
        OSError: The file can't be read.
    """
    result = read_device_file(path)
    if result.device is None:
        raise InputError(result.errors)
    return result.device


def read_own_text(path: str) -> str:
    """The text of a file of one's own, such as answers or words; a mark of byte order at its head is passed over.

    Raises:
        InputError: It is not UTF-8.
        OSError: The file can't be read.
    """
    data = Path(path).read_bytes()
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            [
                Problem(
                    "It is not UTF-8.",
                    "Save it as UTF-8.",
                    file=path,
                    line=data[: error.start].count(b"\n") + 1,
                    code="encoding",
                )
            ]
        ) from error


def load_words(files: tuple[str, ...]) -> Lexicon:
    """The lexicon with own words on top.

    Raises:
        InputError: What is wrong with all the files, each problem with the name of its file.
        OSError: A file can't be read.
    """
    from lastscrew.reading.lexicon import load_lexicon

    texts = [read_own_text(file) for file in files]
    problems = []
    for file, text in zip(files, texts, strict=True):
        try:
            load_lexicon(text)
        except InputError as error:
            problems += [replace(problem, file=file) for problem in error.problems]
    if problems:
        raise InputError(problems)
    return load_lexicon(*texts)
