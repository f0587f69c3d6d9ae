"""The whole program in memory, before it answers: an upgrade below a running server must not mix two versions.

What is loaded when it is first needed is loaded from whatever lies on the disk by then. So modules, templates and
catalogues are loaded when the process starts; style sheets and scripts are (:mod:`lastscrew.bench.assets`). Paper is
printed in a process of its own, which begins with what lies there then.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import django
from django.conf import settings
from django.forms.renderers import get_default_renderer
from django.template.loader import get_template
from django.utils import translation

import lastscrew

TEMPLATES: Final = Path(__file__).parents[1] / "templates"
OF_FORMS: Final = Path(django.__file__).parent / "forms" / "templates"
NOT_SERVED: Final = ("lastscrew.cli", "lastscrew.__main__")
"""The command line has started us: nothing of it is loaded later on."""
HEAVY: Final = ("openpyxl", "pdfminer.high_level")
"""Libraries that only some pages need and that take a while to load."""


def load_whole() -> None:
    """Load every module, template and catalogue of ours; what is loaded already costs nothing."""
    for name in module_names():
        importlib.import_module(name)
    for name in template_names(TEMPLATES):
        get_template(name)
    renderer = get_default_renderer()
    for name in template_names(OF_FORMS):
        renderer.get_template(name)
    for language, _name in settings.LANGUAGES:
        with translation.override(language):
            translation.gettext("Overview")


def load_rest() -> None:
    """Load what takes a while, beside the first requests: libraries, and the words that procedures are read by."""
    from lastscrew.reading import load_lexicon  # noqa: PLC0415 (another package's data, read once)

    load_lexicon()
    for name in HEAVY:
        importlib.import_module(name)


def module_names() -> Iterator[str]:
    """Every module that serving may need."""
    for module in pkgutil.walk_packages(lastscrew.__path__, "lastscrew."):
        if not module.name.startswith(NOT_SERVED):
            yield module.name


def template_names(folder: Path) -> Iterator[str]:
    """Every template below a folder, in order."""
    for path in sorted(folder.rglob("*.html")):
        yield path.relative_to(folder).as_posix()
