"""How a language writes numbers and days, and which plural form a count takes: what Babel knows of it.

Babel carries the Unicode Common Locale Data Repository (CLDR), so that a new language needs no rule of ours. It is
imported at the first question that needs it: a start in English asks none.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

PLAIN = "en"
"""The language whose decimal sign is that of Python."""


@cache
def decimal_sign(language: str) -> str:
    """Return what stands between whole and part.

    Examples
    --------
    >>> decimal_sign("en"), decimal_sign("de")
    ('.', ',')
    """
    if language == PLAIN:
        return "."
    from babel.numbers import get_decimal_symbol  # noqa: PLC0415 (0.1 s, and a start in English needs none)

    return str(get_decimal_symbol(language))


def localised(number: str, language: str) -> str:
    """Return a number that Python wrote, with the decimal sign of a language.

    Examples
    --------
    >>> localised("3.50", "de"), localised("3.50", "en")
    ('3,50', '3.50')
    """
    return number.replace(".", decimal_sign(language))


def plural_form(language: str, count: float) -> str:
    """Return the CLDR plural category of a count: zero, one, two, few, many or other.

    Examples
    --------
    >>> plural_form("en", 1), plural_form("en", 0), plural_form("de", 2)
    ('one', 'other', 'other')
    """
    return str(_plural_rule(language)(count))


@cache
def _plural_rule(language: str):  # type: ignore[no-untyped-def] # noqa: ANN202 (babel.plural.PluralRule, imported late)
    from babel.core import Locale  # noqa: PLC0415 (as above)

    return Locale.parse(language).plural_form


def written_day(day: dt.date, pattern: str, language: str) -> str:
    """Return a day by a CLDR date pattern.

    Examples
    --------
    >>> import datetime as dt
    >>> written_day(dt.date(2026, 3, 12), "dd.MM.yyyy", "de")
    '12.03.2026'
    """
    from babel.dates import format_date  # noqa: PLC0415 (as above)

    return str(format_date(day, pattern, locale=language))
