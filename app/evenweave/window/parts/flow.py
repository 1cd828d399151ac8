"""A layout that sets widgets side by side and begins a new line where the room ends."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget

from evenweave.window.parts.palette import GRID


class FlowLayout(QLayout):
    """Left to right, then down; every item keeps its preferred size."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self.setContentsMargins(GRID, GRID // 2, GRID, GRID // 2)
        self.setSpacing(GRID)

    def _place(self, width: int, *, at: QPoint | None = None) -> int:
        """Return the height at this width; move the items if `at` is given."""
        margins = self.contentsMargins()
        room = width - margins.left() - margins.right()
        x, y, line_height = 0, 0, 0
        line: list[tuple[QLayoutItem, int, QSize]] = []
        for item in [one for one in self._items if not one.isEmpty()]:
            size = item.sizeHint().boundedTo(QSize(max(room, 1), 1 << 14))
            if line and x + size.width() > room:
                self._set_line(line, y, line_height, at)
                x, y, line_height, line = 0, y + line_height + self.spacing() // 2, 0, []
            line.append((item, x, size))
            x += size.width() + self.spacing()
            line_height = max(line_height, size.height())
        self._set_line(line, y, line_height, at)
        return y + line_height + margins.top() + margins.bottom()

    def _set_line(
        self, line: list[tuple[QLayoutItem, int, QSize]], y: int, height: int, at: QPoint | None
    ) -> None:
        if at is None:
            return
        margins = self.contentsMargins()
        for item, x, size in line:
            corner = at + QPoint(margins.left() + x, margins.top() + y)
            corner.setY(corner.y() + (height - size.height()) // 2)
            item.setGeometry(QRect(corner, size))

    def addItem(self, item: QLayoutItem) -> None:
        self._items.append(item)

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._place(width)

    def setGeometry(self, rect: QRect) -> None:
        super().setGeometry(rect)
        self._place(rect.width(), at=rect.topLeft())

    def sizeHint(self) -> QSize:
        return self.minimumSize()

    def minimumSize(self) -> QSize:
        widest = max((item.minimumSize().width() for item in self._items), default=0)
        margins = self.contentsMargins()
        return QSize(widest + margins.left() + margins.right(), self._place(1 << 14))
