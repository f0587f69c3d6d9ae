"""PDF with text: lines in reading order, columns apart, page headers and footers set aside."""

from __future__ import annotations

import io
import itertools
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from lastscrew.reading.model import Line
from lastscrew.reading.sources.limits import MAX_LINES, MAX_PAGES, refuse

_EDGE = 0.09
"""Share of the page's height at top and bottom where page furniture stands (our own figure)."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A piece of a printed line: its box in points, its type size, whether it is bold."""

    page: int
    x0: float
    x1: float
    y0: float
    y1: float
    text: str
    size: float
    bold: bool


def pdf_lines(
    data: bytes, name: str, progress: Callable[[int, int], None] | None = None
) -> tuple[Line, ...]:
    """Lines of a PDF.

    Raises:
        InputError: It is damaged, protected, has no text (a scan), or too many pages.
    """
    pages = list(_pages(data, name, progress))
    pieces = [piece for _height, _width, page in pages for piece in page]
    letters = sum(len(piece.text) for piece in pieces)
    if letters < 20 * max(1, len(pages)) and letters < 200:
        raise refuse(
            "The PDF holds pictures of pages and no text.",
            "Have the pages read by a text recogniser first, and give its text.",
            "scanned_pdf",
            name,
        )
    body = _body_size(pieces)
    furniture = _furniture(pages)
    lines: list[Line] = []
    for height, _width, page in pages:
        previous: _Piece | None = None
        for row in _reading_order(page):
            _add(row, previous, body, furniture, height, lines)
            previous = row
        lines.append(Line(len(lines) + 1, "", "blank"))
        if len(lines) > MAX_LINES:
            raise refuse("The PDF has too many lines.", "Split it.", "too_large", name)
    return tuple(_join_broken_pages(lines))


def _pages(
    data: bytes, name: str, progress: Callable[[int, int], None] | None
) -> Iterator[tuple[float, float, list[_Piece]]]:
    from pdfminer.high_level import extract_pages  # heavy: only where a PDF is read  # noqa: PLC0415
    from pdfminer.layout import LAParams, LTChar, LTTextContainer, LTTextLine  # noqa: PLC0415
    from pdfminer.pdfdocument import PDFPasswordIncorrect, PDFTextExtractionNotAllowed  # noqa: PLC0415

    try:
        for number, page in enumerate(
            extract_pages(io.BytesIO(data), laparams=LAParams(boxes_flow=None)), 1
        ):
            if number > MAX_PAGES:
                raise refuse(  # noqa: TRY301
                    f"The PDF has more than {MAX_PAGES} pages.", "Split it.", "too_large", name
                )
            if progress is not None:
                progress(number, 0)
            pieces = []
            for box in page:
                if not isinstance(box, LTTextContainer):
                    continue
                for line in box:
                    if isinstance(line, LTTextLine) and line.get_text().strip():
                        chars = [char for char in line if isinstance(char, LTChar)]
                        size = max((char.size for char in chars[:40]), default=0.0)
                        bold = bool(chars) and "bold" in chars[0].fontname.lower()
                        pieces.append(
                            _Piece(
                                number,
                                line.x0,
                                line.x1,
                                line.y0,
                                line.y1,
                                _squeeze(line.get_text()),
                                size,
                                bold,
                            )
                        )
            yield page.height, page.width, pieces
    except (PDFPasswordIncorrect, PDFTextExtractionNotAllowed) as error:
        raise refuse(
            "The PDF is protected by a password.", "Save it without a password.", "protected", name
        ) from error
    except (
        ValueError,
        TypeError,
        KeyError,
        IndexError,
        AttributeError,
        AssertionError,
        RecursionError,
        OverflowError,
        OSError,
    ) as error:
        raise refuse("The PDF is damaged.", "Print it to a new PDF.", "damaged", name) from error
    except Exception as error:  # the library raises its own kinds from many places
        if type(error).__module__.startswith("pdfminer"):
            raise refuse(
                "The PDF is damaged or no PDF.", "Print it to a new PDF.", "damaged", name
            ) from error
        raise


def _squeeze(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("‐", "-").replace("­", "-")).strip()  # noqa: RUF001


def _body_size(pieces: list[_Piece]) -> float:
    sizes: Counter[float] = Counter()
    for piece in pieces:
        sizes[round(piece.size, 1)] += len(piece.text)
    return sizes.most_common(1)[0][0] if sizes else 10.0


