"""Session files changed and sealed again: by a program with a mistake, or by somebody who means harm."""

import json
from contextlib import contextmanager

import h5py

from acquire.storage import seal


@contextmanager
def changed(path):
    """Change what the samples lie in, and seal the file again, as a program with a mistake might."""
    index = seal.read_index(path)
    with h5py.File(path, "r+") as file:
        yield file
    seal.seal_file(path, index)


def reindexed(path, change):
    """Change the index, and seal the file again."""
    index = json.loads(seal.read_index(path))
    change(index)
    resealed(path, json.dumps(index).encode())


def resealed(path, index):
    """Put another index before the body, and seal the file again."""
    with h5py.File(path) as file:
        body = path.read_bytes()[file.userblock_size :]
    path.write_bytes(bytes(seal.block_for(index)) + body)
    seal.seal_file(path, index)
