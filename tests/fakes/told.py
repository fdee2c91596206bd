"""What a stepped session has told and stored, and a session carried so far that a trial may begin."""

from acquire.storage.session_file import read_session
from ui.session.cues import Cue
from ui.session.engine import Engine
from ui.session.events import Trouble


def troubles(stepped, of):
    return [h.error for h in stepped.happened if isinstance(h, Trouble) and h.of is of]


def verdicts(engine):
    return [result.verdict for result in engine.item.results]


def aside(stepped):
    return [trial.set_aside[-1].reason if trial.is_aside else None for trial in stepped.stored]


def gone_on_with(stepped):
    """Another engine for the same battery, from what is in the file."""
    stepped.session.close()
    engine = Engine([item.context for item in stepped.engine.items], stepped.protocol)
    engine.resume(read_session(stepped.path).trials)
    return engine


def begin(stepped):
    stepped.session.press()
    stepped.until(lambda: stepped.cue is Cue.GO)
