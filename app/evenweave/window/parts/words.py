"""Words for the choices that data names by a short key."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication


def colours_word(colours: str) -> str:
    """Return the name of what the colours show."""
    tr = QCoreApplication.translate
    return {
        "density": tr("Colours", "Texel density"),
        "stretch": tr("Colours", "Stretch"),
        "angle": tr("Colours", "Angle distortion"),
        "area": tr("Colours", "Area distortion"),
        "overlap": tr("Colours", "Overlap"),
        "padding": tr("Colours", "Padding"),
        "islands": tr("Colours", "Islands"),
        "plain": tr("Colours", "Plain"),
    }[colours]


def purpose_word(purpose: str) -> str:
    """Return what a layout is for."""
    tr = QCoreApplication.translate
    return {
        "unique": tr("Purpose", "Painted once"),
        "tiling": tr("Purpose", "Repeats or shared"),
    }[purpose]


def material_word(name: str) -> str:
    """Return a material's name, or words for the faces that have none."""
    return name or QCoreApplication.translate("Material", "no material")


def tile_word(width: int, height: int) -> str:
    """Return a tile's size as one reads it."""
    return f"{width}" if width == height else f"{width} × {height}"
