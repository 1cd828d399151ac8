#!/bin/sh
# Set everything up and run the tests: `sh app/test.sh [pytest arguments]`.
arguments=$*
set -- "[test,lint]"
. "$(dirname -- "$0")/set_up.sh"
cd "$ROOT"
export QT_QPA_PLATFORM=offscreen
# shellcheck disable=SC2086
exec "$PYTHON" -m pytest -n 2 $arguments
