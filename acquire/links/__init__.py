"""Where bytes come from: a serial port, a recording, or a simulated sensor; and any of them over a bad link."""

from acquire.links.base import Chunk, Link
from acquire.links.disturbed import DisturbedLink
from acquire.links.ports import PortInfo, serial_ports
from acquire.links.replay import ReplayLink
from acquire.links.serial import SerialLink
from acquire.links.simulated import SimulatedLink

__all__ = ["Chunk", "DisturbedLink", "Link", "PortInfo", "ReplayLink", "SerialLink", "SimulatedLink", "serial_ports"]
