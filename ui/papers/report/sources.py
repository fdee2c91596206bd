"""The numbered list of sources: each is written once, at the end, and named by its number elsewhere."""

from __future__ import annotations


class Sources:
    """Numbers for sources, in the order in which they are first named.

    Examples
    --------
    >>> sources = Sources()
    >>> sources.cite("Jaric 2002"), sources.cite("Weir 2005"), sources.cite("Jaric 2002")
    ('[1]', '[2]', '[1]')
    >>> sources.listed()
    ('[1] Jaric 2002', '[2] Weir 2005')
    """

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def cite(self, source: str) -> str:
        """Return the number of a source, in brackets."""
        return f"[{self._numbers.setdefault(source, len(self._numbers) + 1)}]"

    def listed(self) -> tuple[str, ...]:
        """Return all sources by their numbers."""
        return tuple(f"[{number}] {source}" for source, number in self._numbers.items())
