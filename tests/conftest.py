"""Shared by all tests: a headless Qt and a strict floating point."""

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
