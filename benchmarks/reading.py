"""Score the reader against hand-labelled texts.

    python benchmarks/reading.py [FOLDER …] [--json] [--misses]

Each folder holds ``NAME.txt`` (or another format that ``lastscrew read`` takes) beside ``NAME.gold.json``. Without
a folder the labelled texts that lie beside the repository, and ``benchmarks/reading_texts``, are scored.

An action matches a label when the class is the same, the line within one, and the objects share the
last noun or a third of their words; each label is used once, ``other`` is left out. A count is right
when the matched action has the labelled one; joins are right when every labelled part is named
("(implied)" parts and parts in brackets are optional); a prerequisite when kind and text agree.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lastscrew.reading import Reading, read
from lastscrew.reading.lexicon.morphology import noun_singular
from lastscrew.reading.sources import open_source

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = (ROOT.parent / "shared" / "reference" / "reading", ROOT / "benchmarks" / "reading_texts")
SUFFIXES = (".txt", ".md", ".html", ".htm", ".pdf", ".docx", ".srt", ".vtt")
REMOVAL_KINDS = ("removal", "disassembly", "opening", "disconnection", "teardown", "dismantling")
REFIT_KINDS = ("installation", "reassembly", "closing", "refit", "assembly", "connection")
BOTH_KINDS = ("replacement", "both", "exchange")


@dataclass
class Score:
    """Counts of one text."""

    name: str
    predicted: int = 0
    labelled: int = 0
    matched: int = 0
    counts_labelled: int = 0
    counts_right: int = 0
    joins_labelled: int = 0
    joins_right: int = 0
    prerequisites_labelled: int = 0
    prerequisites_right: int = 0
    prerequisites_predicted: int = 0
    states: Counter[str] = field(default_factory=Counter)
    misses: list[str] = field(default_factory=list)

    def as_json(self) -> dict[str, object]:
        """Rates rounded to three places; None where nothing is labelled."""
        return {
            "text": self.name,
            "precision": _rate(self.matched, self.predicted),
            "recall": _rate(self.matched, self.labelled),
            "counts": _rate(self.counts_right, self.counts_labelled),
            "joins": _rate(self.joins_right, self.joins_labelled),
            "prerequisites": _rate(self.prerequisites_right, self.prerequisites_labelled),
            "prerequisites_precision": _rate(
                self.prerequisites_right, self.prerequisites_predicted
            ),
            "labelled": self.labelled,
            "states": {
                name: _rate(count, sum(self.states.values()))
                for name, count in sorted(self.states.items())
            },
        }


def _rate(part: int, whole: int) -> float | None:
    return round(part / whole, 3) if whole else None


def words_of(text: str) -> list[str]:
    """Lower-case words, singular, without small words."""
    words = re.findall(r"[a-z0-9][a-z0-9.+/-]*", text.lower())
    return [
        noun_singular(word.strip(".-"))
        for word in words
        if word not in ("the", "a", "an", "and", "of", "all", "to")
    ]


def same_name(left: str, right: str) -> bool:
    """The last nouns are equal, or a third of the words of the longer name are shared."""
    one, two = words_of(re.sub(r"\([^)]*\)", "", left)), words_of(re.sub(r"\([^)]*\)", "", right))
    if not one or not two:
        return False
    return one[-1] == two[-1] or 3 * len(set(one) & set(two)) >= max(len(set(one)), len(set(two)))


def score(name: str, reading: dict[str, Any], gold: dict[str, Any]) -> Score:
    """Compare the JSON of a reading with the labels of a text."""
    result = Score(name)
    labels = _labels(gold)
    found = [
        (step["line"], action)
        for procedure in reading["procedures"]
        for step in procedure["steps"]
        for action in step["actions"]
        if action["class"] != "other"
    ]
    result.predicted, result.labelled = len(found), len(labels)
    free = list(range(len(found)))
    for line, label in labels:
        index = _best(line, label, found, free)
        if index is None:
            result.misses.append(
                f"missed {line}: {label['class']} {label.get('object', '')} {label.get('count', '')}"
            )
            continue
        free.remove(index)
        result.matched += 1
        _details(result, line, label, found[index][1])
    result.misses += [
        f"extra  {found[i][0]}: {found[i][1]['class']} {found[i][1].get('object', '')}"
        for i in free
    ]
    for _, label in labels:
        result.counts_labelled += "count" in label
        result.joins_labelled += bool(_parts(label))
    _prerequisites(result, reading, gold)
    result.states = Counter(
        line["state"] for line in reading["lines"] if line.get("reason") != "blank"
    )
    return result


def _labels(gold: dict[str, Any]) -> list[tuple[int, dict[str, Any]]]:
    return [
        (step["line"], action)
        for procedure in gold["procedures"]
        for step in procedure.get("steps", ())
        for action in step.get("actions", ())
        if action["class"] != "other"
    ]


def _best(
    line: int, label: dict[str, Any], found: list[tuple[int, dict[str, Any]]], free: list[int]
) -> int | None:
    fitting = [
        index
        for index in free
        if abs(found[index][0] - line) <= 1
        and found[index][1]["class"] == label["class"]
        and same_name(found[index][1].get("object", ""), label.get("object", ""))
    ]
    return (
        min(
            fitting,
            key=lambda i: (
                abs(found[i][0] - line),
                found[i][1].get("count") != label.get("count"),
                i,
            ),
        )
        if fitting
        else None
    )


def _parts(label: dict[str, Any]) -> list[str]:
    return [
        part
        for part in label.get("joins", ())
        if "(implied)" not in part and not part.startswith("(")
    ]


def _details(result: Score, line: int, label: dict[str, Any], action: dict[str, Any]) -> None:
    if "count" in label:
        right = action.get("count") == label["count"]
        result.counts_right += right
        if not right:
            result.misses.append(
                f"count  {line}: {label.get('object')} {label['count']} read {action.get('count')}"
            )
    parts = _parts(label)
    if parts:
        names = [*action.get("joins", ())]
        right = all(
            any(same_name(part, name) for name in names for part in re.split(r"\s/\s", one))
            for one in parts
        )
        result.joins_right += right
        if not right:
            result.misses.append(f"joins  {line}: {label.get('object')} {parts} read {names}")


def _prerequisites(result: Score, reading: dict[str, Any], gold: dict[str, Any]) -> None:
    read_rows = [
        (p["line"], p["part"], q["kind"], q["text"])
        for p in reading["procedures"]
        for q in p["prerequisites"]
    ]
    result.prerequisites_predicted = len(read_rows)
    free = list(range(len(read_rows)))
    for procedure in gold["procedures"]:
        for item in procedure.get("prerequisites", ()):
            kind = "state" if item.get("kind", item.get("type")) == "state" else "part"
            text = str(item.get("text") or item.get("part") or item.get("state") or "")
            result.prerequisites_labelled += 1
            near = [i for i in free if read_rows[i][2] == kind and _agree(read_rows[i][3], text)]
            if near:
                index = min(
                    near, key=lambda i: (abs(read_rows[i][0] - procedure.get("line", 0)), i)
                )
                free.remove(index)
                result.prerequisites_right += 1
            else:
                result.misses.append(f"before {procedure.get('line')}: {kind} {text}")
    result.misses += [
        f"before extra {read_rows[i][0]}: {read_rows[i][2]} {read_rows[i][3]}" for i in free
    ]


def _agree(read_text: str, label: str) -> bool:
    pieces = re.split(r"\s*[/;,]\s*", label)
    return any(same_name(read_text, piece) for piece in (*pieces, label))


def texts(folders: list[Path]) -> list[tuple[Path, Path]]:
    """Pairs of text and labels."""
    pairs = []
    for folder in folders:
        for gold in sorted(folder.glob("*.gold.json")):
            stem = gold.name.removesuffix(".gold.json")
            text = next(
                (
                    folder / (stem + suffix)
                    for suffix in SUFFIXES
                    if (folder / (stem + suffix)).exists()
                ),
                None,
            )
            if text is not None:
                pairs.append((text, gold))
    return pairs


def reading_of(path: Path) -> Reading:
    """Read one file as the command line does."""
    return read(open_source(path.read_bytes(), path.name))


def main() -> int:
    """Score all texts and print one row each."""
    parser = argparse.ArgumentParser(description="Score the reader against labelled texts.")
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--misses", action="store_true", help="list every difference")
    parser.add_argument("--only", default="", help="score only names that contain this")
    arguments = parser.parse_args()
    pairs = [
        pair
        for pair in texts(arguments.folders or [f for f in FOLDERS if f.is_dir()])
        if arguments.only in pair[0].name
    ]
    if not pairs:
        print("No labelled text was found; name a folder.", file=sys.stderr)
        return 2
    scores = [
        score(text.name, reading_of(text).as_json(), json.loads(gold.read_text(encoding="utf-8")))
        for text, gold in pairs
    ]
    if arguments.json:
        print(
            json.dumps(
                [
                    {**item.as_json(), **({"misses": item.misses} if arguments.misses else {})}
                    for item in scores
                ],
                indent=1,
            )
        )
        return 0
    print(
        f"{'text':34} {'prec':>6} {'recall':>6} {'counts':>6} {'joins':>6} {'before':>6} {'bprec':>6}  not understood"
    )
    for item in scores:
        row = item.as_json()
        states = row["states"]
        assert isinstance(states, dict)
        cells = [
            row[key]
            for key in (
                "precision",
                "recall",
                "counts",
                "joins",
                "prerequisites",
                "prerequisites_precision",
            )
        ]
        print(
            f"{item.name[:34]:34} "
            + " ".join("     -" if cell is None else f"{cell:6.2f}" for cell in cells)
            + f"  {states.get('not_understood') or 0:.2f}"
        )
        if arguments.misses:
            for miss in item.misses:
                print("    " + miss)
    return 0


if __name__ == "__main__":
    sys.exit(main())
