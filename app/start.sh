#!/bin/sh
# Set everything up and open a mesh: `sh app/start.sh [FILE]`. Without a file: the harbour lantern.
here=$(dirname -- "$0")
set -- "${1:-$here/../sample_assets/lantern_first_pass.obj}"
file=$1
set --
. "$here/set_up.sh"
exec "$PYTHON" -m evenweave "$file"
