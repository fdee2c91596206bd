"""Bytes from a sensor in, samples and damage out: no I/O, no clock.

`feed(bytes)` returns what was complete; a corrupt frame is a value that says why, and decoding goes on at the next
boundary. Two framings: text lines (`lines`) and COBS packets with a checksum (`packets`); both are specified in
``hardware_notes/wire_formats.md``. `selection` picks the one a profile names. A new framing is a class with `feed` and
a line there. May import: sensor.
"""

from acquire.decoders.events import (
    PARTIAL_FIRST,
    Columns,
    Damage,
    Decoder,
    Event,
    Lines,
    Packet,
    Packets,
    Reason,
    packets_together,
)
from acquire.decoders.lines import LineDecoder, encode_line
from acquire.decoders.packets import PacketDecoder, checksum, encode_packet, frame_body, packet_body
from acquire.decoders.selection import decoder_for, frame_end

__all__ = [
    "PARTIAL_FIRST",
    "Columns",
    "Damage",
    "Decoder",
    "Event",
    "LineDecoder",
    "Lines",
    "Packet",
    "PacketDecoder",
    "Packets",
    "Reason",
    "checksum",
    "decoder_for",
    "encode_line",
    "encode_packet",
    "frame_body",
    "frame_end",
    "packet_body",
    "packets_together",
]
