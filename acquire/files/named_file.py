"""Settings and tables by name, as they come with the program, or by path, as a user writes them.

A file is read anew when its bytes have changed, so that an edited protocol is judged by at once, under its new hash; an
unchanged one is parsed once, because a plan asks for its actions at every keystroke.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from acquire.files.limits import TABLE_BYTES, read_whole

if TYPE_CHECKING:
    from collections.abc import Callable
    from importlib.resources.abc import Traversable

Value = TypeVar("Value")

_parsed: dict[tuple[Callable[..., Any], str], tuple[bytes, Any]] = {}
"""By reader and path: the bytes last seen, and what the reader made of them."""


def read_named(
    name: str,
    read: Callable[[Traversable], Value],
    *,
    folder: Traversable,
    kind: str,
    error: type[Exception],
    ending: str = ".toml",
) -> Value:
    """Return what `read` makes of a file that comes with the program, by name, or of a user's, by path.

    Parameters
    ----------
    name : str
        A name without its ending, or a path.
    read : callable
        Makes a value of a file, which nobody may change; a function of a module, for its value is found again by it.
    folder : Traversable
        The program's own files.
    kind : str
        What the file is, for the error.
    error : type
        Raised with one sentence when there is no such file.
    ending : str
        Of the program's own files.

    Raises
    ------
    error
        If neither is there; lists the names that are. What `read` raises is passed on.

    Examples
    --------
    >>> from importlib.resources import files
    >>> folder = files("acquire") / "data" / "disturbances"
    >>> text = read_named("noisy-cable", Path.read_text, folder=folder, kind="disturbance", error=ValueError)
    >>> "noisy-cable" in text
    True
    """
    path = named_or_path(name, folder=folder, kind=kind, error=error, ending=ending)
    key = (read, str(path))
    try:
        content = read_whole(path, most=TABLE_BYTES)
    except OSError:
        return read(path)  # which says what is wrong
    if key not in _parsed or _parsed[key][0] != content:
        _parsed[key] = (content, read(path))
    value: Value = _parsed[key][1]
    return value


def named_or_path(
    name: str, *, folder: Traversable, kind: str, error: type[Exception], ending: str = ".toml"
) -> Traversable:
    """Return the file `name` + `ending` of the program's `folder`, or the path when `name` looks like one.

    Raises
    ------
    error
        If neither is there; lists the names that are.

    Examples
    --------
    >>> from importlib.resources import files
    >>> protocols = files("acquire") / "data" / "disturbances"
    >>> named_or_path("noisy-cable", folder=protocols, kind="disturbance", error=ValueError).name
    'noisy-cable.toml'
    """
    shipped = folder / f"{name}{ending}"
    if "/" not in name and shipped.is_file():
        return shipped
    path = Path(name)
    if path.is_file():
        return path
    names = ", ".join(known_names(folder, ending=ending))
    raise error(f"there is no {kind} called {name} and no such file; the program comes with: {names}")


def known_names(folder: Traversable, *, ending: str = ".toml") -> tuple[str, ...]:
    """Return the names of the settings files in a folder of the program, in order.

    Examples
    --------
    >>> from importlib.resources import files
    >>> known_names(files("acquire") / "data" / "disturbances")
    ('bad-bluetooth', 'busy-computer', 'noisy-cable')
    """
    return tuple(sorted(file.name.removesuffix(ending) for file in folder.iterdir() if file.name.endswith(ending)))
