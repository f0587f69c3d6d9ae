"""The reference page of the device file, made from the table of keys."""

from __future__ import annotations

from typing import Final

from lastscrew.device.diagnosis import LIKELIHOOD_WORDS
from lastscrew.device.keys import ACCESS, DEVICE, HARM, LIMITS, MEASURE, MEND, SECTIONS, TOP
from lastscrew.device.model import FLEXIBLE_KINDS, POWERED_KINDS, RIGID_KINDS
from lastscrew.device.nodes import MAX_DEPTH, MAX_NODES
from lastscrew.device.notes import MAX_PROBLEMS
from lastscrew.device.reading import MAX_ENTRIES
from lastscrew.device.source import MAX_BYTES
from lastscrew.device.types import Entries, Key, ListOf, Record, Type

_INTRODUCTION: Final = f"""\
# The device file, format 1

This page is made from the table that the reader itself uses (`lastscrew schema --markdown`); a test
holds the two together. `lastscrew schema` prints the same as a JSON Schema (2020-12) for editors, and
`lastscrew check FILE` says what is wrong with a file and what would be right.

A device file (`*.device.yaml`) describes one model of machine: its parts, the joints that hold them
together, and what it takes to reach each joint. It is YAML 1.2 in UTF-8. Comments are allowed.

```yaml
format: 1
device: {{name: Alder 13}}
parts:
  chassis: {{fixed: true}}      # stays on the bench
  cover: {{name: Bottom cover}}
joints:
  cover_screws: {{kind: screw, joins: [cover, chassis], fastener: m2x5, count: 9}}
fasteners:
  m2x5: {{thread: M2, length_mm: 5, drive: PH1}}
tools:
  driver: {{name: cross-recess screwdriver, fits: [PH1]}}
```

## Rules for all of it

- **Ids** are small letters, digits and `_`, beginning with a letter, and unique within their section.
  `unknown` and `hand` are words of the format and no ids. An id keeps its meaning across revisions; an
  entry that was renamed says `was: old_id`.
- **Unknown keys are errors**, so that a misspelt key does not pass. Keys that begin with `x_` are yours:
  allowed anywhere, kept and ignored.
- **`unknown`** may stand for a value that nobody knows yet, where the tables below say so. A plan then
  takes the default, and lists it as assumed.
- **`sources`** may stand in any entry: which key has its value from where.
- **Seconds** are finite, 0 to 86,400, with at most three decimals; inside they are whole milliseconds.
- **Numbers** must be finite. `010` is ten (with a warning), `yes` and `on` are text, not true.
- **Not allowed**: anchors, aliases, merge keys and tags of YAML, several documents in one file, a key
  twice in one mapping, control and text-direction characters, other encodings than UTF-8.
- **Bounds**: {MAX_BYTES // 1024**2} MiB, {MAX_NODES:,} values, {MAX_DEPTH} levels of nesting,
  {MAX_ENTRIES:,} entries in one section. Larger files are refused with one message. At most
  {MAX_PROBLEMS:,} problems are listed at once.

A file with errors is never half used; all its errors are reported in one run, each with line, column,
path, what is wrong and what would be right.
"""

_KINDS: Final = """\
### Kinds

Rigid (hold a part in place): {rigid}. Flexible (a part that is tied only by these can be laid
aside): {flexible}. `other` says `rigid` itself. `rigid` may be given for any kind: a ribbon too short to
lay the part aside is `rigid: true`. Power can be on {powered} unless `powered: false`; a joint that
names a part with `energy: true` is always live.

Where there is only one way to reach a joint, `side`, `tool`, `under` and `close_tool` stand on the joint
itself. Where there are several, they stand in `access`, never in both places.
"""

_CHECKED: Final = """\
## What is checked beyond single values

Errors:

- exactly one part is `fixed`, and it is in every unit;
- names refer to something that is there;
- `count` agrees with the number of `positions_mm`; positions and outlines lie in `frame_mm` where it is given;
- `other` says whether it is rigid; an access does not stand beside its keys; an act around a step names its joint;
- `after` does not go round in a circle;
- every joint can be reached by somebody. Everything is tried with all options fitted, since less that is
  fitted never makes a joint harder to reach. What fails then is an error if it also fails in the units that the
  file describes by default (or, for a joint that these lack, with nothing fitted beyond what it needs), and
  else a warning;
- the isolation can be reached without opening anything that waits for it;
- an old id in `was` is no longer in use.

Warnings:

- a part with no joint;
- a drive that no listed tool fits, or a tool that does not fit its joint's fastener;
- joints that carry power, and none that isolates;
- a screw without a fastener;
- an access that can never be used to open its joint (in files of thousands of joints not all are tried);
- a part in `under` that no rigid joint names (it covers nothing: say `after` instead);
- a part that screws alone hold under a cover (give it a `seat` under what lies over it);
- work with power on (a check, a swap test, a mend, a function tried before a joint is closed) for which a live joint
  must lie open that it does not name under `open` or `may_be_open`; `lastscrew fault` refuses it until it is named,
  a plan names each open joint and which are live at the hold point;
- a check or mend with no way to what it needs open while what it needs closed is closed;
- a source for a key that does not exist, an act at no step that names a joint, a spare with the id of a part.
"""


def reference_page() -> str:
    """The page in Markdown."""
    out = [
        _INTRODUCTION,
        "## The whole file\n",
        _table(TOP.keys),
        "## `device`\n",
        _table(DEVICE.keys),
    ]
    for section in SECTIONS:
        assert isinstance(section.type, Entries)
        out.extend(
            (f"## `{section.name}`\n", f"{section.help}\n", _table(section.type.record.keys))
        )
        if section.name == "joints":
            out.extend((_kinds(), "### `access`\n", _table(ACCESS.keys)))
        if section.name == "functions":
            out.extend(("### `measure`\n", _table(MEASURE.keys)))
        if section.name == "checks":
            out.extend(("### `measure` of a check\n", _table(LIMITS.keys)))
            out.extend(("### `harm`\n", _table(HARM.keys)))
        if section.name == "faults":
            out.extend(("### `mends`\n", _table(MEND.keys), _likelihoods()))
    out.append(_CHECKED)
    return "\n".join(out)


_LIKELY: Final = """\
### Words for probabilities

Wherever a probability stands, one of these words may stand for it: {words}. The figures are our own
round ones, near the averages over many surveys that Mosteller and Youtz report ("Quantifying probabilistic
expressions", Statistical Science 5, 1990; from memory).
"""


def _likelihoods() -> str:
    return _LIKELY.format(words=", ".join(f"`{w}` {v:g}" for w, v in LIKELIHOOD_WORDS.items()))


def _kinds() -> str:
    return _KINDS.format(
        rigid=_words(RIGID_KINDS), flexible=_words(FLEXIBLE_KINDS), powered=_words(POWERED_KINDS)
    )


def _words(names: tuple[str, ...]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _table(keys: tuple[Key, ...]) -> str:
    rows = ["| key | value | default | meaning |", "|---|---|---|---|"]
    for key in keys:
        default = "**required**" if key.required else key.default or "–"
        unknown = ", or `unknown`" if key.unknown else ""
        rows.append(f"| `{key.name}` | {_value(key.type)}{unknown} | {default} | {key.help} |")
    return "\n".join(rows) + "\n"


def _value(of: Type) -> str:
    if isinstance(of, Record):
        return "a mapping, see below"
    if isinstance(of, ListOf) and isinstance(of.item, Record):
        return "a list of mappings, see below"
    return of.says.replace("|", "\\|")
