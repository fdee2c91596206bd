"""Processes that do batches: all results come, also where a process is killed."""

import os
import subprocess
import sys
import time
from pathlib import Path

import deadly
import pytest
from deadly import Work

from ui.model.audit.workers import Processes

ROOT = Path(__file__).parents[4]
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


PROGRAM = "from deadly import Endless; from ui.model.audit.workers import Processes as P"


def test_killed_audit_leaves_no_worker(tmp_path):
    """Killed, a program tells nobody; each worker sees it by itself, and Python's own tracker sees the workers."""
    code = f"{PROGRAM}\nif __name__ == '__main__': list(P(2)(Endless({str(tmp_path)!r}), [('a',), ('b',)]))"
    script = tmp_path / "audit.py"
    script.write_text(code)
    fakes = str(Path(deadly.__file__).parent)
    environment = {**os.environ, "PYTHONPATH": fakes}
    program = subprocess.Popen([sys.executable, script], cwd=ROOT, env=environment, start_new_session=True)
    until(lambda: len(workers(tmp_path)) == 2)
    started = children(program.pid)
    assert len(started) == 3, "two workers and a tracker"
    program.kill()
    program.wait()
    until(lambda: not any(Path(f"/proc/{pid}").exists() for pid in started))


def workers(folder):
    return [path for path in folder.iterdir() if path.name.isdigit()]


def children(pid):
    return Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()


def until(condition):
    end = time.monotonic() + 60.0
    while not condition():
        assert time.monotonic() < end, "the condition did not come true in time"
        time.sleep(0.02)
