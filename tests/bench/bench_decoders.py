# a script: its table is what it is for
"""The live decoders against the barest loops that get the same numbers.

Run as ``python tests/bench/bench_decoders.py``. The goal is 1.5 at most (design, section 12).

The bare loops believe everything: no bounded buffer, no range, no odd line, no event; the packets' one checks
the checksum and nothing else. They run inline, without so much as a function call for a chunk.
"""

from __future__ import annotations

import random
import struct
from binascii import crc_hqx
from collections.abc import Callable
from functools import partial

from cobs import cobs
from ratios import ratio, seconds

from acquire.decoders import Decoder, LineDecoder, PacketDecoder, encode_line, encode_packet

SAMPLES = 32_768
CHUNKS = (1, 16, 512)
GOAL = 1.5


def cut(frames: list[bytes], samples: int) -> list[bytes]:
    """Return a stream in chunks of so many samples; less than a frame is an equal part of its bytes."""
    size = SAMPLES // len(frames)
    if samples >= size:
        step = samples // size
        return [b"".join(frames[at : at + step]) for at in range(0, len(frames), step)]
    parts = size // samples
    return [
        frame[len(frame) * part // parts : len(frame) * (part + 1) // parts]
        for frame in frames
        for part in range(parts)
    ]


def bare_lines(chunks: list[bytes]) -> tuple[list[float], list[int]]:
    """Return seconds and counts of ``ms,counts`` lines."""
    rest = b""
    ticks, counts = [], []
    for chunk in chunks:
        *lines, rest = (rest + chunk).split(b"\n")
        for line in lines:
            tick, count = line.split(b",")
            ticks.append(int(tick) / 1000)
            counts.append(int(count))
    return ticks, counts


def bare_packets(chunks: list[bytes]) -> list[tuple[int, int, tuple[int, ...]]]:
    """Return sequence, tick and counts of 24-bit packets."""
    rest = b""
    packets = []
    header, word_and_top = struct.Struct("<HI"), struct.Struct("<Hb")
    for chunk in chunks:
        *frames, rest = (rest + chunk).split(b"\0")
        for frame in frames:
            body = cobs.decode(frame)
            if crc_hqx(body[:-2], 0xFFFF) == body[-2] | body[-1] << 8:
                sequence, tick = header.unpack_from(body, 2)
                counts = tuple([low | top << 16 for low, top in word_and_top.iter_unpack(body[8:-2])])
                packets.append((sequence, tick, counts))
    return packets


def decode_afresh(make: Callable[[], Decoder], chunks: list[bytes]) -> None:
    decoder = make()
    for chunk in chunks:
        decoder.feed(chunk)


def text_decoder() -> LineDecoder:
    return LineDecoder(["ms", "counts"])


def made_lines(counts: list[int]) -> list[bytes]:
    return [encode_line([3 * at, count]) for at, count in enumerate(counts)]


def made_packets(counts: list[int], size: int) -> list[bytes]:
    return [
        encode_packet(at // size % 65536, 1000 * at, counts[at : at + size], count_bits=24)
        for at in range(0, len(counts), size)
    ]


def check_same(lines: list[bytes], packets: list[bytes]) -> None:
    """Stop unless both loops get the same numbers."""
    ticks, counts = bare_lines(lines)
    (run,) = text_decoder().feed(b"".join(lines))
    assert (run.tick_s, run.counts) == (ticks, counts)
    assert PacketDecoder().feed(b"".join(packets)) == bare_packets(packets)


def report(name: str, frames: list[bytes], bare: Callable, make: Callable) -> None:
    for samples in CHUNKS:
        chunks = cut(frames, samples)
        reference, candidate = partial(bare, chunks), partial(decode_afresh, make, chunks)
        times = ratio(candidate, reference)
        each = min(seconds(candidate) for _ in range(5)) / SAMPLES
        met = "" if times <= GOAL else f"  over {GOAL}"
        print(f"{name:<28}{samples:>8}{each * 1e6:>12.2f}{times:>8.2f}{met}")


def main() -> None:
    random.seed(1)
    counts = [random.randint(-4_000_000, 4_000_000) for _ in range(SAMPLES)]
    lines, single, sixteen = made_lines(counts), made_packets(counts, 1), made_packets(counts, 16)
    check_same(lines, sixteen)
    print(f"{'':<28}{'samples':>8}{'us':>12}{'times':>8}")
    print(f"{'stream':<28}{'a chunk':>8}{'a sample':>12}{'bare':>8}")
    report("text lines, ms,counts", lines, bare_lines, text_decoder)
    report("packets of 1 sample", single, bare_packets, PacketDecoder)
    report("packets of 16 samples", sixteen, bare_packets, PacketDecoder)


if __name__ == "__main__":
    main()
