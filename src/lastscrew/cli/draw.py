"""``lastscrew draw``: the V, the layers, or the views of a device as SVG."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import load_device_file
from lastscrew.cli.plan_options import Asked, JsonCommand, find_plan, plan_options
from lastscrew.cli.writing_out import STDOUT, say_written, write_out
from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.plan.asking import nearest
from lastscrew.plan.briefing import Briefing, brief
from lastscrew.plan.model import Plan
from lastscrew.problems import InputError, Problem

if TYPE_CHECKING:
    from lastscrew.paper.svg import Element
    from lastscrew.paper.views import Lit


@click.command(cls=JsonCommand)
@click.argument("file")
@click.option(
    "--what",
    type=click.Choice(("v", "layers", "views")),
    default="v",
    show_default=True,
    help="The way in and out; what lies over what; the device from each side.",
)
@plan_options
@click.option(
    "--step",
    type=click.IntRange(min=1),
    default=None,
    metavar="N",
    help="Light this step of the plan.",
)
@click.option("--joint", default=None, metavar="JOINT", help="Light this joint.")
@click.option(
    "--view", multiple=True, metavar="SIDE", help="Draw this side only (views). Repeatable."
)
@click.option(
    "-o",
    "--output",
    default=STDOUT,
    metavar="OUT.svg",
    help="File to write (default: standard output).",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object about what was drawn.")
def command(
    *,
    file: str,
    what: str,
    asked: Asked,
    step: int | None,
    joint: str | None,
    view: tuple[str, ...],
    output: str,
    as_json: bool,
) -> None:
    """Draw the V of a plan, the layers of a device, or the device from each side, as SVG.

    FILE is a device file (- for standard input). The V and --step need a plan: name at least one part
    to --replace, one joint to --reach, one joint that is --open already, or a --run.
    """
    from lastscrew.paper.svg import to_text

    with edge(as_json=as_json):
        device = load_device_file(file)
        plan = None
        if what == "v" or step is not None or _asks_for_plan(asked):
            plan = find_plan(device, asked, file=file)
        root = _drawing(device, plan, what, _Wish(file, step, joint, view))
        svg = to_text(root)
        if not (as_json and output == STDOUT):
            write_out(output, svg.encode())
    if as_json:
        told = {
            "written": None if output == STDOUT else output,
            "what": what,
            "bytes": len(svg.encode()),
        }
        size = {"width": root.get("width"), "height": root.get("height")}
        click.echo(json_text({**told, **size, **({"svg": svg} if output == STDOUT else {})}))
        return
    say_written(output, "drawn")


class _Wish:
    """What is to be lit or shown."""

    def __init__(
        self, file: str, step: int | None, joint: str | None, views: tuple[str, ...]
    ) -> None:
        self.file, self.step, self.joint, self.views = file, step, joint, views


def _asks_for_plan(asked: Asked) -> bool:
    request = asked.request
    return bool(request.replace or request.reach or request.opened or asked.run_file)


def _drawing(device: Device, plan: Plan | None, what: str, wish: _Wish) -> Element:
    from lastscrew.paper.layers import draw_layers
    from lastscrew.paper.sides import draw_sides

    fitted = device
    briefing: Briefing | None = None
    if plan is not None:
        briefing = brief(device, plan)
        fitted = fit(device, plan.request.not_fitted, plan.request.fitted)
    problems = _unknown(fitted, wish)
    if problems:
        raise InputError(problems)
    lit = _lit(fitted, plan, wish)
    if what == "layers":
        return draw_layers(fitted, (lit.joint,) if lit else ())
    if what == "views":
        return draw_sides(fitted, lit, sides=wish.views)
    assert briefing is not None
    return _the_v(briefing)


def _the_v(briefing: Briefing) -> Element:
    from lastscrew.paper.v import VExtras, draw_v
    from lastscrew.paper.words import asked_words, revision_words

    title = f"{briefing.device.name}: {asked_words(briefing)}"
    under = f"{revision_words(briefing.device)} · hands-on {briefing.timing.total}"
    return draw_v(briefing, extras=VExtras(title, under, legend=True), pad_mm=5)


def _unknown(device: Device, wish: _Wish) -> list[Problem]:
    problems = []
    for option, names, known in (
        ("--joint", [wish.joint] if wish.joint is not None else [], list(device.joints)),
        ("--view", list(wish.views), list(device.sides)),
    ):
        for name in names:
            if name not in known:
                like = nearest(name, known)
                remedy = f"Did you mean {like}?" if like else f"Known: {', '.join(known[:12])}."
                what = "joint" if option == "--joint" else "side"
                problems.append(
                    Problem(
                        f"The device has no {what} {name}.",
                        remedy,
                        path=option,
                        code="unknown_name",
                    )
                )
    return problems


def _lit(device: Device, plan: Plan | None, wish: _Wish) -> Lit | None:
    from lastscrew.paper.views import Lit, lit_step

    if wish.step is not None and plan is not None:
        lit = lit_step(device, plan, wish.step)
        if lit is None:
            count = len(plan.way_in) + len(plan.way_out)
            raise InputError(
                [
                    Problem(
                        f"The plan has no step {wish.step}.",
                        f"It has steps 1 to {count}." if count != 1 else "It has step 1 only.",
                        path="--step",
                        file=wish.file,
                        code="no_such_step",
                    )
                ]
            )
        return lit
    return Lit(wish.joint) if wish.joint is not None else None
