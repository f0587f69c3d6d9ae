"""The job sheet: complete, escaped, the same every time, readable by people and by a code reader."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from dataclasses import fields, replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.paper import pdf
from lastscrew.paper.qr import draw_code, job_text, plan_words
from lastscrew.paper.sheet import SAFETY_NOTE, SheetOptions, sheet_html
from lastscrew.paper.sheet_css import PAGE_SIZES_MM, Paper
from lastscrew.paper.sheet_tray import TrayWish, tray_page
from lastscrew.paper.svg import Element
from lastscrew.plan.briefing import Briefing, brief
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.plan.wording import joint_name
from lastscrew.problems import InputError
from tests.paper.drawings import colours
from tests.paper.machines import FOREIGN, LONG, SCRIPT, greedy, notebook, renamed, tower

BOARD = Request(replace=("board",))


@cache
def briefing_of(name: str = "") -> Briefing:
    device = renamed(notebook(), name) if name else notebook()
    return brief(device, greedy(device, BOARD))


@cache
def page_of(name: str = "", paper: Paper = "a4", for_pdf: bool = True) -> str:
    found = briefing_of(name)
    options = SheetOptions(paper=paper, date="2026-01-05", for_pdf=for_pdf)
    return sheet_html(found, options, tray_page(found, TrayWish(), paper))


@cache
def printed(name: str = "", paper: Paper = "a4") -> pdf.Printed:
    try:
        return pdf.print_pdf(page_of(name, paper))
    except InputError as error:
        pytest.skip(str(error))


@cache
def pages_of(name: str = "", paper: Paper = "a4") -> tuple[str, ...]:
    """The text of each page, as another library reads it."""
    pypdf = pytest.importorskip("pypdf")
    reader = pypdf.PdfReader(io.BytesIO(printed(name, paper).data))
    return tuple(page.extract_text() for page in reader.pages)


class Reader(HTMLParser):
    """Reads a page as a browser does: elements and visible text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[str] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        """All of it, spaces evened out."""
        return " ".join(" ".join(self.words).split())


# --- the page -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["", LONG, SCRIPT, FOREIGN])
def test_names_never_become_elements(name: str) -> None:
    """Nothing active, nothing from outside, whatever things are called."""
    read = Reader(page_of(name))
    assert "script" not in read.tags
    assert not {"iframe", "img", "link", "object", "a"} & set(read.tags)
    assert not any(
        attribute.startswith("on") or attribute in ("src", "href") for attribute in read.attributes
    )
    assert "@import" not in page_of(name)
    assert not re.search(r"url\(", page_of(name))


def test_every_step_hazard_hold_and_act_is_on_the_page() -> None:
    """All that the briefing knows is said, in both directions."""
    found = briefing_of()
    text = Reader(page_of()).text
    for step in (*found.plan.way_in, *found.plan.way_out):
        assert text.count(joint_name(found.device, step.joint)) >= 4
    for at in found.hazards:
        assert found.device.hazards[at.hazard].text in text
    for word in ("DANGER", "WARNING", "CAUTION", "NOTICE", "HOLD"):
        assert word in text
    assert "Is the charger unplugged?" in text
    for done in found.acts:
        assert found.device.acts[done.act].text in text
    for loss in found.losses:
        assert loss.text in text
    for line in found.order:
        assert line.name in text
    for tool in found.tools:
        assert found.device.tools[tool].name in text
    assert SAFETY_NOTE in text
    assert "2026-01-05" in text
    assert found.device.revision_hash[:10] in text


def test_steps_with_the_power_on_say_so() -> None:
    """A machine with powered joints and nothing that isolates."""
    stack = tower(3)
    found = brief(stack, greedy(stack, Request(reach=tuple(stack.joints))))
    assert found.still_live
    text = Reader(sheet_html(found, SheetOptions())).text
    steps = text[text.index("Way in:") :]
    ways = {"in": "still live", "out": "live again"}
    for limb, words in ways.items():
        assert steps.count(words) == sum(key[0] == limb for key in found.still_live)


def test_cautions_stand_before_the_work_of_their_step() -> None:
    """The text of a step's hazard comes before its instruction."""
    text = Reader(page_of()).text
    steps = text[text.index("Way in:") :]
    assert steps.index("Lithium pack:") < steps.index("Unplug: Pack plug")
    assert steps.index("Is the charger unplugged?") < steps.index("Unplug: Pack plug")


