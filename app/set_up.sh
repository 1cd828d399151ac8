# Sourced by start.sh and test.sh: brings a bare machine to where Evenweave runs.
# Sets ROOT and PYTHON (the virtual environment's). $1 names the extras to install, if any.
set -eu
ROOT=$(CDPATH= cd -- "$(dirname -- "$0")/.." && pwd)
PYTHON="$ROOT/.venv/bin/python"
extras=${1:-}

debian() {  # install Debian packages, where this is Debian and we may
    command -v apt-get >/dev/null 2>&1 || return 1
    as=""
    [ "$(id -u)" = 0 ] || as="sudo"
    [ -z "$as" ] || command -v sudo >/dev/null 2>&1 || return 1
    $as apt-get update -qq
    DEBIAN_FRONTEND=noninteractive $as apt-get install -y -qq --no-install-recommends "$@" >/dev/null
}

usable_python() {
    for name in python3.13 python3.12 python3.11 python3; do
        if "$name" -c 'import sys, venv, ensurepip; sys.exit(not (3, 11) <= sys.version_info < (3, 14))' 2>/dev/null; then
            echo "$name"
            return 0
        fi
    done
    return 1
}

if [ ! -x "$PYTHON" ]; then
    usable_python >/dev/null || debian python3 python3-venv || true
    found=$(usable_python) || {
        echo "Evenweave needs Python 3.11, 3.12 or 3.13 with venv; install one and run this again." >&2
        exit 2
    }
    "$found" -m venv "$ROOT/.venv"
fi

wanted=$(cksum < "$ROOT/pyproject.toml")"$extras"
if [ "$(cat "$ROOT/.venv/installed" 2>/dev/null)" != "$wanted" ]; then
    echo "Installing what Evenweave needs (once, a few minutes) ..."
    "$PYTHON" -m pip install -q --disable-pip-version-check -e "$ROOT$extras"
    echo "$wanted" > "$ROOT/.venv/installed"
fi

# Qt's own libraries come with the package; these few are the system's.
if ! QT_QPA_PLATFORM=offscreen "$PYTHON" -c 'from PySide6.QtWidgets import QApplication; QApplication([])' 2>/dev/null; then
    debian libgl1 libegl1 libxkbcommon0 libdbus-1-3 libfontconfig1 libglib2.0-0 fonts-dejavu-core \
        libxcb-cursor0 libxkbcommon-x11-0 libxcb-icccm4 libxcb-keysyms1 libxcb-shape0 || {
        echo "Qt cannot start here: install libgl1 libegl1 libxkbcommon0 libdbus-1-3 libfontconfig1" >&2
        echo "libxcb-cursor0 (their names on Debian) and run this again." >&2
        exit 2
    }
fi

"$PYTHON" -m evenweave prepare
