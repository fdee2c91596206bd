"""What the program remembers between starts: the last plan, lever arms, examiners' limits, and a session not finished.

All of it is a convenience, none of it is data: a file that cannot be read is set aside and said, and one that
cannot be written costs nothing but the convenience. People and examiners are codes here as everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import msgspec

from acquire.files.atomic import replace_file
from acquire.files.limits import KEPT_BYTES, read_whole
from acquire.values.records import Person
from ui.model.plan.edits import with_limit
from ui.model.plan.plan import LeverArms, PlanDraft
from ui.model.window_place import WindowPlace
from ui.session.crash import journal_path
from ui.words.phrase import Phrase
from ui.words.words import FALLBACK, languages

BROKEN_SUFFIX = ".broken"
"""A file that cannot be read is put aside under its name with this."""

STANDARD = "ramp-and-hold"
"""The protocol that comes with the program."""

PRIVATE = 0o600
"""Whom one has tested is nobody else's business on a shared computer."""


class Unfinished(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A session that was begun and not ended."""

    path: str
    draft: PlanDraft


class ExaminerLimit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What an examiner can hold."""

    newtons: float
    measured: bool = False
    """Measured with a sensor, not typed."""


class AuditChoice(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which archive is audited, and how."""

    folder: str = ""
    protocol: str = STANDARD
    """A name, or a path."""
    blind: bool = False


class Kept(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The content of the file."""

    version: int = 1
    draft: PlanDraft | None = None
    lever_arms: dict[str, LeverArms] = {}
    """By person."""
    examiner_limits: dict[str, ExaminerLimit] = {}
    """By examiner."""
    unfinished: Unfinished | None = None
    audit: AuditChoice = AuditChoice()
    window: WindowPlace | None = None
    """Size and place of the window when it was closed last."""


def state_file(environment: Mapping[str, str]) -> Path:
    """Return where things are kept between starts, by the XDG Base Directory Specification 0.8.

    Examples
    --------
    >>> state_file({"XDG_STATE_HOME": "/state"}).as_posix()
    '/state/ramphold/remembered.json'
    """
    given = environment.get("XDG_STATE_HOME", "")
    # the specification: a relative path is invalid and is to be ignored
    folder = Path(given) if given and Path(given).is_absolute() else Path.home() / ".local" / "state"
    return folder / "ramphold" / "remembered.json"


class Remembered:
    """What the program remembers between starts, in one file.

    Parameters
    ----------
    path : Path
        The file; it need not exist.

    Attributes
    ----------
    trouble : Phrase or None
        What went wrong with the file, to be shown; None when nothing did.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.trouble: Phrase | None = None
        self._kept = self._read()

    def fresh_draft(self) -> PlanDraft:
        """Return the last plan without what belongs to its person and its day: the next is somebody else's."""
        last = self._kept.draft or PlanDraft()
        return msgspec.structs.replace(
            last,
            person=Person(),
            lever_arms={},
            out="",
            resume=False,
            cautions_acknowledged=None,
            # a language that a newer program knew, or that was taken out
            language=last.language if last.language in languages() else FALLBACK,
        )

    def folder(self) -> Path:
        """Return where the last session file was written; a folder of its own in the home to begin with."""
        last = self._kept.draft
        return Path(last.out).parent if last and last.out else Path.home() / "ramphold"

    @property
    def protocols(self) -> tuple[str, ...]:
        """The user's own protocol files, as far as they are remembered: of the last plan and the last audit."""
        named = (self._kept.draft.protocol if self._kept.draft else "", self._kept.audit.protocol)
        return tuple(dict.fromkeys(each for each in named if each.endswith(".toml")))

    @property
    def unfinished(self) -> Unfinished | None:
        """The session that was begun and not ended, as long as there is a trace of it on the disk."""
        found = self._kept.unfinished
        if found is None:
            return None
        path = Path(found.path)
        return found if path.exists() or journal_path(path).exists() else None

    @property
    def audit(self) -> AuditChoice:
        """The archive that was audited last; no folder when none was."""
        return self._kept.audit

    @property
    def window(self) -> WindowPlace | None:
        """How the window was when it was closed last."""
        return self._kept.window

    def keep_window(self, place: WindowPlace) -> None:
        """Keep how the window is."""
        if place != self._kept.window:
            self._write(window=place)

    def audited(self, choice: AuditChoice) -> None:
        """Keep which archive is audited, and how."""
        self._write(audit=choice)

    def lever_arms(self, person: str) -> LeverArms:
        """Return the lever arms last used for a person."""
        return self._kept.lever_arms.get(person.strip(), {})

    def with_person(self, draft: PlanDraft, code: str) -> PlanDraft:
        """Return the plan for another code, with the lever arms of that person.

        Those of a person that is known go with that person; those typed for one that is not known yet stay,
        since correcting a code makes nobody else of them.
        """
        arms = self.lever_arms(code)
        if not arms and not self.lever_arms(draft.person.code):
            arms = draft.lever_arms
        person = msgspec.structs.replace(draft.person, code=code)
        return msgspec.structs.replace(draft, person=person, lever_arms=arms)

    def with_examiner(self, draft: PlanDraft, code: str) -> PlanDraft:
        """Return the plan for another examiner, with the limit of that examiner; as `with_person`."""
        limits = self._kept.examiner_limits
        limit = limits.get(code.strip())
        renamed = msgspec.structs.replace(draft, examiner=code)
        if limit is not None:
            return with_limit(renamed, limit.newtons, measured=limit.measured)
        return with_limit(renamed, None) if draft.examiner.strip() in limits else renamed

    def keep(self, draft: PlanDraft) -> None:
        """Keep a plan, and the lever arms and the limit in it."""
        arms = {**self._kept.lever_arms, draft.person.code.strip(): draft.lever_arms}
        limits = self._kept.examiner_limits
        if draft.examiner_limit_n is not None:
            limit = ExaminerLimit(newtons=draft.examiner_limit_n, measured=draft.limit_measured)
            limits = {**limits, draft.examiner.strip(): limit}
        known = {person: levers for person, levers in arms.items() if levers}
        self._write(draft=draft, lever_arms=known, examiner_limits=limits)

    def begun(self, draft: PlanDraft) -> None:
        """Note that the plan's session is being recorded."""
        self._write(unfinished=Unfinished(path=draft.out, draft=draft))

    def ended(self) -> None:
        """Note that no session is open: it was ended in good order, or nobody wants to go on with it."""
        self._write(unfinished=None)

    def _read(self) -> Kept:
        try:
            return msgspec.json.decode(read_whole(self.path, most=KEPT_BYTES), type=Kept)
        except FileNotFoundError:
            return Kept()
        except OSError as error:
            self.trouble = Phrase("plan.remembered.unreadable", {"file": self.path, "why": error.strerror or error})
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            self._set_aside(error)
        return Kept()

    def _set_aside(self, error: Exception) -> None:
        aside = self.path.with_name(self.path.name + BROKEN_SUFFIX)
        try:
            self.path.replace(aside)
        except OSError:
            aside = self.path
        self.trouble = Phrase("plan.remembered.broken", {"file": aside, "why": str(error)})

    def _write(self, **changed: object) -> None:
        self._kept = msgspec.structs.replace(self._kept, **changed)

        def write(aside: Path) -> None:
            aside.touch(PRIVATE)
            aside.write_bytes(msgspec.json.format(msgspec.json.encode(self._kept), indent=1))

        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            replace_file(self.path, write)
        except OSError as error:
            self.trouble = Phrase("plan.remembered.unwritten", {"file": self.path, "why": error.strerror or error})
