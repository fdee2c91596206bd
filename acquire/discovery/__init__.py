"""A profile for a sensor that nobody has described.

In come bytes with their arrivals, and what a person was asked to do when (`Capture`); out comes a `Proposal`: a
profile, and for each key a confidence and a reason. Nothing is opened here.

::

    framing      packets (three good checksums are proof) or lines; else refusal: what the bytes look like
    table        each separator that fits makes a table; a number is what the decoder takes for one
    counters     line numbers by their steps, clocks by their slope over the arrivals; damaged numbers are left out
    push         in each other column: quiet level, noise, and the stretch that leaves it; the clearest one is force
    rate         the device's clock by its steps, else the skew line of the arrivals: bursts do not matter
    scale        given, weighed, by the unit beside it; else a guess, and the profile says `sensitivity = "unknown"`
    discover     all of it, and the profile is tried on its own bytes along the path of a recording
    listening    baud rates in turn on one open port, each judged by how much of it reads
    recognise    which of the known profiles fits a stream, without asking anybody

Every profile that comes with the program is found again in ``tests/acquire/discovery/test_shipped.py``, so a new one is
tried without a line of code. A way of writing lines that is met in the field goes into ``test_variations.py``, with
what should come of it. Wrong baud rates are tested with ``tests/fakes/uart.py``, a receiver that samples the sender's
line at its own rate. May import: every room of this floor.
"""

from acquire.discovery.capture import Asked, Capture, Task
from acquire.discovery.discover import Known, discover
from acquire.discovery.findings import Confidence, Finding, Proposal
from acquire.discovery.framing import Legibility, legibility

__all__ = [
    "Asked",
    "Capture",
    "Confidence",
    "Finding",
    "Known",
    "Legibility",
    "Proposal",
    "Task",
    "discover",
    "legibility",
]
