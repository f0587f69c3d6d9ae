"""What is built is whole: an installed program has its demos and tables, not only its modules."""

from __future__ import annotations

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
NEEDED = ["pyproject.toml", "README.md", "LICENSE", "NOTICE", "src"]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """The wheel, built from a copy of the sources without the network."""
    folder = tmp_path_factory.mktemp("build")
    unwanted = shutil.ignore_patterns("*.egg-info", "__pycache__")
    for name in NEEDED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=unwanted)
        else:
            shutil.copy(source, folder / name)
    build = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-index"]
    build += ["--no-build-isolation", "--wheel-dir", "wheels", "."]
    subprocess.run(build, cwd=folder, check=True, capture_output=True)
    (built,) = (folder / "wheels").glob("*.whl")
    return zipfile.ZipFile(built)


def test_every_file_of_the_package_is_in_the_wheel(wheel: zipfile.ZipFile) -> None:
    """Demos, tables, templates, lexica: whatever lies in the package is installed with it."""
    there = {
        str(path.relative_to(ROOT / "src"))
        for path in (ROOT / "src" / "lastscrew").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert there - set(wheel.namelist()) == set()


def test_the_licence_goes_with_it(wheel: zipfile.ZipFile) -> None:
    """LICENSE and NOTICE are part of what is handed on."""
    names = [name.rpartition("/")[2] for name in wheel.namelist()]
    assert {"LICENSE", "NOTICE"} <= set(names)


def test_the_licence_is_the_whole_text() -> None:
    """Apache-2.0, from its title to its last section."""
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert "Version 2.0, January 2004" in text
    assert "9. Accepting Warranty or Additional Liability" in text
    assert "END OF TERMS AND CONDITIONS" in text
