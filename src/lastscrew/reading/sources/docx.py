"""DOCX: paragraphs, list marks, heading styles and tables, read with the standard library."""

from __future__ import annotations

import io
import lzma
import re
import zipfile
import zlib
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from lastscrew.reading.model import Line
from lastscrew.reading.sources.limits import MAX_LINES, MAX_UNPACKED_BYTES, refuse

_W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_MAX_RATIO = 300


@dataclass
class _Numbering:
    """Formats of lists by (numId, level) and the running counters."""

    formats: dict[tuple[str, str], str]
    counters: dict[tuple[str, str], int]

    def mark(self, num: str, level: str) -> str:
        kind = self.formats.get((num, level), "decimal")
        if kind == "bullet":
            return "-"
        for key in [
            key for key in self.counters if key[0] == num and int(key[1]) > int(level or 0)
        ]:
            del self.counters[key]
        value = self.counters.get((num, level), 0) + 1
        self.counters[num, level] = value
        if kind in ("lowerLetter", "upperLetter") and value < 27:
            letter = chr(96 + value)
            return f"{letter.upper() if kind == 'upperLetter' else letter}."
        return f"{value}."


def docx_lines(data: bytes, name: str) -> tuple[Line, ...]:
    """Lines of a DOCX file, one for each paragraph or table row.

    Raises:
        InputError: It is damaged, protected, unpacks to too much, or carries declarations that no DOCX needs.
    """
    archive = _archive(data, name)
    body = _parse(_member(archive, "word/document.xml", name), name)
    styles = _styles(archive, name)
    numbering = _numbering(archive, name)
    lines: list[Line] = []
    root = body.find(f"{_W}body")
    for child in root if root is not None else ():
        if child.tag == f"{_W}p":
            _paragraph(child, styles, numbering, lines)
        elif child.tag == f"{_W}tbl":
            _table(child, lines)
        elif child.tag == f"{_W}sdt":
            for paragraph in child.iter(f"{_W}p"):
                _paragraph(paragraph, styles, numbering, lines)
        if len(lines) > MAX_LINES:
            raise refuse("The document has too many paragraphs.", "Split it.", "too_large", name)
    if not any(line.text.strip() for line in lines):
        raise refuse(
            "The document holds no text.",
            "If it holds pictures of pages, have them read by a text recogniser first.",
            "no_text",
            name,
        )
    return tuple(lines)


def _archive(data: bytes, name: str) -> zipfile.ZipFile:
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        members = archive.infolist()
    except (zipfile.BadZipFile, ValueError, EOFError, OSError, NotImplementedError) as error:
        raise refuse(
            "The DOCX file is damaged.",
            "Open it in a word processor and save it again.",
            "damaged",
            name,
        ) from error
    total = sum(member.file_size for member in members)
    if total > MAX_UNPACKED_BYTES or any(
        member.file_size > 1_000_000
        and member.file_size > _MAX_RATIO * max(1, member.compress_size)
        for member in members
    ):
        raise refuse(
            "The DOCX file unpacks to far more than it holds.",
            "Save the document anew; this one is not read.",
            "zip_bomb",
            name,
        )
    return archive


def _member(archive: zipfile.ZipFile, path: str, name: str, *, needed: bool = True) -> bytes:
    try:
        with archive.open(path) as stream:
            content = stream.read(MAX_UNPACKED_BYTES + 1)
    except KeyError as error:
        if not needed:
            return b""
        raise refuse(
            "This ZIP file is no DOCX document.",
            "Give a file that a word processor saved as DOCX.",
            "damaged",
            name,
        ) from error
    except (
        zipfile.BadZipFile,
        zlib.error,
        lzma.LZMAError,
        RuntimeError,
        EOFError,
        OSError,
        ValueError,
        NotImplementedError,
    ) as error:
        raise refuse(
            "The DOCX file is damaged or protected by a password.",
            "Save it without a password.",
            "damaged",
            name,
        ) from error
    if len(content) > MAX_UNPACKED_BYTES:
        raise refuse(
            "The DOCX file unpacks to far more than it holds.",
            "Save the document anew.",
            "zip_bomb",
            name,
        )
    return content


def _parse(content: bytes, name: str) -> ET.Element:
    if (
        b"<!DOCTYPE" in content
        or b"<!ENTITY" in content
        or "<!ENTITY".encode("utf-16-le") in content
        or "<!ENTITY".encode("utf-16-be") in content
    ):
        raise refuse(
            "The DOCX file declares entities, which no word processor writes.",
            "Save the document anew.",
            "xml_entities",
            name,
        )
    try:
        return ET.fromstring(content)  # noqa: S314
    except ET.ParseError as error:
        raise refuse(
            "The DOCX file is damaged.",
            "Open it in a word processor and save it again.",
            "damaged",
            name,
        ) from error


