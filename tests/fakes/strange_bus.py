"""A socket in the place of the system bus that answers, but not as a bus does."""

import contextlib
import socket
import threading

GARBAGE = b"\xff\xfe\x00garbage\r\n"
AGREES = b"OK 1234deadbeef\r\n"
"""Agrees to everything, and then sends what is no message."""


class StrangeBus:
    """Answers each line with the same bytes; after it has agreed, with what is no message."""

    def __init__(self, path, answer):
        self.address = f"unix:path={path}"
        self._answer = answer
        self._socket = socket.socket(socket.AF_UNIX)
        self._socket.bind(str(path))
        self._socket.listen(5)
        self._talks = []
        threading.Thread(target=self._listen, daemon=True).start()

    def close(self):
        self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        for talk in self._talks:
            talk.close()

    def _listen(self):
        while True:
            try:
                talk, _ = self._socket.accept()
            except OSError:
                return
            self._talks.append(talk)
            threading.Thread(target=self._talk, args=(talk,), daemon=True).start()

    def _talk(self, talk):
        with contextlib.suppress(OSError), talk.makefile("rb") as lines:
            for line in lines:
                talk.send(self._said(line.strip(b"\0")))

    def _said(self, line):
        agreed = {b"AUTH": AGREES, b"NEGO": b"AGREE_UNIX_FD\r\n", b"BEGI": b"X" + 27 * b"junk"}
        return self._answer if self._answer != AGREES else agreed.get(line[:4], b"")
