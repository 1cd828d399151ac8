"""`python -m evenweave`."""

import sys

from evenweave.cli import main

sys.exit(main())
