"""Formats, encodings and hostile input."""

from __future__ import annotations

import io
import time
import zipfile
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.problems import InputError
from lastscrew.reading import read
from lastscrew.reading.sources import open_source

STEPS = ["Remove the four screws that hold the lid.", "Lift the lid off the chassis."]
W = 'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"'


def docx(body: str, extra: dict[str, str] | None = None) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "word/document.xml",
            f"<?xml version='1.0'?><w:document {W}><w:body>{body}</w:body></w:document>",
        )
        for name, text in (extra or {}).items():
            archive.writestr(name, text)
    return stream.getvalue()


def paragraph(text: str, properties: str = "") -> str:
    return f"<w:p><w:pPr>{properties}</w:pPr><w:r><w:t>{text}</w:t></w:r></w:p>"


def classes(data: bytes, name: str) -> list[str]:
    return [a.klass for p in read(open_source(data, name)).procedures for a in p.actions()]


def code_of(data: bytes, name: str = "x") -> str:
    with pytest.raises(InputError) as caught:
        open_source(data, name)
    return caught.value.problems[0].code


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_encodings_give_the_same_text(encoding: str) -> None:
    text = "Removing the lid\n\n1. Remove the lid’s screws – all four.\n"
    source = open_source(text.encode(encoding), "a.txt")
    assert source.lines[2].text == "1. Remove the lid’s screws – all four."


def test_text_that_was_decoded_twice_is_mended() -> None:
    wrong = "Lift the boardâ€™s edge 5Â°.".encode()
    source = open_source(wrong, "a.txt")
    assert source.lines[0].text == "Lift the board’s edge 5°."
    assert source.repairs


def test_mixed_encodings_line_by_line() -> None:
    source = open_source("Fläche\n".encode() + "Größe\n".encode("cp1252"), "a.txt")
    assert [line.text for line in source.lines] == ["Fläche", "Größe"]


def test_html_keeps_physical_lines_and_drops_programs() -> None:
    page = "<html><head><script>remove()</script></head>\n<body>\n<h1>Removing the lid</h1>\n<ol>\n<li>Remove the\n four screws.</li>\n<li>Lift the lid off.</li>\n</ol></body></html>"  # noqa: E501
    source = open_source(page.encode(), "a.html")
    reading = read(source)
    assert [step.line for p in reading.procedures for step in p.steps] == [5, 7]
    assert "remove()" not in source.text()


def test_html_on_one_line_is_numbered_block_by_block() -> None:
    page = "<h1>Removing the lid</h1><ul><li>Remove the four screws.</li><li>Lift the lid off.</li></ul>"
    reading = read(open_source(page.encode(), "a.html"))
    lines = [step.line for p in reading.procedures for step in p.steps]
    assert lines == sorted(set(lines))
    assert len(lines) == 2


def test_docx_with_styles_and_numbering() -> None:
    numbering = f"<w:numbering {W}><w:abstractNum w:abstractNumId='0'><w:lvl w:ilvl='0'><w:numFmt w:val='decimal'/></w:lvl></w:abstractNum><w:num w:numId='3'><w:abstractNumId w:val='0'/></w:num></w:numbering>"  # noqa: E501
    styles = (
        f"<w:styles {W}><w:style w:styleId='H2'><w:name w:val='heading 2'/></w:style></w:styles>"
    )
    item = "<w:numPr><w:ilvl w:val='0'/><w:numId w:val='3'/></w:numPr>"
    body = paragraph("Removing the lid", "<w:pStyle w:val='H2'/>") + "".join(
        paragraph(step, item) for step in STEPS
    )
    data = docx(body, {"word/styles.xml": styles, "word/numbering.xml": numbering})
    source = open_source(data, "a.docx")
    assert [line.mark for line in source.lines if line.kind == "item"] == ["1.", "2."]
    assert classes(data, "a.docx") == ["remove", "lift"]


def test_a_zip_bomb_is_refused() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("word/document.xml", b"0" * 60_000_000)
    assert code_of(stream.getvalue()) == "zip_bomb"


def test_xml_entities_are_refused() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr(
            "word/document.xml", "<!DOCTYPE x [<!ENTITY a 'aaaa'><!ENTITY b '&a;&a;'>]><x>&b;</x>"
        )
    assert code_of(stream.getvalue()) == "xml_entities"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "empty"),
        (b"  \n ", "empty"),
        (bytes(range(1, 32)) * 200, "binary"),
        (b"%PDF-1.7 nonsense", "damaged"),
        (b"PK\x03\x04 nonsense", "damaged"),
        (b"x" * 50_000, "line_too_long"),
    ],
)
def test_bad_input_is_refused_with_a_reason(data: bytes, code: str) -> None:
    assert code_of(data) == code


