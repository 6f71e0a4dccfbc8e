"""Jobs in the window's own thread: reports arrive as a queued signal."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, Signal

from vinemap.service.jobs import Jobs, Report


class Bridge(QObject):
    """Owns the jobs of a window; ``reported`` is emitted on the window's thread."""

    reported = Signal(object)
    _told = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.jobs = Jobs(self._told.emit)
        self._told.connect(self._on_told, Qt.ConnectionType.QueuedConnection)

    def _on_told(self, report: Report) -> None:
        if self.jobs.is_current(report.key, report.number):
            self.reported.emit(report)

    def close(self) -> None:
        """Stop all jobs and wait."""
        self.jobs.close()
