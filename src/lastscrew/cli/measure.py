"""``lastscrew measure``: how deep each part lies, and what of the EU repairability index follows."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import click

from lastscrew.cli.columns import for_encoding, terminal_width, wants_colour
from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import load_device_file
from lastscrew.cli.numbers import FiniteRange
from lastscrew.cli.plan_options import FITTED, NOT_FITTED, JsonCommand, placed, watching
from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.measures.depth import DEFAULT_WORK
from lastscrew.measures.index import LEAST, MOST, PRIORITY_PARTS, TOOL_SCORES, part_weights
from lastscrew.measures.report import NOT_FROM_A_DEVICE_FILE
from lastscrew.plan.asking import check_request, nearest
from lastscrew.plan.model import Request
from lastscrew.problems import InputError, Problem

NONE, ALL = "none", "all"
NAME_PROBLEMS = ("unknown_name", "not_fitted", "fixed_part", "fitted_and_not")


@click.command(cls=JsonCommand)
@click.argument("file")
@click.option(
    "--part",
    "parts",
    multiple=True,
    metavar="CODE=PIECE",
    help="Which part, spare or parts joined by + a priority part of the index is, such as BAT=pack; "
    "none where the device has none. Repeatable; of several for one code the lowest score counts.",
)
@click.option(
    "--way",
    "ways",
    multiple=True,
    metavar="PIECE",
    help="Show the steps that take this part, spare or parts joined by + out; all for every part. Repeatable.",
)
@click.option(
    "--tool",
    "tools",
    multiple=True,
    metavar="TOOL=GRADE",
    help="Grade of a tool: "
    + ", ".join(f"'{g}'" for g in TOOL_SCORES if g != NONE)
    + ". Repeatable.",
)
@click.option(
    "--score",
    "scores",
    multiple=True,
    metavar="NAME=1..5",
    help="SSP, SSU or SRI, which no device file can tell. Repeatable.",
)
@click.option(
    "--authorised",
    multiple=True,
    metavar="CODE",
    help="A new part works only after its serial number is authorised from afar: five steps more. Repeatable.",
)
@click.option("--foldable", is_flag=True, help="Use the weights of foldable devices.")
@NOT_FITTED
@FITTED
@click.option(
    "--work",
    type=click.IntRange(min=0),
    default=DEFAULT_WORK,
    show_default=True,
    metavar="N",
    help="Stop searching after N states for one part (repeats exactly).",
)
@click.option(
    "--limit",
    type=FiniteRange(min=0),
    default=None,
    metavar="SECONDS",
    help="Stop searching after this long, for all parts together, and give the best counts with their bounds.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(
    *,
    file: str,
    parts: tuple[str, ...],
    ways: tuple[str, ...],
    tools: tuple[str, ...],
    scores: tuple[str, ...],
    authorised: tuple[str, ...],
    foldable: bool,
    not_fitted: tuple[str, ...],
    fitted: tuple[str, ...],
    work: int,
    limit: float | None,
    as_json: bool,
) -> None:
    """How deep each part lies, with what it is held and what tools it takes.

    FILE is a device file (- for standard input). The depth is the least number of steps, over all ways
    in, that take a part out; a step ends when something comes off or the tool changes. From depth,
    fasteners and tools follow three of the six parameters of the repairability index of Regulation
    (EU) 2023/1669; the others can't be had from a device file.
    """  # fmt: skip
    from lastscrew.cli.measure_text import Measured, as_json_object, as_text, measure

    with edge(as_json=as_json):
        whole = load_device_file(file)
        wish = Wish(
            parts=parts, ways=ways, tools=tools, scores=scores, authorised=authorised,
            foldable=foldable, not_fitted=not_fitted, fitted=fitted,
        )  # fmt: skip
        asked = read_wish(whole, wish, file)
        with watching(limit) as watch:
            measured: Measured = measure(fit(whole, not_fitted, fitted), asked, work, watch.expired)
    if as_json:
        click.echo(json_text(as_json_object(measured)))
        return
    text = "\n".join(as_text(measured, terminal_width(), colour=wants_colour()))
    click.echo(for_encoding(text, sys.stdout.encoding), color=True)


@dataclass(frozen=True, slots=True)
class Wish:
    """The command line as it was written."""

    parts: tuple[str, ...] = ()
    ways: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    scores: tuple[str, ...] = ()
    authorised: tuple[str, ...] = ()
    foldable: bool = False
    not_fitted: tuple[str, ...] = ()
    fitted: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line asks for, with every name known.

    Attributes:
        pieces: Priority part code to pieces.
        absent: Codes of which the device has none.
        ways: Pieces whose steps are shown.
        every_way: Show the steps of every part.
        tool_grades: Tool id to grade.
        given: SSP, SSU, SRI as far as given.
        authorised: Codes whose new part must be authorised.
        foldable: Weights of foldable devices.
    """

    pieces: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    absent: tuple[str, ...] = ()
    ways: tuple[str, ...] = ()
    every_way: bool = False
    tool_grades: Mapping[str, str] = field(default_factory=dict)
    given: Mapping[str, int] = field(default_factory=dict)
    authorised: tuple[str, ...] = ()
    foldable: bool = False


