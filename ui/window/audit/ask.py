"""What Audit asks: under which name to write."""

from __future__ import annotations

from pathlib import Path

from PyQt6.QtWidgets import QFileDialog, QWidget


def pick_target(parent: QWidget, title: str, start: Path, kinds: str) -> Path | None:
    """Return the file that the user wants written, None for none; the dialog asks before one is replaced."""
    name, _ = QFileDialog.getSaveFileName(parent, title, str(start), kinds)
    return Path(name) if name else None