def _furniture(pages: list[tuple[float, float, list[_Piece]]]) -> set[str]:
    """Texts (figures aside) that stand at the edge of at least a third of the pages, two at least.

    As rows too: a footer may stand in two or three boxes that share a base line.
    """
    seen: dict[str, set[int]] = defaultdict(set)
    for height, _width, page in pages:
        for piece in (*page, *_reading_order(page)):
            if piece.y0 > height * (1 - _EDGE) or piece.y1 < height * _EDGE:
                seen[_key(piece.text)].add(piece.page)
    enough = max(2, len(pages) // 3)
    return {key for key, where in seen.items() if len(where) >= enough}


def _key(text: str) -> str:
    return re.sub(r"\d+", "#", text.lower()).strip()


def _reading_order(page: list[_Piece]) -> list[_Piece]:
    """Rows of a page: bands between lines that span the gutter, in each the left column before the right."""
    rows: list[_Piece] = []
    gutter = _gutter(page)
    if gutter is None:
        return _rows(page)
    spanning = sorted(
        (p for p in page if p.x0 < gutter - 2 and p.x1 > gutter + 2), key=lambda p: -p.y1
    )
    rest = [p for p in page if p not in spanning]
    tops = [p.y1 for p in spanning]
    bands: list[list[_Piece]] = [[] for _ in range(len(tops) + 1)]
    for piece in rest:
        bands[sum(1 for top in tops if top > piece.y1)].append(piece)
    for index, band in enumerate(bands):
        left, right = (
            [p for p in band if p.x1 <= gutter + 2],
            [p for p in band if p.x0 >= gutter - 2],
        )
        rows += _rows(left) + _rows(right)
        if index < len(spanning):
            rows.append(spanning[index])
    return rows


def _gutter(page: list[_Piece]) -> float | None:
    """X of a white gap between two columns of running text, or None."""
    if len(page) < 10:
        return None
    left, right = min(p.x0 for p in page), max(p.x1 for p in page)
    width = right - left
    best: tuple[int, float] | None = None
    for step in range(30, 71):
        x = left + width * step / 100
        crossing = sum(1 for p in page if p.x0 < x - 1 and p.x1 > x + 1)
        before = [p for p in page if p.x1 <= x + 1]
        after = [p for p in page if p.x0 >= x - 1]
        enough = _wide(before, width) >= 5 and _wide(after, width) >= 3
        if crossing <= len(page) * 0.12 and enough and (best is None or crossing < best[0]):
            best = (crossing, x)
    return best[1] if best else None


def _wide(pieces: list[_Piece], width: float) -> int:
    """Pieces that are wide enough to be running text."""
    return sum(1 for piece in pieces if piece.x1 - piece.x0 > width * 0.22)


def _rows(pieces: list[_Piece]) -> list[_Piece]:
    """Pieces that share a base line become one row, from left to right; rows from top to bottom."""
    rows: list[list[_Piece]] = []
    for piece in sorted(pieces, key=lambda p: (-p.y1, p.x0)):
        middle = (piece.y0 + piece.y1) / 2
        row = next((r for r in rows[-6:] if r[0].y0 <= middle <= r[0].y1), None)
        if row is None:
            rows.append([piece])
        else:
            row.append(piece)
    return [_merged(sorted(row, key=lambda p: p.x0)) for row in rows]


def _merged(row: list[_Piece]) -> _Piece:
    if len(row) == 1:
        return row[0]
    text = row[0].text
    for before, after in itertools.pairwise(row):
        gap = after.x0 - before.x1
        text += ("   " if gap > 3 * after.size and len(row) > 2 else " ") + after.text
    first = row[0]
    return _Piece(
        first.page,
        first.x0,
        row[-1].x1,
        min(p.y0 for p in row),
        max(p.y1 for p in row),
        text,
        max(p.size for p in row),
        all(p.bold for p in row),
    )


def _add(
    row: _Piece,
    previous: _Piece | None,
    body: float,
    furniture: set[str],
    height: float,
    lines: list[Line],
) -> None:
    edge = row.y0 > height * (1 - _EDGE) or row.y1 < height * _EDGE
    if edge and (
        _key(row.text) in furniture
        or re.fullmatch(r"(?:page\s*)?[\divxlc-]{1,7}", row.text.lower())
    ):
        lines.append(Line(len(lines) + 1, row.text, "furniture", reason="page header or footer"))
        return
    if previous is not None and previous.y0 - row.y1 > 0.75 * row.size and lines and lines[-1].text:
        lines.append(Line(len(lines) + 1, "", "blank"))
    large = row.size > body * 1.12 or (
        row.bold and len(row.text.split()) <= 9 and not row.text.rstrip().endswith((".", ",", ";"))
    )
    if large and len(row.text.split()) <= 14 and not re.match(r"^\d{1,2}[.)]?$", row.text):
        level = 1 if row.size > body * 1.6 else 2 if row.size > body * 1.3 else 3
        _heading(row.text, level, lines)
        return
    lines.append(Line(len(lines) + 1, row.text, "text"))


def _heading(text: str, level: int, lines: list[Line]) -> None:
    """A heading that runs over two printed lines is one."""
    last = lines[-1] if lines else None
    if (
        last is not None
        and last.kind == "heading"
        and last.level == level
        and (text[:1].islower() or text[:1].isdigit() or len(text.split()) == 1)
    ):
        lines[-1] = Line(last.number, f"{last.text} {text}", "heading", level=level)
        return
    lines.append(Line(len(lines) + 1, text, "heading", level=level))


def _join_broken_pages(lines: list[Line]) -> list[Line]:
    """A sentence that runs over a page break stays one: no blank line stands in it."""
    kept: list[Line] = []
    for index, line in enumerate(lines):
        if line.kind == "blank" and kept:
            before = next((old for old in reversed(kept) if old.kind != "furniture"), None)
            after = next(
                (new for new in lines[index + 1 :] if new.kind not in ("furniture", "blank")), None
            )
            if (
                before is not None
                and after is not None
                and before.kind == "text"
                and after.text[:1].islower()
                and not before.text.endswith((".", ":", "!"))
            ):
                continue
        kept.append(
            Line(
                len(kept) + 1, line.text, line.kind, line.level, line.mark, line.time_s, line.reason
            )
        )
    return kept