def read_wish(device: Device, wish: Wish, file: str) -> Asked:
    """Read the options against the device.

    Raises:
        InputError: With every unknown or impossible name, each with the nearest known one.
    """
    problems: list[Problem] = []
    codes = tuple(part_weights(foldable=wish.foldable))
    named = list(_pairs(wish.parts, "--part", "CODE=PIECE, such as BAT=pack", problems))
    for option, code in [("--part", c) for c, _ in named] + [
        ("--authorised", c) for c in wish.authorised
    ]:
        problems += _unknown_code(option, code, codes)
    pieces = [piece for _, piece in named if piece != NONE]
    every = ALL in wish.ways and ALL not in device.parts
    ways = [way for way in wish.ways if way != ALL or not every]
    problems += _piece_problems(device, wish, pieces, ways, file)
    tool_grades = dict(_pairs(wish.tools, "--tool", "TOOL=GRADE, such as lever=basic", problems))
    problems += _tool_problems(device, tool_grades)
    given = dict(_scores(wish, problems))
    by_code = {c: tuple(p for k, p in named if k == c and p != NONE) for c, _ in named}
    absent = tuple(dict.fromkeys(c for c, p in named if p == NONE))
    problems += [
        Problem(
            f"{code} is named and said to be none.",
            "Say one or the other.",
            path=f"--part {code}",
            code="part_and_none",
        )
        for code in absent
        if by_code[code]
    ]
    if problems:
        raise InputError(problems)
    return Asked(
        {c: p for c, p in by_code.items() if p}, absent, tuple(dict.fromkeys(ways)), every,
        tool_grades, given, wish.authorised, wish.foldable,
    )  # fmt: skip


def _pairs(
    values: tuple[str, ...], option: str, form: str, problems: list[Problem]
) -> Iterator[tuple[str, str]]:
    for value in values:
        name, sign, rest = (word.strip() for word in value.partition("="))
        if not (name and sign and rest):
            problems.append(
                Problem(
                    f'"{value}" is not of the form NAME=VALUE.',
                    f"Write {form}.",
                    path=option,
                    code="no_pair",
                )
            )
            continue
        yield (name.upper() if option != "--tool" else name), rest


def _unknown_code(option: str, code: str, codes: tuple[str, ...]) -> list[Problem]:
    if code in codes:
        return []
    if code in PRIORITY_PARTS:
        return [
            Problem(
                f"{code} ({PRIORITY_PARTS[code]}) counts for foldable devices only.",
                "Add --foldable, or leave it out.", path=f"{option} {code}", code="foldable_only",
            )
        ]  # fmt: skip
    known = ", ".join(f"{name} ({PRIORITY_PARTS[name]})" for name in codes)
    return [
        Problem(
            f'There is no priority part "{code}".',
            f"Known: {known}.",
            path=f"{option} {code}",
            code="unknown_name",
        )
    ]


def _piece_problems(
    device: Device, wish: Wish, pieces: list[str], ways: list[str], file: str
) -> list[Problem]:
    request = Request(
        replace=tuple(dict.fromkeys([*pieces, *ways])),
        not_fitted=wish.not_fitted,
        fitted=wish.fitted,
    )
    found = [placed(p, file) for p in check_request(device, request) if p.code in NAME_PROBLEMS]
    shown: list[Problem] = []
    for problem in found:
        option, _, name = problem.path.partition(" ")
        if option == "--replace":
            option = "--part" if any(name.startswith(piece) for piece in pieces) else "--way"
        shown.append(
            Problem(
                problem.message, problem.remedy, f"{option} {name}", problem.file, code=problem.code
            )
        )
    for option, names in (("--part", pieces), ("--way", ways)):
        shown += [
            Problem(
                f'"{piece}" holds the fixed part, which stays on the bench.',
                "Name a part that comes off.", path=f"{option} {piece}", file=file, code="fixed_part",
            )
            for piece in names
            if device.fixed_part in (word.strip() for word in piece.split("+"))
        ]  # fmt: skip
    return shown


def _tool_problems(device: Device, grades: Mapping[str, str]) -> Iterator[Problem]:
    usable = [grade for grade in TOOL_SCORES if grade != NONE]
    for tool, grade in grades.items():
        if tool not in device.tools:
            close = nearest(tool, device.tools)
            remedy = (
                f'Did you mean "{close}"?'
                if close
                else f"Known: {', '.join(device.tools) or 'none'}."
            )
            yield Problem(
                f'There is no tool "{tool}".', remedy, path=f"--tool {tool}", code="unknown_name"
            )
        if grade not in usable:
            remedy = f"Write one of: {', '.join(usable)}."
            yield Problem(
                f'There is no grade "{grade}".', remedy, path=f"--tool {tool}", code="unknown_name"
            )


def _scores(wish: Wish, problems: list[Problem]) -> Iterator[tuple[str, int]]:
    for name, text in _pairs(wish.scores, "--score", "NAME=1..5, such as SSU=5", problems):
        if name not in NOT_FROM_A_DEVICE_FILE:
            remedy = (
                f"Give {', '.join(NOT_FROM_A_DEVICE_FILE)}; the others follow from the device file."
            )
            problems.append(
                Problem(
                    f'"{name}" can\'t be given.',
                    remedy,
                    path=f"--score {name}",
                    code="unknown_name",
                )
            )
        elif not (text.isascii() and text.isdigit() and LEAST <= int(text) <= MOST):
            remedy = f"Give a whole number from {LEAST} to {MOST}."
            problems.append(
                Problem(f'"{text}" is no score.', remedy, path=f"--score {name}", code="score")
            )
        else:
            yield name, int(text)
