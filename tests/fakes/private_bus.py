"""A system bus of the test's own: a `dbus-daemon` that any process can be told of by `VARIABLE`."""

import subprocess
from pathlib import Path

VARIABLE = "DBUS_SYSTEM_BUS_ADDRESS"
CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig><type>system</type><listen>unix:path={socket}</listen><auth>{auth}</auth>
<policy context="default"><allow user="*"/><allow own="*"/><allow send_type="method_call"/>
<allow send_type="signal"/><allow send_type="method_return"/><allow send_type="error"/>
<allow receive_type="method_call"/><allow receive_type="signal"/><allow receive_type="method_return"/>
<allow receive_type="error"/></policy></busconfig>"""


class PrivateBus:
    """A `dbus-daemon` in a folder.

    Parameters
    ----------
    folder : str or Path
        For its socket and its settings.
    auth : str
        How a program must say who it is.

    Attributes
    ----------
    address : str
        What `VARIABLE` must be for a program to use this bus as its system bus.
    """

    def __init__(self, folder, auth="EXTERNAL"):
        socket = Path(folder) / "bus"
        self.address = f"unix:path={socket}"
        config = Path(folder) / "bus.conf"
        config.write_text(CONFIG.format(socket=socket, auth=auth))
        self._daemon = subprocess.Popen(
            ["dbus-daemon", f"--config-file={config}", "--nofork", "--print-address"],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # it says that it may not raise a limit
        )
        assert self._daemon.stdout.readline().strip(), "the private bus did not start"

    def close(self):
        """End the bus, as when the system goes down."""
        self._daemon.kill()
        self._daemon.wait()
        self._daemon.stdout.close()