def _styles(archive: zipfile.ZipFile, name: str) -> dict[str, int]:
    """Heading level by style id."""
    content = _member(archive, "word/styles.xml", name, needed=False)
    levels: dict[str, int] = {}
    if not content:
        return levels
    for style in _parse(content, name).iter(f"{_W}style"):
        identity = style.get(f"{_W}styleId") or ""
        label = style.find(f"{_W}name")
        text = (label.get(f"{_W}val") or "").lower() if label is not None else ""
        match = re.match(r"heading\s*(\d)", text)
        if match:
            levels[identity] = int(match[1])
        elif text == "title":
            levels[identity] = 1
    return levels


def _numbering(archive: zipfile.ZipFile, name: str) -> _Numbering:
    content = _member(archive, "word/numbering.xml", name, needed=False)
    numbering = _Numbering({}, {})
    if not content:
        return numbering
    root = _parse(content, name)
    abstract: dict[str, dict[str, str]] = {}
    for item in root.iter(f"{_W}abstractNum"):
        levels = {}
        for level in item.iter(f"{_W}lvl"):
            kind = level.find(f"{_W}numFmt")
            levels[level.get(f"{_W}ilvl") or "0"] = (
                (kind.get(f"{_W}val") or "decimal") if kind is not None else "decimal"
            )
        abstract[item.get(f"{_W}abstractNumId") or ""] = levels
    for num in root.iter(f"{_W}num"):
        reference = num.find(f"{_W}abstractNumId")
        if reference is not None:
            for depth, format_name in abstract.get(reference.get(f"{_W}val") or "", {}).items():
                numbering.formats[num.get(f"{_W}numId") or "", depth] = format_name
    return numbering


def _paragraph(
    paragraph: ET.Element, styles: dict[str, int], numbering: _Numbering, lines: list[Line]
) -> None:
    text = _text(paragraph)
    properties = paragraph.find(f"{_W}pPr")
    style, num, level = "", "", "0"
    if properties is not None:
        style_element = properties.find(f"{_W}pStyle")
        style = (style_element.get(f"{_W}val") or "") if style_element is not None else ""
        number = properties.find(f"{_W}numPr")
        if number is not None:
            identity, depth = number.find(f"{_W}numId"), number.find(f"{_W}ilvl")
            num = (identity.get(f"{_W}val") or "") if identity is not None else ""
            level = (depth.get(f"{_W}val") or "0") if depth is not None else "0"
    for index, row in enumerate(text.split("\n")):
        count = len(lines) + 1
        if not row.strip():
            lines.append(Line(count, "", "blank"))
        elif style in styles or re.match(r"(?i)heading\s?\d", style):
            digits = re.search(r"\d", style)
            lines.append(
                Line(
                    count,
                    row.strip(),
                    "heading",
                    level=styles.get(style) or (int(digits.group()) if digits else 2),
                )
            )
        elif num and num != "0" and index == 0:
            lines.append(
                Line(
                    count,
                    "  " * int(level if level.isdigit() else 0) + row.strip(),
                    "item",
                    mark=numbering.mark(num, level),
                )
            )
        elif "list" in style.lower() and index == 0:
            lines.append(
                Line(count, row.strip(), "item", mark="1." if "number" in style.lower() else "-")
            )
        else:
            lines.append(Line(count, row.rstrip(), "text"))
    if not (num and num != "0"):
        lines.append(Line(len(lines) + 1, "", "blank"))


def _text(element: ET.Element) -> str:
    pieces = []
    for node in element.iter():
        if node.tag == f"{_W}t":
            pieces.append(node.text or "")
        elif node.tag == f"{_W}tab":
            pieces.append("\t")
        elif node.tag in (f"{_W}br", f"{_W}cr"):
            pieces.append("\n")
        elif node.tag == f"{_W}noBreakHyphen":
            pieces.append("-")
    return "".join(pieces).replace("\xa0", " ")


def _table(table: ET.Element, lines: list[Line]) -> None:
    for row in table.iter(f"{_W}tr"):
        cells = [
            re.sub(r"\s+", " ", " ".join(_text(p) for p in cell.iter(f"{_W}p"))).strip()
            for cell in row.findall(f"{_W}tc")
        ]
        if any(cells):
            lines.append(
                Line(len(lines) + 1, " | ".join(cell.replace("|", "/") for cell in cells), "table")
            )
    lines.append(Line(len(lines) + 1, "", "blank"))
