#!/bin/sh
# Get ready to run: a virtual environment with the locked packages, and Debian's libraries for PDF.
#
#   tools/setup.sh run      what a user needs
#   tools/setup.sh dev      that, and what tests and checks need
#   tools/setup.sh oldest   a second environment with the oldest releases that are allowed
#
# Does nothing when nothing has changed since the last time. As root it installs missing Debian
# packages; as an ordinary user it says which ones are missing and stops.
set -eu
cd "$(dirname "$0")/.."
kind=${1:-dev}

say() { printf '%s\n' "$*"; }
stop() { printf '%s\n' "$@" >&2; exit 1; }

# --- Python 3.11 or newer ---------------------------------------------------------------------------
suits() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; }

find_python() {
    for candidate in ${PYTHON:-} python3 python3.13 python3.12 python3.11; do
        if command -v "$candidate" >/dev/null && suits "$candidate"; then
            command -v "$candidate"
            return
        fi
    done
    stop "No Python 3.11 or newer was found (python3 is $(python3 --version 2>&1 || true))." \
         "Install one, or name it: make PYTHON=/path/to/python3.12 …"
}

# --- Debian packages --------------------------------------------------------------------------------
missing=
need() { # need PACKAGE: remember that a Debian package is missing
    missing="$missing $1"
}

has_library() { "$python" -c 'import ctypes, sys; ctypes.CDLL(sys.argv[1])' "$1" 2>/dev/null; }

has_font() {
    for folder in /usr/share/fonts /usr/local/share/fonts "${HOME:-/}/.local/share/fonts" "${HOME:-/}/.fonts"; do
        [ -d "$folder" ] && [ -n "$(find -L "$folder" -name "$1" -print 2>/dev/null | head -n 1)" ] && return
    done
    return 1
}

look_for_debian_packages() {
    "$python" -c 'import ensurepip, venv' 2>/dev/null || {
        version=$("$python" -c 'import sys; print("python3.%d-venv" % sys.version_info[1])')
        need "$version"
    }
    has_library libpango-1.0.so.0 || need libpango-1.0-0
    has_library libpangoft2-1.0.so.0 || need libpangoft2-1.0-0
    has_library libharfbuzz-subset.so.0 || need libharfbuzz-subset0
    has_font DejaVuSans.ttf || need fonts-dejavu-core
    # Pages are tested in a real browser.
    [ "$kind" = run ] || command -v chromium >/dev/null || need chromium
}

install_debian_packages() {
    [ -n "$missing" ] || return 0
    if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then
        stop "These Debian packages are missing:$missing" \
             "Install them as root, then run this again:" \
             "    apt-get update && apt-get install --yes --no-install-recommends$missing" \
             "(On another system: Pango with its FreeType part, the HarfBuzz subset library, the DejaVu fonts; Chromium for the tests.)"
    fi
    say "Installing Debian packages:$missing"
    # shellcheck disable=SC2086  # a list of names
    DEBIAN_FRONTEND=noninteractive apt-get install --yes --quiet --no-install-recommends $missing </dev/null >/dev/null 2>&1 || {
        apt-get update --quiet </dev/null >/dev/null || stop "apt-get update failed; see above."
        # shellcheck disable=SC2086
        DEBIAN_FRONTEND=noninteractive apt-get install --yes --quiet --no-install-recommends $missing </dev/null ||
            stop "apt-get could not install:$missing"
    }
}

# --- the virtual environment ------------------------------------------------------------------------
case $kind in
    run) venv=.venv lock=requirements/run.txt ;;
    dev) venv=.venv lock=requirements/dev.txt ;;
    oldest) venv=.venv-oldest lock=requirements/oldest.txt ;;
    *) stop "Unknown kind of set-up: $kind (run, dev, oldest)" ;;
esac

python=$(find_python)
# What an environment was made from: where, by which Python, with which pins.
stamp_of() { { pwd; "$python" -VV; cat "$1"; sed '/^\[tool\./q' pyproject.toml; } | sha256sum | cut -d ' ' -f 1; }
is_ready() { [ -x "$venv/bin/python" ] && [ "$(cat "$venv/ready.$1" 2>/dev/null)" = "$(stamp_of "requirements/$1.txt")" ]; }

if is_ready "$kind"; then exit 0; fi
if [ "$kind" = run ] && is_ready dev; then exit 0; fi

look_for_debian_packages
install_debian_packages

say "Setting up $venv with $("$python" --version) (once; a minute or two) …"
# An environment that was moved or whose Python is gone is made anew.
if [ ! -x "$venv/bin/python" ] || [ "$(cat "$venv/place" 2>/dev/null || pwd)" != "$(pwd)" ] || ! suits "$venv/bin/python"; then
    "$python" -m venv --clear "$venv"
fi
rm -f "$venv"/ready.*
pwd > "$venv/place"
pip() { "$venv/bin/python" -m pip --disable-pip-version-check "$@"; }
pip install --quiet --quiet --require-hashes --requirement "$lock"
# The package itself: from this folder, with the build back end that was just installed.
pip install --quiet --quiet --no-deps --no-build-isolation --editable .
stamp_of "requirements/$kind.txt" > "$venv/ready.$kind"