def test_a_docx_with_bits_that_turned_over_is_told_as_damaged() -> None:
    whole = docx("".join(f"<w:p><w:r><w:t>Step {n}</w:t></w:r></w:p>" for n in range(300)))
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        entry = archive.getinfo("word/document.xml")
    begin = entry.header_offset + 30 + len(entry.filename)
    for at in range(begin, begin + entry.compress_size - 8, max(1, entry.compress_size // 40)):
        data = bytearray(whole)
        data[at] ^= 0xFF
        assert code_of(bytes(data)) == "damaged"


PICTURES = ("PNG", "JPEG", "GIF", "BMP", "TIFF", "WEBP", "ICO", "PPM", "TGA", "PCX")


@pytest.mark.parametrize("kind", PICTURES)
@pytest.mark.parametrize("name", ["", "steps.txt", "steps.md", "steps.html"])
def test_a_tiny_picture_of_any_kind_is_no_text(kind: str, name: str) -> None:
    from PIL import Image

    file = io.BytesIO()
    Image.new("RGB", (1, 1), "red").save(file, kind)
    assert code_of(file.getvalue(), name) == "binary"


@pytest.mark.parametrize(
    "data",
    [
        b"GIF89a",
        b"\x89PNG\r\n\x1a\n",
        b"\xff\xd8\xff",
        b"\x1f\x8b\x08\0",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        b"{\\rtf1\\ansi Remove the screw.}",
        b"ID3\x04\0\0",
        b"\0\0\0 ftypheic",
        b"RIFF\x10\0\0\0WAVE",
        "Снимите крышку".encode("cp1251"),
        bytes(range(256)),
    ],
)
def test_the_beginning_of_another_kind_of_file_is_no_text(data: bytes) -> None:
    assert code_of(data, "steps.txt") == "binary"


def test_random_bytes_are_no_text_however_few() -> None:
    chance = Random(7)
    for size in (48, 64, 400, 4_000):
        assert {code_of(chance.randbytes(size), "a.txt") for _ in range(100)} == {"binary"}
    assert code_of(b"--- 1234 ---") == "no_words"


@pytest.mark.parametrize(
    "data",
    [
        b"Remove the screw.\x1a",
        b"Remove the screw.\0\0\0\0",
        b"BM 12: remove the screw.",
        b"ID3 cover: remove the screw.",
        b"II*\nRemove the screw.",
        "Für das Gehäuse: Größe äöüß. Remove the screw.".encode("cp1252"),
        "Remove the screw.".encode("utf-16"),
        "Remove the screw.".encode("utf-16-be"),
        "取り外す。Remove the screw.".encode(),
    ],
)
def test_text_that_looks_a_little_like_something_else_is_read(data: bytes) -> None:
    source = open_source(data, "a.txt")
    assert "emove the screw." in source.text()


def pdf_of(html: str) -> bytes:
    weasyprint = pytest.importorskip("weasyprint", reason="the PDF writer is not installed")
    return bytes(weasyprint.HTML(string=html).write_pdf())


def test_a_pdf_in_two_columns_is_read_column_by_column() -> None:
    steps = "".join(
        f"<li>Remove the {n} screws that hold bracket {n} to the chassis, and then lift the bracket out of the way.</li>"  # noqa: E501
        for n in range(2, 26)
    )
    page = (
        "<style>@page{size:A4;@top-center{content:'Guide 7'}@bottom-center{content:counter(page)}}"
        f"body{{columns:2;font-family:sans-serif;hyphens:auto}}</style><html lang=en><h1>Removing brackets</h1><ol>{steps}</ol>"  # noqa: E501
    )
    reading = read(open_source(pdf_of(page), "a.pdf"))
    counts = [a.count for p in reading.procedures for a in p.actions() if a.fastener]
    assert counts == list(range(2, 26))
    furniture = [line.text for line in reading.source.lines if line.kind == "furniture"]
    assert "1" in furniture


def test_a_pdf_footer_in_two_boxes_is_set_aside() -> None:
    """A footer with the document's name left and the page right opens no procedure, on two pages already."""
    page = (
        "<style>@page{size:A5;@bottom-left{content:'Doc 4711 Rev C'}"
        "@bottom-right{content:'Page ' counter(page) ' of 2'}}</style>"
        "<h2>Removing the fan</h2><p>1. Remove the two screws.</p>"
        "<p style='break-before:page'>2. Lift out the fan.</p>"
    )
    reading = read(open_source(pdf_of(page), "a.pdf"))
    assert [p.part for p in reading.procedures] == ["fan"]
    footers = [line for line in reading.source.lines if "4711" in line.text]
    assert [line.kind for line in footers] == ["furniture", "furniture"]


def test_a_scanned_pdf_says_so() -> None:
    assert (
        code_of(pdf_of("<div style='width:9cm;height:9cm;background:#888'></div>")) == "scanned_pdf"
    )


def test_a_table_between_bars_is_one_in_plain_text_too() -> None:
    """As in Markdown: the list of screws gives the step its number and size."""
    text = (
        "Screws\n| Mark | Size | Qty | Holds |\n|---|---|---|---|\n| A | M3 x 8 | 4 | Top cover |\n\n"
        "Top cover removal\n\n1. Remove screws A.\n2. Lift off the top cover.\n"
    )
    (screws, _) = read(open_source(text.encode(), "a.txt")).procedures[0].actions()
    assert (screws.count, screws.size) == (4, "M3x8")


def test_page_furniture_of_plain_text_is_set_aside() -> None:
    page = "Alder service guide\n\n{n}. Remove the cover.\n\nPage {n}\n\f"
    text = "".join(page.format(n=n) for n in range(1, 6))
    reading = read(open_source(text.encode(), "a.txt"))
    reasons = {
        state.reason
        for state in reading.lines
        if state.state == "other" and state.reason != "blank"
    }
    assert reasons <= {"page number", "repeated page header or footer"}
    assert "repeated page header or footer" in reasons
    assert sum(len(p.actions()) for p in reading.procedures) == 5


def test_srt_furniture_is_no_text() -> None:
    text = "1\n00:00:01,000 --> 00:00:03,000\nremove the four screws\n\n2\n00:00:03,000 --> 00:00:05,000\nand lift the lid off\n"  # noqa: E501
    reading = read(open_source(text.encode(), "a.srt"))
    assert [(step.line, step.actions[0].klass) for p in reading.procedures for step in p.steps] == [
        (3, "remove"),
        (7, "lift"),
    ]


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (
            ("[0:01] K: is the lid off", "[0:03] M: it is", "[0:05] K: and now", "[0:06] K: the belt"),
            ["is the lid off?", "it is.", "and now", "the belt"],
        ),
        (
            ("[0:01] TRAINER: undo both nuts", "[0:04] LEE: done", "[0:06] TRAINER: now do we", "[0:09] LEE: yes"),
            ["undo both nuts.", "done.", "now do we?", "yes"],
        ),
        (
            ("WEBVTT", "", "00:01.000 --> 00:02.000", "<v Ana>undo it", "", "00:03.000 --> 00:04.000", "<v Bo>I did"),
            ["undo it.", "I did"],
        ),
        (
            ("[0:01] Caution: it is hot", "[0:03] >> so lift it", "[0:05] >> like that"),
            ["Caution: it is hot.", "so lift it.", "like that"],
        ),
    ],
)  # fmt: skip
def test_what_one_voice_says_ends_where_another_begins(
    rows: tuple[str, ...], expected: list[str]
) -> None:
    """Names of speakers are no words of theirs, and a turn closes the sentence of the one before."""
    text = "\n".join(rows)
    source = open_source(text.encode(), "talk.vtt" if text.startswith("WEBVTT") else "talk.txt")
    assert [line.text for line in source.lines if line.kind == "text"] == expected


