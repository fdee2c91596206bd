"""Which decoder a sensor needs, and where its frames end."""

from __future__ import annotations

from acquire.decoders.events import Decoder
from acquire.decoders.lines import LineDecoder
from acquire.decoders.packets import PacketDecoder
from acquire.sensor.profile import Profile


def frame_end(profile: Profile) -> bytes:
    r"""Return the byte that ends each line or packet of a sensor.

    Examples
    --------
    >>> from acquire.sensor.profile import load_profile
    >>> frame_end(load_profile("bridge-80"))
    b'\n'
    """
    return b"\0" if profile.framing == "packets" else b"\n"


def decoder_for(profile: Profile) -> Decoder:
    r"""Return a fresh decoder for what a sensor sends.

    Parameters
    ----------
    profile : Profile
        The sensor's profile.

    Examples
    --------
    >>> from acquire.sensor.profile import load_profile
    >>> decoder_for(load_profile("bridge-80")).feed(b"123\n")
    [Lines(counts=[123], sequence=None, tick_s=None)]
    """
    if profile.framing == "packets":
        return PacketDecoder()
    return LineDecoder(
        profile.columns,
        separator=profile.separator,
        count_bits=profile.count_bits,
        sequence_bits=profile.sequence_bits,
    )
