"""The device file of a text that tells the machine in plain sentences: exact, nothing inferred."""

from __future__ import annotations

from dataclasses import replace

from lastscrew.device.emitting import Comments, block_lines
from lastscrew.device.model import Device
from lastscrew.device.names import path_steps, path_text
from lastscrew.device.reading import read_device
from lastscrew.device.writing import write_device
from lastscrew.problems import InputError, Problem
from lastscrew.reading.described.chapter import Chapter


def device_of_chapter(chapter: Chapter, name: str) -> tuple[str, Device]:
    """The text of the device file, with the lines that values came from, and the device.

    Args:
        chapter: The chapter as it was read.
        name: Name of the text, for problems.

    Raises:
        InputError: The chapter contradicts itself, or what it tells is no device that can be.
    """
    if chapter.problems:
        raise InputError(chapter.problems)
    plain = "\n".join(block_lines(chapter.tree, 0, Comments({}), "", open_up=True)) + "\n"
    result = read_device(plain, name)
    if result.device is None:
        raise InputError(_placed(problem, chapter, name) for problem in result.errors)
    comments = {path: f"line {line}" for path, line in chapter.places.items() if path}
    comments[""] = f"From the chapter on lines {chapter.first} to {chapter.last}, nothing inferred."
    return write_device(result.device, comments), result.device


def _placed(problem: Problem, chapter: Chapter, name: str) -> Problem:
    """A problem of the device file at the line of the text from which the value came."""
    steps = path_steps(problem.path)
    line = chapter.first
    for end in range(len(steps), 0, -1):
        if (path := path_text(steps[:end])) in chapter.places:
            line = chapter.places[path]
            break
    return replace(problem, file=name, line=line, column=None)
