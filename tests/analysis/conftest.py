"""The one real ramp-and-hold that a package registry holds, fetched by name and checked by hash."""

import hashlib
import io
import subprocess
import sys
import zipfile

import numpy as np
import pytest
from scipy.io import loadmat

WHEEL = "openhdemg==0.1.2"
SHA256 = "dca7ab05ede5484da748b4c6d1c4f77ec9b4b042c44df7fe55e325eb880bbc89"
RECORD = "openhdemg/library/decomposed_test_files/otb_testfile.mat"
FORCE_COLUMN = 74
RATE_HZ = 2048.0


@pytest.fixture(scope="session")
def measured_force(tmp_path_factory):
    """A measured isometric ramp-and-hold: % of maximum, 2048 Hz, 32.5 s (openhdemg 0.1.2, GPL-3.0, test file)."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--dest", str(folder), WHEEL]
    subprocess.run(command, check=True, timeout=100)
    (wheel,) = folder.glob("*.whl")
    content = wheel.read_bytes()
    assert hashlib.sha256(content).hexdigest() == SHA256
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        record = loadmat(io.BytesIO(archive.read(RECORD)))
    return np.ascontiguousarray(record["Data"][0, 0][:, FORCE_COLUMN], dtype=np.float64)
