"""What a serial receiver makes of bytes that were sent at another baud rate than its own: a line of levels, sampled.

The sender: idle high, a start bit low, eight data bits from the lowest, a stop bit high (8N1). The receiver waits for
the line to fall, and takes its bits in their middles from there, as a UART does; a missing stop bit is passed on as
the byte it is, which is what Linux does when it was not asked to check.
"""

from bisect import bisect_right


def received(data, *, sent_baud, read_baud):
    """The bytes that arrive of some that were sent in one go."""
    if sent_baud == read_baud:
        return data
    edges, levels = _line(data, 1.0 / sent_baud)
    bit = 1.0 / read_baud
    out, now = bytearray(), 0.0

    def level(at):
        return levels[bisect_right(edges, at) - 1]

    while (start := _falls_after(edges, levels, now)) is not None:
        if level(start + 0.5 * bit):  # a spike, no start bit
            now = start + 0.5 * bit
            continue
        out.append(sum(level(start + (1.5 + n) * bit) << n for n in range(8)))
        now = start + 9.5 * bit
    return bytes(out)


def _line(data, bit):
    """Where the level of the line may change, s, and what it is from there."""
    edges, levels = [-1.0], [1]
    for index, byte in enumerate(data):
        bits = [0, *(byte >> n & 1 for n in range(8)), 1]
        edges += [(10 * index + n) * bit for n in range(10)]
        levels += bits
    return edges, levels


def _falls_after(edges, levels, now):
    for at in range(max(bisect_right(edges, now), 1), len(edges)):
        if levels[at - 1] and not levels[at]:
            return edges[at]
    return None
