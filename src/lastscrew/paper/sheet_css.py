"""The style of the job sheet: black on white, made for printers, with room to write."""

from __future__ import annotations

from typing import Final, Literal

from lastscrew.paper.look import FONTS, SIGNAL_LOOKS

Paper = Literal["a4", "letter"]

PAGE_SIZES_MM: Final[dict[Paper, tuple[float, float]]] = {
    "a4": (210.0, 297.0),
    "letter": (215.9, 279.4),
}
"""ISO 216 and ANSI/ASME Y14.1."""

SIDE_MARGIN_MM, TOP_MARGIN_MM, BOTTOM_MARGIN_MM = 12.0, 17.0, 15.0


def text_width_mm(paper: Paper) -> float:
    """Width between the margins."""
    return PAGE_SIZES_MM[paper][0] - 2 * SIDE_MARGIN_MM


def text_height_mm(paper: Paper) -> float:
    """Height between the margins."""
    return PAGE_SIZES_MM[paper][1] - TOP_MARGIN_MM - BOTTOM_MARGIN_MM


TRAY_MARGIN_MM, TRAY_BOTTOM_MM = 5.0, 10.0


def sheet_css(paper: Paper, *, landscape_tray: bool = False) -> str:
    """All rules of the sheet."""
    width, height = PAGE_SIZES_MM[paper]
    tray = f"{height}mm {width}mm" if landscape_tray else f"{width}mm {height}mm"
    return (
        f"@page{{size:{width}mm {height}mm;"
        f"margin:{TOP_MARGIN_MM}mm {SIDE_MARGIN_MM}mm {BOTTOM_MARGIN_MM}mm}}"
        f"@page tray{{size:{tray};margin:{TRAY_MARGIN_MM}mm {TRAY_MARGIN_MM}mm {TRAY_BOTTOM_MM}mm;"
        "@top-left{content:none}@bottom-left{content:none}}"
        + _PAGE
        + f"html{{font-family:{FONTS};print-color-adjust:exact;-webkit-print-color-adjust:exact}}"
        + _BODY
        + _screen(paper)
        + _signals()
    )


def _screen(paper: Paper) -> str:
    width = text_width_mm(paper)
    return (
        f"@media screen{{body{{width:{width}mm;margin:8mm auto;padding:0 8mm}}"
        ".running{display:none}.for-screen{display:block}}"
    )


def _signals() -> str:
    rules = []
    for signal, look in SIGNAL_LOOKS.items():
        style = "font-style:italic" if signal == "notice" else ""
        rules.append(f".word.{signal}{{background:{look.ground};color:{look.letters};{style}}}")
    return "".join(rules)


_PAGE: Final = (
    "@page{@top-left{content:element(running);width:100%;vertical-align:bottom;padding-bottom:2mm}"
    "@bottom-left{content:element(foot);width:80%;vertical-align:top;padding-top:2mm}"
    "@bottom-right{content:'page ' counter(page) ' of ' counter(pages);font-size:8pt;"
    "vertical-align:top;padding-top:2mm}}"
    # Browsers know no running elements; there both stand where they are written, or not at all.
    ".running{position:running(running)}.foot{position:running(foot)}"
    ".running,.foot{font-size:8pt;color:#333}"
    ".running{border-bottom:.2mm solid #111;padding-bottom:.8mm}"
)

