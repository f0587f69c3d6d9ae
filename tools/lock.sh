#!/bin/sh
# Pin what is installed: requirements/run.txt (a user), dev.txt (a developer, CI), oldest.txt (the
# oldest releases that pyproject.toml allows, to test against). Needs the network, changes nothing else.
#
#   tools/lock.sh             keep the present pins where they still fit
#   tools/lock.sh --upgrade   take the newest releases
set -eu
cd "$(dirname "$0")/.."

venv=.venv/lock
[ -x "$venv/bin/uv" ] || {
    python3 -m venv "$venv"
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check uv
}

# One lock for all supported Pythons and platforms; where the packages come from is the machine's affair.
lock() {
    "$venv/bin/uv" pip compile pyproject.toml --quiet --universal --python-version 3.11 \
        --generate-hashes --no-header --no-annotate --no-emit-index-url --no-emit-find-links "$@"
}

lock --group dev --output-file requirements/dev.txt "$@"
lock --group build --constraint requirements/dev.txt --output-file requirements/run.txt
lowest=$(mktemp)
trap 'rm -f "$lowest"' EXIT
sed -n 's/^  "\([a-z0-9.-]*\)\(\[[a-z]*\]\)\{0,1\}>=\([0-9.]*\),<[0-9.]*",$/\1==\3/p' pyproject.toml > "$lowest"
lock --group test --group build --constraint "$lowest" --output-file requirements/oldest.txt
