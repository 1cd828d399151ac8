"""A trap of one version of Qt's Python binding: calls that return nothing lose references to None.

On Python 3.12 and later None is immortal and the count does not move at all.
"""

import sys

from PySide6.QtGui import QImage, QPainter
from pytestqt.qtbot import QtBot


def test_painting_loses_no_reference_to_none(qtbot: QtBot) -> None:
    image = QImage(8, 8, QImage.Format.Format_RGBA8888)
    painter = QPainter(image)
    before = sys.getrefcount(None)
    for _ in range(5000):
        painter.save()
        painter.translate(0.0, 0.0)
        painter.restore()
    lost = before - sys.getrefcount(None)
    painter.end()
    assert lost < 1000
