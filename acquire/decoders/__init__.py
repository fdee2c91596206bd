"""Bytes from a sensor in, samples and damage out: no I/O, no clock."""

from acquire.decoders.events import Damage, Decoder, Event, Lines, Packet, Reason
from acquire.decoders.lines import LineDecoder, encode_line
from acquire.decoders.packets import PacketDecoder, checksum, encode_packet, frame_body, packet_body
from acquire.decoders.selection import decoder_for, frame_end

__all__ = [
    "Damage",
    "Decoder",
    "Event",
    "LineDecoder",
    "Lines",
    "Packet",
    "PacketDecoder",
    "Reason",
    "checksum",
    "decoder_for",
    "encode_line",
    "encode_packet",
    "frame_body",
    "frame_end",
    "packet_body",
]
