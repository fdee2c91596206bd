"""An archive as a table for `pandas`: one row a trial, each judged by one protocol.

=============================  =================================================================================
``file``, ``trial``            the session's path within the archive, and the trial's number in it, from 1
``session``, ``started``       the session's identifier; when the trial began, in UTC
``invented``                   whether it is demo data, of nobody
``person``, ``sex``, ...       what is known of the person: a code, years, kg, m
``examiner``, ``sensor``       who held the sensor, and the name of its profile
``action``, ``side``, ...      what the trial was; ``lever_arm_m`` in m, ``resting_force_n`` in N
``set_aside``                  whether it was set aside: such a trial is in the table and should not count
``accepted``                   the verdict
``faults``, ``warnings``       codes of the rules that it broke, separated by a space; only faults reject
every measure                  as `analysis.trial.measures` defines it; NaN where it is withheld. A measure with
                               bands has a column a band, as ``rfd_n_per_s.0-50`` (ms from the onset)
=============================  =================================================================================
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING, Any

from acquire.errors import AcquireError
from acquire.storage.session_file import read_session
from acquire.storage.walk import session_paths
from acquire.values.records import Session
from analysis.trial.faults import Severity
from analysis.trial.judged_trial import Exclusion, JudgedTrial, judge_session
from analysis.trial.measures import BANDED, NAMES, Measures, nothing_measured
from analysis.trial.protocol import Protocol, load_protocol
from analysis.trial.withheld import Reason, Why

if TYPE_CHECKING:
    import pandas as pd

PERSON = ("sex", "age_years", "mass_kg", "height_m", "dominant_side")
CONTEXT = ("action", "side", "method", "lever_arm_m", "resting_force_n", "examiner_limit_n")
WORDS = ("file", "session", "person", "sex", "dominant_side", "examiner", "sensor", "action", "side", "method")
NUMBERS = ("age_years", "mass_kg", "height_m", "lever_arm_m", "resting_force_n", "examiner_limit_n")


def read_archive(folder: str | Path, protocol: Protocol | None = None) -> pd.DataFrame:
    """Judge every trial of an archive and return them as a table, one row a trial.

    Parameters
    ----------
    folder : str or Path
        Session files, in folders of any depth.
    protocol : Protocol, optional
        What to judge by, whatever a trial was judged by when it was recorded; the program's own when left out.

    Returns
    -------
    pandas.DataFrame
        Shape (n_trials, n_columns), in the order of files and trials; the columns are described above. NaN is a
        measure that was withheld, or something that the session does not say. ``attrs["unreadable"]`` holds why each
        file that cannot be read is missing, by its path; ``attrs["protocol"]`` the hash of the protocol.

    Raises
    ------
    ImportError
        If `pandas` is not installed.
    ArchiveError
        If there is no such folder.

    Warns
    -----
    UserWarning
        If a file cannot be read.

    Examples
    --------
    >>> import tempfile
    >>> from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
    >>> plan = ArchivePlan(examiners=(Examiner(code="X-1"),), sessions_each=1, trials_each=4)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = write_archive(folder, plan)
    ...     table = read_archive(folder)
    >>> table["trial"].tolist(), table["file"].unique().tolist()
    ([1, 2, 3, 4], ['X-1/00000.h5'])
    """
    try:
        import pandas as pd  # noqa: PLC0415 - only those who want a table need it
    except ImportError as error:
        raise ImportError("a table of an archive needs pandas: pip install 'ramphold[notebook]'") from error
    root, limits = Path(folder), protocol or load_protocol()
    unreadable: dict[str, str] = {}
    rows = list(_rows(root, limits, unreadable))
    table = pd.DataFrame(rows, columns=_columns()).astype(_types())
    table.attrs.update(protocol=limits.hash, unreadable=unreadable)
    if unreadable:
        warnings.warn(
            f"{root}: {len(unreadable)} of the session files cannot be read and are not in the table: "
            "attrs['unreadable'] says why",
            stacklevel=2,
        )
    return table


def _rows(root: Path, protocol: Protocol, unreadable: dict[str, str]) -> Iterator[dict[str, Any]]:
    for path in session_paths(root):
        file = path.relative_to(root).as_posix()
        try:
            session = read_session(path)
        except AcquireError as error:
            unreadable[file] = str(error)
            continue
        for judged in judge_session(session, protocol):
            yield _row(file, session, judged)


def _row(file: str, session: Session, judged: JudgedTrial) -> dict[str, Any]:
    about, context, judgement = session.context, judged.trial.context, judged.judgement
    return {
        "file": file,
        "trial": judged.number,
        "session": about.session,
        "started": (context.started or about.started).astimezone(UTC),
        "invented": about.invented,
        "person": about.person.code or None,
        **{name: getattr(about.person, name) for name in PERSON},
        "examiner": context.examiner or about.examiner,
        "sensor": context.sensor or about.sensor or None,
        **{name: getattr(context, name) for name in CONTEXT},
        "set_aside": judged.excluded in {Exclusion.SET_ASIDE, Exclusion.CUT_OFF},
        "accepted": judgement.verdict == "accepted",
        "faults": " ".join(fault.code for fault in judged.faults if fault.severity is Severity.REJECT),
        "warnings": " ".join(fault.code for fault in judged.faults if fault.severity is Severity.WARN),
        **_flat(judgement.measures),
    }


def _flat(measures: Measures) -> dict[str, float | None]:
    """Return measures by name, those with bands as one name a band."""
    flat: dict[str, float | None] = {}
    for name in NAMES:
        value = getattr(measures, name)
        flat |= {f"{name}.{band}": each for band, each in value.items()} if name in BANDED else {name: value}
    return flat


def _measures() -> list[str]:
    return list(_flat(nothing_measured(Reason(Why.NO_EFFORT))[0]))


def _columns() -> list[str]:
    head = ["file", "trial", "session", "started", "invented", "person", *PERSON, "examiner", "sensor", *CONTEXT]
    return [*head, "set_aside", "accepted", "faults", "warnings", *_measures()]


def _types() -> dict[str, str]:
    """Return the type of each column, which an archive where nothing is known of a column has too."""
    flags = dict.fromkeys(("invented", "set_aside", "accepted"), "bool")
    words = dict.fromkeys((*WORDS, "faults", "warnings"), "str")
    numbers = dict.fromkeys((*NUMBERS, *_measures()), "float64")
    return {**flags, **words, **numbers, "trial": "int64", "started": "datetime64[us, UTC]"}
