"""Qt in the language of the window: its own dialogs and buttons, and the decimal sign of its fields."""

from __future__ import annotations

from PyQt6.QtCore import QCoreApplication, QLibraryInfo, QLocale, QTranslator

_WORN: list[QTranslator] = []
"""The translator of the one application a process has."""


def speak(language: str) -> None:
    """Let Qt speak a language; may be called again with another one."""
    locale = QLocale(language)
    QLocale.setDefault(locale)
    for old in _WORN:
        QCoreApplication.removeTranslator(old)
    _WORN.clear()
    translator = QTranslator()
    if translator.load(locale, "qtbase", "_", QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath)):
        QCoreApplication.installTranslator(translator)
        _WORN.append(translator)
