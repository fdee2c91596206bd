"""A text as a cell of a CSV file: no spreadsheet takes it for a formula."""

from __future__ import annotations

from acquire.values.outside_text import visible

FORMULA = ("=", "+", "-", "@")
"""What begins a formula, as a tab and a line end do, which `visible` makes codes of (OWASP, CSV Injection)."""


def csv_text(text: str) -> str:
    r"""Return a text that is shown as it is: control characters as codes, an apostrophe before what begins a formula.

    Numbers stay numbers, whatever their sign.

    Examples
    --------
    >>> csv_text("=HYPERLINK(1)"), csv_text("P-014"), csv_text("-12.5"), csv_text("\t=1")
    ("'=HYPERLINK(1)", 'P-014', '-12.5', '\\t=1')
    """
    shown = visible(text)
    return f"'{shown}" if shown.startswith(FORMULA) and not _is_number(shown) else shown


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
