"""The look of everything on paper: ink, two greys, and colour for safety only.

Signal words and their colours follow ANSI Z535.4 (danger: white on red, warning: black on orange,
caution: black on yellow, notice: white on blue; the alert triangle stands before the first three
only). The colour values are approximations for screens, from memory; the standard defines
them by colour coordinates. The word is always printed, so that a black-and-white print loses nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lastscrew.device.model import SIGNALS, Signal
from lastscrew.saying import say

FONTS: Final = "'Liberation Sans', Arimo, Helvetica, Arial, 'DejaVu Sans', 'Noto Sans', 'Noto Sans CJK SC', sans-serif"

INK: Final = "#111111"
GREY: Final = "#6a6a6a"
PALE: Final = "#d4d4d4"
WASH: Final = "#efefef"
PAPER: Final = "#ffffff"

DARK_INK: Final = "#f2f2f2"
DARK_GREY: Final = "#a6a6a6"
DARK_PALE: Final = "#4a4a4a"
DARK_WASH: Final = "#262626"
DARK_PAPER: Final = "#161616"


@dataclass(frozen=True, slots=True)
class SignalLook:
    """How a signal word is shown: ground, letters, and whether the alert triangle precedes it."""

    word: str
    ground: str
    letters: str
    triangle: bool


SIGNAL_LOOKS: Final[dict[Signal, SignalLook]] = {
    "danger": SignalLook(say("DANGER"), "#c8102e", "#ffffff", triangle=True),
    "warning": SignalLook(say("WARNING"), "#f58220", "#000000", triangle=True),
    "caution": SignalLook(say("CAUTION"), "#ffd100", "#000000", triangle=True),
    "notice": SignalLook(say("NOTICE"), "#0057a8", "#ffffff", triangle=False),
}

SAFETY_COLOURS: Final = tuple(look.ground for look in SIGNAL_LOOKS.values())


def severity(signal: Signal) -> int:
    """0 for the most severe signal word."""
    return SIGNALS.index(signal)


def _css(ink: str, grey: str, pale: str, wash: str, paper: str) -> str:
    """Rules for one set of inks; names are short because they are repeated on every element."""
    fills = {
        ".t": ink, ".ink": ink, ".g": grey, ".pale": pale, ".wash": wash,
        ".paper": paper, ".rev": paper, ".ring": paper,
    }  # fmt: skip
    strokes = {
        ".li": ink, ".lg": grey, ".lp": pale, ".limb": ink, ".setup": ink, ".jump": grey, ".rung": grey,
        ".iso": ink, ".ring": ink, ".cut": ink, ".cut-lit": paper,
        ".dot": grey, ".box": ink, ".edge": grey, ".over": pale,
    }  # fmt: skip
    rules = [f".ls {name}{{fill:{colour}}}" for name, colour in fills.items()]
    rules += [f".ls {name}{{stroke:{colour}}}" for name, colour in strokes.items()]
    return "".join(rules)


_SHAPES: Final = (
    ".ls .li,.ls .lg,.ls .lp{fill:none;stroke-width:.2}"
    ".ls .limb{fill:none;stroke-width:1.1;stroke-linecap:round;stroke-linejoin:round}"
    ".ls .setup{fill:none;stroke-width:.45;stroke-dasharray:.9 .5}"
    ".ls .jump{fill:none;stroke-width:.25;stroke-dasharray:.5 .6}"
    ".ls .rung{fill:none;stroke-width:.18}"
    ".ls .iso{fill:none;stroke-width:.9}"
    ".ls .dot{fill:none;stroke-width:.2;stroke-dasharray:.2 1}"
    ".ls .box{fill:none;stroke-width:.25}"
    ".ls .ring{stroke-width:.5}"
    ".ls .cut,.ls .cut-lit{fill:none;stroke-width:.3}"
    ".ls .edge{fill:none;stroke-width:.25}"
    ".ls .over{fill:none;stroke-width:1.4}"
    ".ls .thin{stroke-width:.2}.ls .bold{stroke-width:.5}.ls .dash{stroke-dasharray:.8 .6}"
    ".ls .b{font-weight:bold}.ls .i{font-style:italic}"
)


def _signal_css() -> str:
    rules = [".ls .tag{stroke:#000;stroke-width:.2}"]
    for signal, look in SIGNAL_LOOKS.items():
        rules.append(f".ls .{signal}{{fill:{look.ground}}}.ls .on-{signal}{{fill:{look.letters}}}")
    return "".join(rules)


LIGHT_CSS: Final = _SHAPES + _css(INK, GREY, PALE, WASH, PAPER) + _signal_css()
DARK_CSS: Final = (
    "@media screen and (prefers-color-scheme:dark){"
    + _css(DARK_INK, DARK_GREY, DARK_PALE, DARK_WASH, DARK_PAPER)
    + ".ls .tag{stroke:#fff}}"
)
