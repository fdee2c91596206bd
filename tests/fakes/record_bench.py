"""A sensor on a port, and the session that is recorded from it."""

from acquire.sensor.profile import load_profile
from acquire.storage.session_file import read_session

SENSOR = "packets-1k"


class Bench:
    """A sensor on a port, and the session that is recorded from it."""

    def __init__(self, device, force, folder):
        self._device = device
        self._force = force
        self.port = folder / "ttySIM0"
        self.out = folder / "session.h5"
        self.journal = folder / "session.h5.journal"

    def plug(self, *codes, sensor=SENSOR, options=(), **more):
        """Plug in a sensor on which these efforts will be made; it begins when the port is opened."""
        force = self._force(*codes, rate_hz=load_profile(sensor).rate_hz)
        return self._device(sensor, force, *options, link=self.port, **more)

    def record(self, *more, sensor=SENSOR):
        """Return the command that records from it."""
        return ("record", "--sensor", sensor, "--port", self.port, "--out", self.out, *more)

    def stored(self):
        """Return the trials of a session that was closed in good order."""
        assert not self.journal.exists()
        assert [path.name for path in self.out.parent.iterdir() if path.name.endswith(".part")] == []
        return read_session(self.out).trials


def verdicts(trials):
    return [trial.verdict["verdict"] for trial in trials]