def test_stamped_lines_are_a_transcript() -> None:
    text = (
        "[0:01] okay so remove the two screws\n[0:05] and then unplug the fan\n[0:09] that's all\n"
    )
    source = open_source(text.encode(), "a.txt")
    assert source.spoken
    assert [line.time_s for line in source.lines] == [1, 5, 9]


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    """No input ends in anything but a reading or a message."""
    try:
        reading = read(open_source(data, "x.txt"))
    except InputError:
        return
    assert len(reading.lines) == len(reading.source.lines)


@given(st.text(alphabet="aeirst ,.()1234-\n:*#>remove the screws and lift", max_size=300))
def test_any_text_is_read(text: str) -> None:
    if text.strip():
        try:
            reading = read(open_source(text.encode(), "x.txt"))
        except InputError:
            return
        assert len(reading.lines) == len(reading.source.lines)


def test_time_grows_with_the_length_and_not_with_its_square() -> None:
    """Eight times the text takes at most twenty times as long; one endless sentence is no trap."""
    unit = "1. Remove the four screws that hold the lid to the chassis, then unplug the fan cable and lift the fan out.\n"  # noqa: E501

    def seconds(text: str) -> float:
        start = time.perf_counter()
        read(open_source(text.encode(), "a.txt"))
        return time.perf_counter() - start

    seconds(unit * 50)
    small = min(seconds(unit * 200) for _ in range(3))
    assert seconds(unit * 1600) < 20 * small + 0.5
    endless = "remove the screw and lift the lid and then unplug the fan so "
    short = min(seconds(endless * 200) for _ in range(3))
    assert seconds(endless * 1600) < 20 * short + 0.5


def test_wiki_markup_is_read_with_its_headings_and_numbered_steps() -> None:
    """In a wiki "==" stands around a heading and "#" before a step; the lines stay those of the file."""
    text = (
        "== Lamp ==\n\n=== Removing the lamp ===\n\n"
        "# '''Unplug''' the [[lamp|lamp lead]].\n# Take out the two screws.\n"
    )
    source = open_source(text.encode(), "lamp.txt")
    assert [(line.number, line.kind, line.text) for line in source.lines if line.text] == [
        (1, "heading", "Lamp"),
        (3, "heading", "Removing the lamp"),
        (5, "item", "Unplug the lamp lead."),
        (6, "item", "Take out the two screws."),
    ]
    (procedure,) = read(source).procedures
    assert [(a.klass, a.count) for a in procedure.actions()] == [("disconnect", 1), ("remove", 2)]
