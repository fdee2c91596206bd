"""The head of a session file: its size, its checksums, and what is refused, by the bytes themselves."""

import json
import zlib

import pytest

from acquire.errors import ArchiveError
from acquire.storage.seal import block_for, check_all, is_sealed, read_index, seal_file

INDEX = b'{"context":{},"trials":[]}'
BODY = bytes(range(256)) * 5


@pytest.fixture
def sealed(tmp_path):
    path = tmp_path / "a.h5"
    path.write_bytes(bytes(block_for(INDEX)) + BODY)
    seal_file(path, INDEX)
    return path


def change(path, **fields):
    """Rewrite the second line with other fields, and with checksums that fit the index."""
    first, second, rest = path.read_bytes().split(b"\n", 2)
    seal = json.loads(second) | fields
    path.write_bytes(b"\n".join((first, json.dumps(seal, separators=(",", ":")).encode(), rest)))


def test_head_is_three_lines_and_the_body_follows_the_block(sealed):
    content = sealed.read_bytes()
    first, second, index = content.split(b"\n")[:3]
    assert (first, index) == (b"ramphold-session 1", INDEX)
    assert json.loads(second) == {
        "block": 512,
        "index_bytes": len(INDEX),
        "index_crc32": zlib.crc32(INDEX),
        "body_bytes": len(BODY),
        "body_crc32": zlib.crc32(BODY),
    }
    assert content[512:] == BODY
    assert read_index(sealed) == check_all(sealed) == INDEX


@pytest.mark.parametrize(
    ("length", "block"), [(0, 512), (256, 512), (257, 1024), (768, 1024), (769, 2048), (1 << 20, 1 << 21)]
)
def test_block_is_the_next_power_of_two_with_256_bytes_to_spare(length, block):
    assert block_for(bytes(length)) == block


@pytest.mark.parametrize("place", [515, 512 + len(BODY) - 1])
def test_flipped_bit_of_the_body_is_seen_by_the_whole_check_only(sealed, place):
    content = bytearray(sealed.read_bytes())
    content[place] ^= 1
    sealed.write_bytes(content)
    assert read_index(sealed) == INDEX
    with pytest.raises(ArchiveError, match="is damaged or cut short"):
        check_all(sealed)


@pytest.mark.parametrize("wrong", [b"", BODY[:-1], BODY + b"\0"])
def test_body_of_another_length_is_damage(sealed, wrong):
    sealed.write_bytes(sealed.read_bytes()[:512] + wrong)
    with pytest.raises(ArchiveError, match="is damaged"):
        check_all(sealed)


@pytest.mark.parametrize(
    "fields",
    [
        {"index_crc32": 1},
        {"index_bytes": len(INDEX) - 1},
        {"index_bytes": -1},
        {"block": len(INDEX) - 1},
        {"block": (1 << 26) + 1},
        {"more": 1},
        {"block": "512"},
    ],
)
def test_wrong_head_is_damage(sealed, fields):
    change(sealed, **fields)
    with pytest.raises(ArchiveError, match="is damaged"):
        read_index(sealed)


@pytest.mark.parametrize("fields", [{"block": len(INDEX)}, {"block": 1 << 26}])
def test_head_at_the_ends_of_what_is_allowed_is_read(sealed, fields):
    change(sealed, **fields)
    assert read_index(sealed) == INDEX


def test_newer_file_names_both_versions(sealed):
    sealed.write_bytes(sealed.read_bytes().replace(b"session 1\n", b"session 2\n", 1))
    assert is_sealed(sealed)
    with pytest.raises(ArchiveError, match=r"session format 2, this program reads 1"):
        read_index(sealed)


@pytest.mark.parametrize("first", [b"ramphold-session\n", b"ramphold-session x\n", b"ramphold-session 1", b""])
def test_something_else_is_no_session_file(tmp_path, first):
    path = tmp_path / "a.h5"
    path.write_bytes(first)
    assert not is_sealed(path)
    with pytest.raises(ArchiveError, match="is not a session file"):
        read_index(path)


def test_file_that_is_not_there_is_told(tmp_path):
    assert not is_sealed(tmp_path / "none.h5")
    with pytest.raises(ArchiveError, match="there is no such file"):
        read_index(tmp_path / "none.h5")
    with pytest.raises(ArchiveError, match="cannot be read"):
        read_index(tmp_path)


def test_body_longer_than_a_piece_is_checked_to_its_end(tmp_path):
    path = tmp_path / "a.h5"
    path.write_bytes(bytes(512) + bytes((1 << 20) + 7))
    seal_file(path, INDEX)
    check_all(path)
    content = bytearray(path.read_bytes())
    content[-1] = 1
    path.write_bytes(content)
    with pytest.raises(ArchiveError, match="is damaged"):
        check_all(path)


def test_block_of_64_mib_is_the_largest_and_is_read(sealed):
    change(sealed, block=1 << 26)
    assert read_index(sealed) == INDEX
