"""What the program writes itself stands up to its own audit."""

from __future__ import annotations

import pytest

from lastscrew.audit.text import audit_reading
from lastscrew.device.reading import load_device
from lastscrew.paper.procedure import procedures_of
from lastscrew.paper.procedure_page import markdown
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.sources import open_source
from tests.audit.test_device_files import SOUND
from tests.audit.texts import demo


def audit_of_written(text: str | bytes) -> list[tuple[str, str]]:
    """Code and text of every finding about the procedures written from a device file."""
    device = load_device(text)
    written = markdown(device, procedures_of(device))
    lexicon = load_lexicon()
    reading = read(open_source(written.encode(), "written.md"), lexicon)
    return [(f.code, f.text) for f in audit_reading(reading, lexicon)]


@pytest.mark.parametrize("name", ["notebook", "slate", "extractor"])
def test_procedures_written_from_a_demo_machine_audit_clean(name: str) -> None:
    """Wording, halves, prerequisites, cautions: not even a note."""
    assert audit_of_written(demo(name)) == []


def test_procedures_written_from_a_small_machine_audit_clean() -> None:
    """The lamp, with a single-use joint, a pack and a crosswise order."""
    assert audit_of_written(SOUND) == []
