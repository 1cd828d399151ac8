"""Pictures as Qt's images."""

from __future__ import annotations

import numpy as np
from PySide6.QtGui import QImage

from evenweave.arrays import ByteArray


def image_of(rgba: ByteArray) -> QImage:
    """Return a picture as Qt's image, with its own memory."""
    rgba = np.ascontiguousarray(rgba)
    height, width = rgba.shape[:2]
    kinds = {3: QImage.Format.Format_RGB888, 4: QImage.Format.Format_RGBA8888}
    channels = rgba.shape[2]
    return QImage(rgba.data, width, height, channels * width, kinds[channels]).copy()
