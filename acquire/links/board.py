"""The emulated board as a link: the reference firmware on a simulated chip, with a real serial line to it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from acquire.links.device_program import DeviceProgramLink
from acquire.simulation.board import build_board

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from acquire.sensor.profile import Profile

NOISE_COUNTS = 39.0
"""White noise of the converter at 80 Hz, standard deviation: 90 nV (its data sheet) of 2.33 nV a count."""
RATE_ERROR = 0.02
"""How far the converter's own oscillator is off, as a part of its rate: common practice, no source."""


class BoardLink(DeviceProgramLink):
    """The emulated board as a `Link`; it is `finished` when the trace was played and handed over.

    Parameters
    ----------
    profile : Profile
        One of the firmware's: its baud rate and what starts it.
    counts : ndarray of int, shape (n,)
        What the cell feels, in counts of the converter.
    rate_hz : float
        Counts a second. The converter takes its own samples of them, at its own rate.
    speed : float
        Times real time.
    noise_counts, rate_error : float
        Of the converter.
    log : Path, optional
        A file for a line a conversion: the chip's cycle, the count, the second of the trace.
    options : sequence of str
        More options of the emulator, such as ``("--no-converter",)``.

    Raises
    ------
    LinkError
        NOT_FOUND or FAILED, if the board cannot be built (see `build_board`) or does not start; else as `SerialLink`.
    """

    def __init__(
        self,
        profile: Profile,
        counts: NDArray[np.integer],
        *,
        rate_hz: float,
        speed: float = 1.0,
        noise_counts: float = NOISE_COUNTS,
        rate_error: float = RATE_ERROR,
        log: Path | None = None,
        options: Sequence[str] = (),
    ) -> None:
        self._counts = counts
        self._board = build_board()
        given = {"trace-rate": rate_hz, "speed": speed, "noise": noise_counts, "rate-error": rate_error}
        self._options = [f"--{name}={value!r}" for name, value in given.items()] + [f"--baud={profile.baud}"]
        self._options += options if log is None else [f"--log={log}", *options]
        super().__init__(profile, speed=speed, called="the emulated board")

    def _command(self, folder: Path) -> Sequence[str]:
        trace = folder / "trace.txt"
        trace.write_text("\n".join(map(str, self._counts.tolist())), encoding="ascii")
        return [str(self._board.program), *self._options, str(self._board.firmware), str(trace)]
