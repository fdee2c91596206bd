"""Processes that do batches: all results come, also where a process is killed."""

import os
from pathlib import Path

import pytest
from deadly import Work

from ui.model.audit.workers import Processes

FILES = [f"{number:02d}" for number in range(14)]
BATCHES = [tuple(FILES[start : start + 3]) for start in range(0, 14, 3)]


@pytest.mark.parametrize("deadly", [(), ("00",), ("06", "13")])
def test_every_file_comes_back_once_and_a_deadly_one_is_told(deadly):
    found = [name for results in Processes(2)(Work(deadly), BATCHES) for name in results]
    assert sorted(found) == sorted(f"killed {file}".encode() if file in deadly else file.encode() for file in FILES)


def test_no_process_is_left_behind():
    list(Processes(2)(Work(("05",)), BATCHES))
    children = Path(f"/proc/self/task/{os.getpid()}/children").read_text(encoding="ascii").split()
    names = [Path(f"/proc/{child}/cmdline").read_bytes() for child in children]
    assert not [name for name in names if b"spawn_main" in name]
