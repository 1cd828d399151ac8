#!/bin/sh
# Write down the versions that are installed now: `sh app/constrain.sh`, after `bash .ci/run` was green.
here=$(CDPATH= cd -- "$(dirname -- "$0")/.." && pwd)
"$here/.venv/bin/python" -m pip freeze --exclude-editable --disable-pip-version-check \
    | grep -E '^[A-Za-z0-9._-]+==' > "$here/.ci/constraints.txt"