_BODY: Final = (
    ":root{color-scheme:light}"
    "body{font-size:9.5pt;line-height:1.32;color:#111;background:#fff;margin:0}"
    "h1{font-size:20pt;line-height:1.1;margin:0 0 .6mm}"
    "h2{font-size:12.5pt;margin:6mm 0 1.5mm;border-bottom:.5mm solid #111;padding-bottom:.6mm;break-after:avoid}"
    "h3{font-size:10pt;margin:3mm 0 1mm;break-after:avoid}"
    "p{margin:0 0 1mm}"
    "table{border-collapse:collapse;width:100%}td,th{text-align:left;vertical-align:top;padding:0}"
    ".asked{font-size:12.5pt;font-weight:bold;margin:1.5mm 0}"
    ".small{font-size:8pt;color:#333}"
    ".head td{vertical-align:top}.head .code{width:1px;padding-left:5mm}"
    ".code{text-align:right}.code .figure{margin:0}"
    ".fill{display:inline-block;border-bottom:.2mm solid #111;height:4.6mm}"
    ".fields{margin:2mm 0;table-layout:fixed}.fields td{padding:1.2mm 3mm 0 0;font-size:8pt;color:#333}"
    ".fields .fill{display:block;height:6mm}"
    ".figures{margin:2mm 0;border-top:.2mm solid #111;border-bottom:.2mm solid #111}"
    ".figures td{padding:1.2mm 3mm 1.2mm 0;font-size:8pt;color:#333}"
    ".figures b{display:block;font-size:12pt;color:#111}"
    ".tick{display:inline-block;width:3.4mm;height:3.4mm;border:.3mm solid #111;vertical-align:-.5mm;"
    "background:#fff}"
    ".panel{margin:.5mm 0;break-inside:avoid}"
    ".panel td{padding:.2mm 0}.panel .sign{width:27mm}"
    ".word{display:inline-block;border:.3mm solid #000;padding:.1mm 1.4mm;font-weight:bold;font-size:8pt;"
    "letter-spacing:.02em;line-height:1.3;white-space:nowrap}"
    ".word .alert{display:inline-block;width:2.9mm;height:2.7mm;margin-right:1mm;vertical-align:-.3mm}"
    ".hold{border:.5mm solid #111;margin:.8mm 0;break-inside:avoid;table-layout:fixed}"
    ".hold td{padding:.8mm 1.6mm}.hold .sign{width:12mm;background:#111;color:#fff;font-weight:bold;font-size:8pt}"
    ".hold .initials{width:32mm;font-size:8pt;color:#333;white-space:nowrap}"
    ".hold .fill{width:17mm}"
    ".lines td{padding:.5mm 2mm .5mm 0}.lines .t{width:5.5mm}.lines .r{text-align:right;white-space:nowrap}"
    ".columns{columns:2;column-gap:8mm}.columns>div{break-inside:avoid}"
    ".steps{margin:0 0 1.5mm}"
    ".steps thead th{font-size:9pt;font-weight:normal;background:#efefef;padding:.7mm 1.5mm;"
    "border-top:.2mm solid #111;border-bottom:.2mm solid #111;break-after:avoid}"
    ".steps thead b{font-weight:bold}.steps>tbody>tr{break-inside:avoid}"
    ".steps>tbody>tr>td{padding:.9mm 1.5mm .9mm 0;border-bottom:.2mm solid #bbb}"
    ".steps .all td{padding:.3mm 1.5mm}.steps .all>td{border-bottom:.2mm solid #bbb}"
    ".steps .t{width:6.5mm;padding-left:1mm}.steps .n{width:8mm;font-weight:bold;text-align:right;padding-right:3mm}"
    ".steps .c{width:38mm;text-align:right;white-space:nowrap;font-size:8.5pt}"
    ".steps .c .fill{width:9mm}"
    ".steps .do{font-weight:bold}.steps .with{color:#333;font-weight:normal}"
    ".steps .note{margin:.4mm 0 0}"
    ".act{margin:.6mm 0}"
    ".chip{margin-right:1.2mm}"
    ".live{display:inline-block;border:.2mm dashed #111;font-style:italic;font-size:8pt;padding:0 1.2mm;"
    "white-space:nowrap}"
    ".loose{border-left:1mm solid #111;padding:.3mm 0 .3mm 2mm;margin:1mm 0;break-inside:avoid}"
    ".turning{border:.5mm solid #111;padding:2mm 3mm;margin:4mm 0;break-inside:avoid}"
    ".turning h2{border:0;margin:0 0 1mm;padding:0}"
    ".order{break-inside:avoid;margin:.6mm 0}"
    ".order td{vertical-align:middle}.order .map{width:1px;padding-right:3mm}.order .figure{margin:0}"
    ".figure{position:relative;break-inside:avoid;margin:2mm auto}.figure svg{display:block}"
    ".over-text{position:absolute;white-space:pre;line-height:1.2;color:#111}"
    ".over-text.g{color:#6a6a6a}.over-text.pale{color:#d4d4d4}.over-text.b{font-weight:bold}"
    ".over-text.i{font-style:italic}.over-text.rev{color:#fff}"
    + "".join(f".over-text.on-{s}{{color:{look.letters}}}" for s, look in SIGNAL_LOOKS.items())
    + ".tray-page{break-before:page;page:tray}.tray-page h2{margin-top:0}.tray-page .figure{margin:0 auto}"
    ".sign-off{margin-top:5mm;break-inside:avoid}.sign-off .fill{display:block;height:8mm}"
    ".sign-off td{padding-right:5mm;font-size:8pt;color:#333}"
    ".for-screen{display:none}"
    ".result{white-space:nowrap}.result .fill{width:13mm}"
    ".checks td{padding:1.1mm 2mm 1.1mm 0;border-bottom:.2mm solid #bbb}.checks tr{break-inside:avoid}"
    ".checks th{font-size:8pt;font-weight:normal;color:#333;border-bottom:.2mm solid #111}"
    ".checks .fill{width:13mm}"
    ".account .k{width:52mm}.account .f{width:48mm}"
    ".account td,.account th{padding-right:1.5mm}.account .fill{width:9mm}"
)
