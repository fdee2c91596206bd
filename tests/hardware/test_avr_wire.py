"""Frames made on the chip, with its own 16-bit integers, against the test vectors and the program's encoder."""

import select
import subprocess
import tty

import pytest
import serial
import wire_vectors

from acquire.decoders import encode_packet

pytestmark = pytest.mark.timeout(60)
FITTING = [vector for vector in wire_vectors.VECTORS["packet"] if vector["width"] == 3]


@pytest.fixture(scope="module")
def made(board, tmp_path_factory):
    """Have the chip make a frame."""
    trace = tmp_path_factory.mktemp("trace") / "trace.txt"
    trace.write_text("0 " * 10_000)
    command = [board.program, board.vectors, trace, "--speed", "50", "--trace-rate", "0.1"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        with serial.Serial(process.stdout.readline().strip(), 38_400, timeout=20.0) as port:
            tty.setraw(port.fileno())

            def make(command):
                port.write(command.encode() + b"\n")
                return bytes.fromhex(port.readline().decode())

            yield make
        process.stdin.close()
        assert select.select([process.stdout], [], [], 20.0)[0]
    assert process.returncode == 0


@pytest.mark.parametrize("vector", FITTING, ids=lambda vector: vector["name"])
def test_packet_is_that_of_the_specification(made, vector):
    counts = " ".join(map(str, vector["counts"]))
    assert made(f"p {vector['sequence']} {vector['tick']} {counts}").hex(" ") == vector["wire"]


@pytest.mark.parametrize("vector", wire_vectors.VECTORS["remark"], ids=lambda vector: vector["text"])
def test_remark_is_that_of_the_specification(made, vector):
    assert made(f"r {vector['text']}").hex(" ") == vector["wire"]


@pytest.mark.parametrize(
    "vector",
    [vector for vector in wire_vectors.VECTORS["line"] if vector["columns"] == ["us", "counts"]],
    ids=lambda vector: vector["name"],
)
def test_line_is_that_of_the_specification(made, vector):
    tick_us = round(vector["tick_s"] * 1e6)
    assert made(f"l {tick_us} {vector['counts']}").hex(" ") == vector["wire"]


@pytest.mark.parametrize("n", range(1, 9))
def test_packet_of_each_size_is_that_of_the_programs_encoder(made, n):
    # every byte of every field takes all kinds of values: none, some and only zeros to stuff
    for step in (0, 1, 255, 256, 65_536, 1_118_481):
        counts = [(step * (i + 1) + 2**23) % 2**24 - 2**23 for i in range(n)]
        sequence, tick = step % 65_536, step * 3_000 % 2**32
        wire = encode_packet(sequence, tick, counts, count_bits=24)
        assert made(f"p {sequence} {tick} {' '.join(map(str, counts))}") == wire