def test_what_is_renewed_is_there_before_the_joint_is_closed() -> None:
    """Compound goes on before the sink's screws go in."""
    text = Reader(page_of()).text
    way_out = text[text.index("Way out:") :]
    assert way_out.index("Apply 0.3 g thermal compound, new.") < way_out.index("Fit: Sink screws")


def test_fasteners_are_counted_out_and_in() -> None:
    """Loose screws have a line for their number, and a compartment; captive ones have neither."""
    text = Reader(page_of()).text
    assert re.search(r"9 M2×5 PH1 out of 9 to [A-Z]\d", text)
    assert re.search(r"9 M2×5 PH1, 17 N·cm in of 9 from [A-Z]\d", text)
    captive = briefing_of().device.joints["fan_screws"]
    assert captive.captive
    assert "of 3" not in text


def test_disturbed_functions_are_checked() -> None:
    """Each with its instruction and two boxes."""
    text = Reader(page_of()).text
    checks = text[text.index("Checks at the end") :]
    for words in ("Type every key once", "Starts and shows the start screen", "works", "fails"):
        assert words in checks


def test_only_the_pdf_lifts_texts_out_of_drawings() -> None:
    """In a browser drawings keep their texts; for the PDF they are text of the page."""
    assert "<text" not in page_of()
    assert "<text" in page_of(for_pdf=False)
    assert "running" not in re.sub(
        r"<style>.*?</style>", "", page_of(for_pdf=False), flags=re.DOTALL
    )


def test_colour_is_for_safety_only() -> None:
    """Greys, black, white, and the four grounds."""
    safety = {"#c8102e", "#f58220", "#ffd100", "#0057a8"}
    for colour in colours(page_of()) - safety:
        digits = colour[1:]
        thirds = [digits] if len(digits) == 3 else [digits[:2], digits[2:4], digits[4:6]]
        assert len(set(digits if len(digits) == 3 else thirds)) == 1, colour


# --- the PDF --------------------------------------------------------------------------------------


def test_the_same_sheet_gives_the_same_bytes() -> None:
    """Printed twice; no clock and no random number in it."""
    assert pdf.print_pdf(page_of()).data == printed().data
    assert b"CreationDate" not in printed().data


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_size_and_count_of_pages(paper: Paper) -> None:
    """Every page has the size asked for and says which of how many it is."""
    pypdf = pytest.importorskip("pypdf")
    reader = pypdf.PdfReader(io.BytesIO(printed("", paper).data))
    width, height = PAGE_SIZES_MM[paper]
    count = len(reader.pages)
    assert count == printed("", paper).pages
    for number, page in enumerate(reader.pages, 1):
        assert float(page.mediabox.width) == pytest.approx(width / 25.4 * 72, abs=0.5)
        assert float(page.mediabox.height) == pytest.approx(height / 25.4 * 72, abs=0.5)
        assert f"page {number} of {count}" in page.extract_text()


def test_the_pdf_has_the_text_of_every_step() -> None:
    """Words, not outlines: number and name of each step can be found and copied."""
    found = briefing_of()
    text = " ".join(" ".join(pages_of()).split())
    for number, step in enumerate((*found.plan.way_in, *found.plan.way_out), 1):
        assert re.search(
            rf"\b{number} (\S+ )*?\S*{re.escape(joint_name(found.device, step.joint))}", text
        )


def test_pages_carry_device_and_revision() -> None:
    """On each page but the tray's, whose map says it itself."""
    for text in pages_of()[:-1]:
        assert "Alder 13, revision B (5e5e5e5e5e)" in text
    assert "Tray map" in pages_of()[-1]
    assert "5e5e5e5e5e5e" in pages_of()[-1]


