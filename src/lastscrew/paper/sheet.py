"""The job sheet: everything for one job on paper, in the order in which it is needed.

Head, what to do and have ready before the work, the V, the way in, the turning point, the way out, checks, the
account of fasteners, who did it; then the tray map. One page as HTML, for printing from a browser or into a PDF.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device, Function
from lastscrew.fasteners.lookalikes import (
    length_cautions,
    look_alike_text,
    look_alikes_of_plan,
)
from lastscrew.paper.html import Child, el, figure, prose, to_html
from lastscrew.paper.look import severity
from lastscrew.paper.marks import marks_of
from lastscrew.paper.qr import draw_code, job_text
from lastscrew.paper.rows import course_of
from lastscrew.paper.sheet_css import Paper, sheet_css, text_height_mm, text_width_mm
from lastscrew.paper.sheet_pieces import fill, hazard_panel, lines, signal_panel, tick, ticked
from lastscrew.paper.sheet_steps import StepWriter
from lastscrew.paper.sheet_tray import TrayPage
from lastscrew.paper.svg import Element, fit
from lastscrew.paper.v import draw_v
from lastscrew.paper.v_layout import cut_rows, lay_out
from lastscrew.paper.v_text import tall_rows
from lastscrew.paper.words import asked_words, piece_names, revision_words
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.materials import OrderLine, loss_text
from lastscrew.plan.wording import (
    fastener_text,
    joint_name,
    listed,
    part_name,
    side_name,
    tool_name,
    unit_name,
)
from lastscrew.proof.checks import Proof, because_text, proof_of
from lastscrew.saying import joined, say

SAFETY_NOTE = say(
    "Follow the maker's instructions and local rules first. Only trained people do this work. "
    "This sheet does not replace any of them."
)
TRAY_TOO_LARGE = say(
    "This tray is larger than the paper: print it on larger paper to have it true to scale."
)
LEAST_V_SCALE = 0.78
"""The V is made smaller down to this to keep it on one page."""

RUNNING_SHARE, RUNNING_SIZE_MM = 0.8, 2.85
"""Head and foot of each page: how much of its width one line may take, and the size of its letters."""

V_HEADING_MM = 12.0
"""Room that the heading above the V takes from its page."""


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """How a sheet is made.

    Attributes:
        paper: Size of the paper.
        date: Printed as it is; empty for a line to write it on.
        for_pdf: Lay texts of drawings out as text of the page (browsers do not need that).
        language: Of the words of the page, as the voice in force tells them.
    """

    paper: Paper = "a4"
    date: str = ""
    for_pdf: bool = True
    language: str = "en"


def sheet_html(briefing: Briefing, options: SheetOptions, tray: TrayPage | None = None) -> str:
    """The job sheet as a page of HTML that refers to nothing outside of itself.

    Args:
        briefing: The plan and what follows from it.
        options: Paper, date, and whether it goes into a PDF.
        tray: The tray map, None for none.
    """
    page = tray or TrayPage()
    writer = _Sheet(briefing, options, proof_of(briefing.device, briefing.plan), page)
    title = joined(": ", (briefing.device.name, asked_words(briefing)))
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width"),
        el("title", title),
        el("style", sheet_css(options.paper, landscape_tray=page.landscape)),
    )
    body = el("body", *writer.parts(), *writer.tray())
    return to_html(el("html", head, body, lang=options.language))


class _Sheet:
    """Writes the parts of one sheet."""

    def __init__(
        self, briefing: Briefing, options: SheetOptions, proof: Proof, tray_page: TrayPage
    ) -> None:
        self.briefing = briefing
        self.options = options
        self.proof = proof
        self.tray_page = tray_page
        self.device: Device = briefing.device
        self.plan = briefing.plan
        self.course = course_of(self.device, self.plan)
        self.steps = StepWriter(
            briefing=briefing,
            course=self.course,
            proof=proof,
            compartments=tray_page.compartments,
            length_cautions=length_cautions(self.device, self.plan),
            texts_as_html=options.for_pdf,
        )

    def parts(self) -> Iterator[Element]:
        """Everything but the tray."""
        yield from self._running()
        yield from self._head()
        yield from self._before()
        yield from self._v()
        yield from self._way_in()
        yield self._turning_point()
        yield from self._way_out()
        yield from self._checks()
        yield from self._account()
        yield from self._small_print()
        yield self._sign_off()

    # -- head -------------------------------------------------------------------------------------

    def _running(self) -> Iterator[Element]:
        if self.options.for_pdf:
            width = text_width_mm(self.options.paper) * RUNNING_SHARE
            words = joined(", ", (self.device.name, revision_words(self.device)))
            yield el("div", fit(words, width, RUNNING_SIZE_MM), class_="running")
            yield el("div", fit(asked_words(self.briefing), width, RUNNING_SIZE_MM), class_="foot")

    def _head(self) -> Iterator[Element]:
        device = self.device
        text = job_text(device, self.plan.request)
        code, held = draw_code(text)
        kind = f"{device.kind}, " if device.kind else ""
        left = el(
            "td",
            el("p", say("Job sheet"), class_="small"),
            el("h1", device.name),
            el("p", kind, revision_words(device)),
            el("p", asked_words(self.briefing), class_="asked"),
            self._fields(),
        )
        right = el("td", figure(code, texts_as_html=False), class_="code")
        yield el("table", el("tr", left, right), class_="head")
        if held != text:
            yield el(
                "p",
                say(
                    "The code holds the device and its revision only: the request is too long for it."
                ),
            )
        yield self._figures()
        yield signal_panel("notice", SAFETY_NOTE)

    def _fields(self) -> Element:
        cells = [
            el("td", name, fill())
            for name in (say("serial number"), say("order", context="job"), say("name"))
        ]
        date = self.options.date
        cells.append(el("td", say("date"), el("b", el("br"), date) if date else fill()))
        return el("table", el("tr", *cells), class_="fields")

    def _figures(self) -> Element:
        timing, waits = self.briefing.timing, self.briefing.waits
        figures = [
            (say("hands-on"), timing.total.words),
            (say("way in"), timing.way_in.words),
            (say("way out"), timing.way_out.words),
        ]
        if waits.total_ms:
            figures.append((say("waiting"), timing.waiting.words))
        if self.proof.check_ms:
            figures.append((say("checks"), self.proof.check_range.words))
        cells = [el("td", el("b", value), name) for name, value in figures]
        return el("table", el("tr", *cells), class_="figures")

    # -- before the work --------------------------------------------------------------------------

    def _before(self) -> Iterator[Element]:
        yield el("h2", say("Before the work"))
        for hazard in self.briefing.bare_hazards:
            yield hazard_panel(self.device, hazard, say("Bare already:"))
        if self.briefing.opened_before:
            names = [joint_name(self.device, joint) for joint in self.briefing.opened_before]
            yield el("p", el("b", say("Open at the start:"), " "), listed(names), ".")
        if self.briefing.losses:
            yield el("h3", say("Would be lost: save it, or have the owner agree"))
            yield ticked([loss_text(self.device, loss) for loss in self.briefing.losses])
        columns = el("div", *self._ready(), class_="columns")
        if len(columns):
            yield columns
        for act in self.plan.start_acts:
            yield from self.steps.act(act)
        yield from self._hazards()

    def _ready(self) -> Iterator[Element]:
        tools = [tool_name(self.device, tool) for tool in self.briefing.tools]
        tools += [
            say("{tool} (besides)", tool=tool_name(self.device, tool))
            for tool in self.briefing.act_tools
        ]
        if tools:
            yield el("div", el("h3", say("Tools, in order of first use")), ticked(list(tools)))
        if self.briefing.order:
            rows = [_order_row(line) for line in self.briefing.order]
            yield el("div", el("h3", say("Parts and supplies")), lines(rows, ("t", "", "r")))

    def _hazards(self) -> Iterator[Element]:
        """All that can hurt in this job, once; each is repeated at its step."""
        found = {at.hazard for at in self.briefing.hazards}
        if not found:
            return
        yield el("h3", say("Dangers of this job (each is said again where it bites)"))
        hazards = self.device.hazards
        for hazard in sorted(found, key=lambda key: (severity(hazards[key].signal), key)):
            yield hazard_panel(self.device, hazard)

    # -- the V ------------------------------------------------------------------------------------

    def _v(self) -> Iterator[Element]:
        width = text_width_mm(self.options.paper)
        tall = tall_rows(self.device, self.course, marks_of(self.briefing), width)
        room = text_height_mm(self.options.paper) - V_HEADING_MM
        whole = lay_out(self.course, width, tall=tall).height
        # A little smaller is better than cut in two.
        scale = min(1.0, max(LEAST_V_SCALE, room / whole))
        pieces = cut_rows(self.course, room / scale, tall)
        for number, rows in enumerate(pieces, 1):
            drawing = draw_v(
                self.briefing, width_mm=width, rows=rows, prefix=f"v{number}", dark=False
            )
            words = say("The way in and the way out")
            if len(pieces) > 1:
                words = say(
                    "The way in and the way out, part {number} of {count}",
                    number=number,
                    count=len(pieces),
                )
            heading = el("h2", words)
            made = figure(drawing, texts_as_html=self.options.for_pdf, scale=scale)
            yield el("section", heading, made, class_="v", style="break-inside:avoid")

    # -- steps ------------------------------------------------------------------------------------

    def _way_in(self) -> Iterator[Element]:
        yield el("h2", say("Way in: {n} step", "Way in: {n} steps", n=len(self.course.way_in)))
        yield from self.steps.way("in")

    def _turning_point(self) -> Element:
        box = el("section", el("h2", say("Turning point")), class_="turning")
        names = piece_names(self.device, self.plan)
        said = say("Everything that was asked for is open.")
        if names:
            said = say("Exchange {pieces}.", pieces=names)
        box.append(el("p", tick(), " ", said))
        for across in self.briefing.moves_across:
            parts = listed([part_name(self.device, part) for part in across.parts])
            words = say("Move across to the new one: {parts}.", parts=parts)
            box.append(el("p", tick(), " ", words))
        for identity in self.proof.identities:
            name = part_name(self.device, identity.part)
            if identity.write_serial:
                cells: list[Child] = [
                    joined(", ", (name, say("serial number old"))),
                    " ",
                    fill(38),
                    " ",
                    say("new", context="serial number"),
                    " ",
                    fill(38),
                ]
                box.append(el("p", tick(), " ", *cells))
            if identity.carry_over:
                words = say("Carry the machine's identity over to the new {part}.", part=name)
                box.append(el("p", tick(), " ", words))
        for act in self.plan.turning_acts:
            box.extend(self.steps.act(act))
        return box

    def _way_out(self) -> Iterator[Element]:
        before, count = len(self.course.way_in), len(self.course.way_out)
        words = say("Way out: {n} step", "Way out: {n} steps", n=count)
        if count:
            words = say(
                "Way out: {n} step ({first})",
                "Way out: {n} steps ({first} to {last})",
                n=count,
                first=before + 1,
                last=before + count,
            )
        yield el("h2", words)
        yield from self.steps.way("out")
        for note in self.briefing.turns:
            if note.limb == "out" and note.before is None:
                yield from self.steps.turn_note(note)
        if self.plan.final_turn_ms:
            yield el("p", tick(), " ", say("Turn to {side}.", side=side_name(self.device.sides[0])))
        for act in self.plan.end_acts:
            yield from self.steps.act(act)

    # -- proof ------------------------------------------------------------------------------------

    def _checks(self) -> Iterator[Element]:
        if not self.proof.checks:
            return
        yield el("h2", say("Checks at the end"))
        head = el(
            "tr",
            *(
                el("th", name)
                for name in (say("function"), say("how"), say("value"), say("result"))
            ),
        )
        table = el("table", el("thead", head), class_="checks")
        body = el("tbody")
        for check in self.proof.checks:
            function = self.device.functions.get(check.function)
            if function is not None:
                because = because_text(self.device, check.because[0])
                body.append(_check_row(self.device, function, because))
        table.append(body)
        yield table

    def _account(self) -> Iterator[Element]:
        """Every fastener that came out, by kind, with room for where it went."""
        kinds: dict[str, tuple[int, list[str]]] = {}
        for out in self.briefing.fasteners:
            fastener = self.device.fasteners.get(out.fastener or "")
            name = fastener_text(fastener) if fastener else say("fastener of no stated kind")
            count, joints = kinds.get(name, (0, []))
            kinds[name] = (count + out.count, [*joints, joint_name(self.device, out.joint)])
        if not kinds:
            return
        yield el("h2", say("Every fastener accounted for"))
        names = (
            say("kind"),
            say("from", context="account"),
            say("out", context="account"),
            say("back", context="account"),
            say("new", context="account"),
            say("scrapped", context="account"),
            say("lost"),
            say("left over", context="account"),
        )
        classes = ("k", "f", *[""] * 6)
        heads = [el("th", name, class_=c) for name, c in zip(names, classes, strict=True)]
        table = el("table", el("thead", el("tr", *heads)), class_="checks account")
        body = el("tbody")
        for name, (count, joints) in kinds.items():
            cells: list[Element] = [el("td", name), el("td", listed(joints)), el("td", str(count))]
            cells += [el("td", fill(9)) for _ in range(5)]
            body.append(el("tr", *cells))
        table.append(body)
        yield table
        for pair in look_alikes_of_plan(self.device, self.plan):
            yield signal_panel("notice", *prose(look_alike_text(self.device, pair)))

    # -- end --------------------------------------------------------------------------------------

    def _small_print(self) -> Iterator[Element]:
        timing = self.briefing.timing
        sources = [
            words
            for count, words in (
                (timing.from_file, say("{n} from the device file", n=timing.from_file)),
                (
                    timing.from_table,
                    say("{n} from tables of work measurement", n=timing.from_table),
                ),
                (
                    timing.from_assumption,
                    say("{n} from tables with something assumed", n=timing.from_assumption),
                ),
            )
            if count
        ]
        said = say(
            "Times of steps: {sources}; ranges hold eight of ten jobs; {proven}.",
            sources=listed(sources) or say("none"),
            proven=self._how_sure(),
        )
        yield el("p", said, class_="small", style="margin-top:4mm")
        if self.briefing.assumed:
            rows = joined("; ", (one.words for one in self.briefing.assumed))
            words = say("Assumed, because the device file does not say: {values}.", values=rows)
            yield el("p", words, class_="small")

    def _how_sure(self) -> str:
        objective, proven = self.plan.request.objective, self.plan.proven
        if objective == "time":
            if proven:
                return say("no other way is quicker (proven)")
            return say("best way found, not proven")
        if objective == "risk":
            return (
                say("planned for risk, proven") if proven else say("planned for risk, not proven")
            )
        return say("planned for steps, proven") if proven else say("planned for steps, not proven")

    def _sign_off(self) -> Element:
        names = (
            say("done by"),
            say("date"),
            say("checked by (not the one who did it)"),
            say("date"),
        )
        return el("table", el("tr", *(el("td", name, fill()) for name in names)), class_="sign-off")

    def tray(self) -> Iterator[Element]:
        """The tray map on pages of its own."""
        page = self.tray_page
        for number, drawing in enumerate(page.drawings, 1):
            words = say("Tray, true to scale")
            if len(page.drawings) > 1:
                count = len(page.drawings)
                words = say("Tray {number} of {count}, true to scale", number=number, count=count)
            made = figure(drawing, texts_as_html=self.options.for_pdf)
            heading = el("h2", words)
            large = el("p", TRAY_TOO_LARGE, class_="small") if page.too_large else None
            yield el("section", heading, large, made, class_="tray-page")


def _order_row(line: OrderLine) -> list[Child]:
    amount = f"{line.amount:g} ×"
    if line.unit != "piece":
        amount = joined(" ", filter(None, (f"{line.amount:g}", unit_name(line.unit))))
    return [tick(), joined(" ", (amount, line.name)), line.order_code or ""]


def _check_row(device: Device, function: Function, because: str) -> Element:
    how: list[Child] = [function.check or say("Try it")]
    if function.needs:
        needed = listed([joint_name(device, joint) for joint in function.needs])
        how += [" ", say("(with {joints} closed)", joints=needed)]
    why = el("p", *prose(say("because {clauses}", clauses=because)), class_="small")
    measure = function.measure
    value: Sequence[Child] = ()
    if measure is not None:
        limits = [
            say("at least {limit}", limit=float(measure.low)) if measure.low is not None else "",
            say("at most {limit}", limit=float(measure.high)) if measure.high is not None else "",
        ]
        value = (fill(), f" {measure.unit}", el("br"), joined(", ", filter(None, limits)))
    result = el(
        "td", tick(), " ", say("works"), " ", el("br"), tick(), " ", say("fails"), class_="result"
    )
    return el("tr", el("td", el("b", function.name)), el("td", *how, why), el("td", *value), result)
