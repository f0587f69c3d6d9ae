"""``python -m lastscrew`` is ``lastscrew``."""

from lastscrew.cli.main import main

main(prog_name="lastscrew")