def test_names_in_other_scripts_are_in_the_pdf(tmp_path: Path) -> None:
    """Greek, Cyrillic and Arabic can be found and copied; Arabic letters are joined, not set one by one."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed (Debian: poppler-utils)")
    file = tmp_path / "sheet.pdf"
    file.write_bytes(printed(FOREIGN).data)
    done = subprocess.run(["pdftotext", str(file), "-"], check=True, capture_output=True)
    text = done.stdout.decode()
    for word in ("Κάλυμμα", "Крышка корпуса", "غطاء"):
        assert word in text


def test_a_missing_library_is_told_with_its_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    """What to install, and the page to print as a way out."""

    def fail(*_args: object, **_kwargs: object) -> None:
        raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.setattr("builtins.__import__", _importer_that(fail))
    with pytest.raises(InputError) as raised:
        pdf.print_pdf("<p>x</p>")
    (problem,) = raised.value.problems
    assert "apt-get install libpango-1.0-0" in problem.remedy
    assert ".html" in problem.remedy


def _importer_that(fail: object) -> object:
    import builtins

    real = builtins.__import__

    def importing(name: str, *args: object, **kwargs: object) -> object:
        if name == "weasyprint":
            assert callable(fail)
            fail()
        return real(name, *args, **kwargs)  # type: ignore[arg-type]

    return importing


def test_letters_that_no_font_has_are_told() -> None:
    """Each once, with its code and what to install; a page with none says nothing."""
    nowhere = "\U0003fffd"  # no letter, and no font has one
    try:
        printed_page = pdf.print_pdf(f"<p>Lid {nowhere} and {nowhere}</p>")
    except InputError as error:
        pytest.skip(str(error))
    assert printed_page.missing == nowhere
    assert pdf.print_pdf("<p>Lid, Βάση, Крышка</p>").missing == ""
    assert pdf.missing_letters_text("") == ""
    text = pdf.missing_letters_text("ラ프ฝ🔦" + "".join(map(chr, range(0x3400, 0x3410))))
    assert "ラ (U+30E9)" in text
    assert "12 more" in text
    assert "fonts-noto-cjk, fonts-noto-core, fonts-noto-color-emoji" in text


def test_nothing_is_fetched() -> None:
    """A page that asks for something from outside gets nothing; the file is written all the same."""
    page = '<p>x<img src="file:///etc/hostname"><img src="https://example.com/x.png"></p>'
    try:
        assert pdf.print_pdf(page).pages == 1
    except InputError as error:
        pytest.skip(str(error))


# --- the code -------------------------------------------------------------------------------------


def dark_modules(code: Element) -> tuple[float, list[tuple[float, float, float, float]]]:
    """Side of a code and its dark rectangles, in millimetres."""
    path = code.find("path")
    assert path is not None
    runs = re.findall(r"M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h", path.get("d", ""))
    side = float((code.get("viewBox") or "").split()[2])
    return side, [tuple(float(v) for v in run) for run in runs]  # type: ignore[misc]


def decoded(code: Element) -> str:
    """What a code reader makes of a drawing of ours, painted with rectangles."""
    image = pytest.importorskip("PIL.Image")
    draw = pytest.importorskip("PIL.ImageDraw")
    zxingcpp = pytest.importorskip("zxingcpp")
    side, runs = dark_modules(code)
    scale = 20
    canvas = image.new("L", (round(side * scale), round(side * scale)), 255)
    pen = draw.Draw(canvas)
    for x, y, width, height in runs:
        pen.rectangle(
            [x * scale, y * scale, (x + width) * scale - 1, (y + height) * scale - 1], fill=0
        )
    (found,) = zxingcpp.read_barcodes(canvas)
    return str(found.text)


def test_the_code_says_device_revision_and_request() -> None:
    """Read back by an independent reader."""
    found = briefing_of()
    text = job_text(found.device, found.plan.request)
    assert text == f"alder_13\n{'5e' * 32}\nplan --replace board"
    code, held = draw_code(text)
    assert held == text
    assert decoded(code) == text


@given(
    replaced=st.lists(st.text("abc_+ '\"$", min_size=1), max_size=4),
    opened=st.lists(st.text("abc_", min_size=1), max_size=8),
)
def test_any_request_can_be_read_back(replaced: list[str], opened: list[str]) -> None:
    """Quoted so that a shell takes it as it was meant."""
    import shlex

    request = Request(replace=tuple(replaced), opened=tuple(opened))
    line = job_text(notebook(), request).split("\n", 2)[2]
    assert shlex.split(line) == plan_words(request)


def test_the_words_of_a_request_plan_the_same_again() -> None:
    """Every field that differs from its default comes back through the command line."""
    import click

    from lastscrew.cli.plan_options import Asked, plan_options

    asked_for: list[Request] = []

    @click.command()
    @plan_options
    def command(asked: Asked) -> None:
        asked_for.append(asked.request)

    full = Request(
        replace=("a+b", "c"), reach=("d",), opened=("e", "f"), side="top", not_fitted=("g",), fitted=("h",),
        without=("i",), objective="risk", rate_per_h=60.0, pace=1.2,
    )  # fmt: skip
    known = {f.name: getattr(full, f.name) for f in fields(Request)}
    assert all(
        known[f.name] != getattr(Request(), f.name) for f in fields(Request) if f.name in known
    )
    for request in (full, Request(replace=("a",))):
        command.main(plan_words(request)[1:], standalone_mode=False)
        assert asked_for[-1] == request


def test_a_request_that_no_code_can_hold_leaves_the_device() -> None:
    """Then the code says device and revision, and the sheet says so."""
    stack = tower(60)
    stack = replace(
        stack,
        joints={
            f"{k}_of_a_rather_long_name": replace(j, id=f"{k}_of_a_rather_long_name")
            for k, j in stack.joints.items()
        },
    )
    text = job_text(stack, Request(reach=tuple(stack.joints)))
    code, held = draw_code(text)
    assert held == f"tower\n{'a1' * 32}"
    assert decoded(code) == held


def test_the_code_is_read_from_the_printed_page(tmp_path: Path) -> None:
    """As a phone would: the first page, rendered at the resolution of an office scanner."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed (Debian: poppler-utils)")
    zxingcpp = pytest.importorskip("zxingcpp")
    image = pytest.importorskip("PIL.Image")
    file = tmp_path / "sheet.pdf"
    file.write_bytes(printed().data)
    command = [
        "pdftoppm",
        "-r",
        "150",
        "-f",
        "1",
        "-l",
        "1",
        "-gray",
        "-png",
        str(file),
        str(tmp_path / "page"),
    ]
    subprocess.run(command, check=True)
    (page,) = tmp_path.glob("page*.png")
    with image.open(page) as picture:
        (found,) = zxingcpp.read_barcodes(picture)
    assert found.text == job_text(briefing_of().device, BOARD)


