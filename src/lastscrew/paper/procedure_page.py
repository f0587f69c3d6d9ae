"""A written procedure as Markdown, and as a page for screen and print.

Both show the same words: the procedures, and after them the chapter that tells the whole machine. Nothing is
hidden in them: what a reader of the words can't see is not there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from lastscrew.device.model import Device
from lastscrew.paper.html import el, put, to_html
from lastscrew.paper.look import FONTS, SIGNAL_LOOKS
from lastscrew.paper.procedure import Caution, Half, WrittenProcedure, WrittenStep, one_line
from lastscrew.paper.procedure_words import in_sentence
from lastscrew.paper.sheet_css import PAGE_SIZES_MM, Paper
from lastscrew.paper.svg import Element
from lastscrew.reading.described import Paragraph, tell_device
from lastscrew.reading.described.quoting import quote
from lastscrew.reading.described.sentence_table import HEADING

NOTICES: Final = (
    Caution(
        "notice",
        "The instructions of the maker and the local rules come first. Only trained persons may do this work.",
    ),
)
"""What stands before every procedure."""

_SPECIAL: Final = re.compile(r"([\\`*_{}\[\]<>()#|~&!$])")
_LETTERS: Final = re.compile(r"[A-Za-z0-9]+[.,]?")


def title_of(device: Device) -> str:
    """Title of the text."""
    return f"Removal and refitting: {one_line(device.name)}"


def markdown(device: Device, procedures: Iterable[WrittenProcedure]) -> str:
    """The text as Markdown (CommonMark)."""
    lines = [f"# {_plain(title_of(device))}", ""]
    for notice in NOTICES:
        lines += _caution_lines(notice)
    for procedure in procedures:
        if procedure.refused:
            lines += [f"## {_plain(_no_way(device, procedure))}", "", _plain(procedure.refused), ""]
        for half in (procedure.removal, procedure.refit):
            if half is not None:
                lines += _half_lines(half)
    lines += [f"## {HEADING}", ""]
    for paragraph in tell_device(device, quote):
        if paragraph.heading:
            lines += [f"### {paragraph.heading}", ""]
        lines += [*(_plain(sentence) for sentence in paragraph.sentences), ""]
    return "\n".join(lines)


def _no_way(device: Device, procedure: WrittenProcedure) -> str:
    return f"No procedure for the {in_sentence(device, procedure.part)}"


def _half_lines(half: Half) -> Iterator[str]:
    yield from (f"## {_plain(half.heading)}", "")
    if half.before:
        yield from ("### Before you begin", "")
        yield from (f"- {_plain(sentence)}" for sentence in half.before)
        yield from ("", "### Steps", "")
    cautions = cautions_before(half.steps)
    for number, step in enumerate(half.steps, 1):
        for caution in cautions[number - 1]:
            yield from _caution_lines(caution)
        for note in step.notes:
            yield from (f"Note: {_plain(note)}", "")
        yield from (f"{number}. {_plain(' '.join(step.sentences))}", "")
    if half.tests:
        yield from ("### Tests", "")
        yield from (f"- {_plain(test)}" for test in half.tests)
        yield ""


def _caution_lines(caution: Caution) -> list[str]:
    return [f"**{SIGNAL_LOOKS[caution.signal].word}:** {_plain(caution.text)}", ""]


def cautions_before(steps: tuple[WrittenStep, ...]) -> list[list[Caution]]:
    """What stands before each step: a caution that the next steps need too is said once, with their numbers.

    A caution that is said at every step is soon read at none; one that names the steps it is for stands before
    the first of them.
    """
    before: list[list[Caution]] = []
    for index, step in enumerate(steps):
        shown = []
        for caution in step.cautions:
            if index and caution in steps[index - 1].cautions:
                continue
            last = index
            while last + 1 < len(steps) and caution in steps[last + 1].cautions:
                last += 1
            shown.append(
                Caution(caution.signal, f"Before {_numbers(index + 1, last + 1)}: {caution.text}")
            )
        before.append(shown)
    return before


def _numbers(first: int, last: int) -> str:
    if first == last:
        return f"step {first}"
    return f"steps {first} {'and' if last == first + 1 else 'to'} {last}"


def _plain(text: str) -> str:
    """Words in which no sign means anything to Markdown."""
    return _SPECIAL.sub(r"\\\1", text)


def page(
    device: Device,
    procedures: Iterable[WrittenProcedure],
    *,
    paper: Paper = "a4",
    for_pdf: bool = False,
) -> str:
    """The text as a page of its own, without script, for screen and print.

    Args:
        device: The device.
        procedures: What ``procedures_of`` gives.
        paper: Size of the paper.
        for_pdf: The page is printed to PDF; in the chapter at the end, characters that its type may lack are
            written by their codes.
    """
    body = el("body", el("h1", title_of(device)))
    put(body, (_caution(notice) for notice in NOTICES))
    for procedure in procedures:
        if procedure.refused:
            put(body, (el("h2", _no_way(device, procedure)), el("p", procedure.refused)))
        for half in (procedure.removal, procedure.refit):
            if half is not None:
                put(body, _half(half))
    chapter = el("section", el("h2", HEADING), class_="told")
    for paragraph in tell_device(device, lambda text: quote(text, on_paper=for_pdf)):
        put(chapter, _told(paragraph))
    body.append(chapter)
    head = el("head", el("meta", charset="utf-8"), el("title", title_of(device)))
    put(head, (el("style", _css(paper)),))
    return to_html(el("html", head, body, lang="en"))


def _half(half: Half) -> Iterator[Element]:
    yield _apart(el("h2", half.heading))
    if half.before:
        yield _apart(el("h3", "Before you begin"))
        yield el("ul", *(_apart(el("li", sentence)) for sentence in half.before))
        yield _apart(el("h3", "Steps"))
    yield from _numbered(half.steps)
    if half.tests:
        yield _apart(el("h3", "Tests"))
        yield el("ul", *(_apart(el("li", test)) for test in half.tests))


def _numbered(steps: tuple[WrittenStep, ...]) -> Iterator[Element]:
    """Steps in one list, cut where a caution stands before a step."""
    run: Element | None = None
    cautions = cautions_before(steps)
    for number, step in enumerate(steps, 1):
        if cautions[number - 1] or step.notes or run is None:
            if run is not None:
                yield run
            yield from (_caution(caution) for caution in cautions[number - 1])
            yield from (_apart(el("p", f"Note: {note}", class_="note")) for note in step.notes)
            counter = f"counter-reset:list-item {number - 1}"  # the writer of PDF reads only this
            run = el("ol", start=str(number), style=counter)
        run.append(_apart(el("li", " ".join(step.sentences))))
    if run is not None:
        yield run


def _caution(caution: Caution) -> Element:
    look = SIGNAL_LOOKS[caution.signal]
    word = el("span", f"{look.word}:", class_=f"word {caution.signal}")
    return _apart(el("p", word, f" {caution.text}", class_="caution"))


def _told(paragraph: Paragraph) -> Iterator[Element]:
    if paragraph.heading:
        yield _apart(el("h3", paragraph.heading))
    told = el("p")
    for index, word in enumerate(" ".join(paragraph.sentences).split(" ")):
        piece = word if _LETTERS.fullmatch(word) else el("span", word, class_="w")
        put(told, (" " if index else None, piece))
    yield _apart(told)


def _apart(element: Element) -> Element:
    """The element on a line of its own in the file, so that a reader can say on which line it stands."""
    element.tail = "\n"
    return element


def _css(paper: Paper) -> str:
    width, height = PAGE_SIZES_MM[paper]
    signals = "".join(
        f".word.{signal}{{background:{look.ground};color:{look.letters}}}"
        for signal, look in SIGNAL_LOOKS.items()
    )
    return (
        f"@page{{size:{width}mm {height}mm;margin:28mm 18mm;@bottom-center{{content:counter(page);"
        f"font-size:9pt}}}}html{{font-family:{FONTS};font-size:10.5pt;line-height:1.4;hyphens:none;"
        "font-variant-ligatures:none;print-color-adjust:exact;-webkit-print-color-adjust:exact}"
        "h1{font-size:20pt;line-height:1.2}h2{font-size:15pt;margin:1.6em 0 .4em;break-after:avoid}"
        "h3{font-size:12pt;margin:1em 0 .3em;break-after:avoid}p,ul,ol{margin:.4em 0}"
        ".note{break-after:avoid;padding-left:2em}"
        "li{margin:.25em 0;break-inside:avoid}ol,ul{padding-left:2em}"
        ".caution{border-left:1mm solid #111;padding-left:3mm;break-after:avoid;break-inside:avoid}"
        ".word{font-weight:bold;padding:0 .4em}"
        ".told{break-before:page}.told p{break-inside:avoid}.w{white-space:nowrap}"
        "@media screen{body{max-width:46rem;margin:2rem auto;padding:0 1rem}}" + signals
    )
