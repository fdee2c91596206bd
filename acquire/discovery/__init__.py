"""A profile for a sensor that nobody has described: bytes with their arrivals in, a proposal with its evidence out."""

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