# --- the tray -------------------------------------------------------------------------------------


def test_the_tray_is_printed_at_true_scale() -> None:
    """Drawings of trays keep their size in millimetres, and go on the paper."""
    for paper in ("a4", "letter"):
        page = tray_page(briefing_of(), TrayWish(), paper)
        width, height = PAGE_SIZES_MM[paper]
        assert page.drawings
        for drawing in page.drawings:
            view = [float(v) for v in (drawing.get("viewBox") or "").split()]
            assert drawing.get("width") == f"{view[2]:g}mm"
            assert view[2] <= width - 10
            assert view[3] <= height - 15
            assert f"width:{view[2]:.2f}mm" in page_of("", paper)


def test_a_wide_tray_turns_the_page_and_a_huge_one_is_told() -> None:
    """Six columns go on A4 across; twelve do not go at all."""
    across = tray_page(briefing_of(), TrayWish(2, 6, (45, 34)), "a4")
    assert (across.landscape, across.too_large) == (True, False)
    assert tray_page(briefing_of(), TrayWish(2, 12, (45, 34)), "a4").too_large
    page = sheet_html(briefing_of(), SheetOptions(), across)
    assert "@page tray{size:297.0mm 210.0mm" in page


def test_nothing_loose_needs_no_tray() -> None:
    """A plan that takes nothing out has no tray page."""
    device = notebook()
    found = brief(
        device, greedy(device, Request(reach=("fan_plug",), opened=("cover_screws", "cover_clips")))
    )
    bare = brief(
        replace(device, joints={k: replace(j, captive=True) for k, j in device.joints.items()}),
        found.plan,
    )
    assert tray_page(bare, TrayWish(), "a4").drawings == ()


def test_steps_on_the_map_are_those_of_the_sheet() -> None:
    """The map's step numbers go on from the way in, as everywhere on the sheet."""
    found = briefing_of()
    page = tray_page(found, TrayWish(), "a4")
    numbers = {
        joint_name(found.device, step.joint): len(found.plan.way_in) + place
        for place, step in enumerate(found.plan.way_out, 1)
    }
    desc = page.drawings[0].findtext("desc") or ""
    for joint in page.compartments:
        name = joint_name(found.device, joint)
        assert f"step {numbers[name]}, {name}" in desc


def test_one_step_is_said_as_one() -> None:
    """A way of one step is headed by a singular, the range of its numbers by one number."""
    device = notebook()
    short = brief(device, plan(device, Request(reach=("cover_screws",))))
    page = sheet_html(short, SheetOptions(date="2026-01-05"))
    assert "Way in: 1 step<" in page
    assert not re.search(r"\b1 steps\b", page)
