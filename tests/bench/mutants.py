"""How many small mistakes the tests notice: python tests/bench/mutants.py analysis/statistics --each 60 --seed 1.

One mistake at a time is put into a module (a comparison turned or its bound moved, a number changed, a plus made a
minus, an `and` an `or`, a `not` dropped, a returned value replaced), and the tests that mirror the module are run: its
doctests, `tests/<room>/test_<module>.py`, and what `TESTED_BY` adds, the slow ones left out. A mistake no test notices
is printed with its place. Mistakes that change nothing anyone could see are listed with the reason in
`equivalent_mutants.txt` and not counted.

The tests of a module are collected once; each mistake is tried in a fork, where the code of the living functions is
exchanged. A mistake outside functions (a constant, a default of a field) needs a fresh import, which takes longer.
A program that a test starts as a process of its own still runs the code without the mistake.
"""

from __future__ import annotations

import argparse
import functools
import gc
import importlib
import importlib.abc
import importlib.machinery
import json
import os
import random
import select
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from types import CodeType, FunctionType

import pytest
from mistakes import ROOT, Mutant, code_with, mutants_of

EQUIVALENT = Path(__file__).with_name("equivalent_mutants.txt")
LOADED_BEFORE = ("numpy", "scipy.stats", "scipy.signal", "scipy.optimize", "h5py", "msgspec")
STORED_FILES = ["tests/acquire/storage/test_session_file.py", "tests/acquire/storage/test_refused_file.py"]
TRIAL = "tests/analysis/trial/"
QUICK_TRIAL = [
    *(f"{TRIAL}rules", f"{TRIAL}test_contacts.py", f"{TRIAL}test_cut_off.py", f"{TRIAL}test_hold.py"),
    *(f"{TRIAL}test_measures.py", f"{TRIAL}test_times.py", f"{TRIAL}test_protocol.py", f"{TRIAL}test_rules.py"),
]
"""Those of a trial that take little time: truth by other generators notices more."""
TESTED_BY = {
    "acquire/decoders/delimited": ["tests/acquire/decoders"],
    "acquire/decoders/events": ["tests/acquire/decoders"],
    "acquire/decoders/selection": ["tests/acquire/decoders"],
    "acquire/sensor": ["tests/acquire/sensor/test_profile.py"],
    "acquire/storage/hdf5": [
        "tests/acquire/storage/test_session_file.py",
        "tests/acquire/storage/test_refused_file.py",
    ],
    "acquire/storage/seal": [
        "tests/acquire/storage/test_session_file.py",
        "tests/acquire/storage/test_refused_file.py",
    ],
    "acquire/storage/session_file": ["tests/acquire/storage/test_refused_file.py"],
    "acquire/stream": ["tests/acquire/stream/test_pipeline.py"],
    "acquire/timing": ["tests/acquire/timing"],
    "analysis/audit": ["tests/analysis/audit"],
    "analysis/battery": ["tests/analysis/battery"],
    "analysis/references/torque_model": ["tests/analysis/references/test_tables.py"],
    "analysis/results": ["tests/analysis/results"],
    "analysis/trial": QUICK_TRIAL,
    "ui/papers/audit": ["tests/ui/papers/audit"],
    "ui/papers/report": ["tests/ui/papers/report/test_build.py", "tests/ui/papers/report/test_charts.py"],
    "ui/papers/report/page": ["tests/ui/papers/report/test_report.py"],
    "ui/papers/report/write": ["tests/ui/papers/report/test_report.py"],
}
"""Which tests a module or a room is held to beside those that bear its name."""


def functions_in(code: CodeType) -> Iterator[CodeType]:
    """Return the code of each function of a module, the inner ones too."""
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield constant
            yield from functions_in(constant)


def exchange_code(code: CodeType) -> None:
    """Give the living functions of a module the code of the one with the mistake; forget what was remembered."""
    new = {(inner.co_qualname, inner.co_firstlineno): inner for inner in functions_in(code)}
    for thing in gc.get_objects():
        if isinstance(thing, FunctionType) and thing.__code__.co_filename == code.co_filename:
            old = thing.__code__
            changed = new.get((old.co_qualname, old.co_firstlineno))
            if changed is not None and changed.co_freevars == old.co_freevars:
                thing.__code__ = changed
        elif isinstance(thing, functools._lru_cache_wrapper):
            thing.cache_clear()


class MutatedImport(importlib.abc.MetaPathFinder):
    """Imports one module with its mistake."""

    def __init__(self, mutant: Mutant) -> None:
        self.name = mutant.file.removesuffix(".py").replace("/", ".")
        self.code = code_with(mutant)

    def find_spec(self, name, path, target=None):
        """Return how the module with the mistake is loaded, and nothing for all others."""
        if name != self.name:
            return None
        spec = importlib.machinery.PathFinder.find_spec(name, path, target)
        if spec is not None and spec.origin is not None:
            spec.loader = WithCode(name, spec.origin, self.code)
        return spec


class WithCode(importlib.machinery.SourceFileLoader):
    """A loader that has the code already."""

    def __init__(self, name: str, path: str, code: CodeType) -> None:
        super().__init__(name, path)
        self.code = code

    def get_code(self, fullname: str) -> CodeType:  # noqa: ARG002 - the loader's protocol
        """Return the code with the mistake."""
        return self.code


def forked(work: Callable[[], int], limit_s: float) -> tuple[int, str]:
    """Do something in a fork; return what it returns and what it wrote, or -1 when it took too long."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        os.dup2(writing, 9)
        try:
            result = work()
        except BaseException as error:  # noqa: BLE001 - whatever a mistake leads to, the fork ends here
            os.write(9, repr(error).encode())
            result = 1
        os._exit(result)
    os.close(writing)
    told, deadline = b"", time.monotonic() + limit_s
    while True:
        ready, _, _ = select.select([reading], [], [], max(0.0, deadline - time.monotonic()))
        part = os.read(reading, 65536) if ready else None
        if not part:
            break
        told += part
    os.close(reading)
    if part is None:
        os.kill(child, signal.SIGKILL)
    status = os.waitpid(child, 0)[1]
    return (-1 if part is None else os.waitstatus_to_exitcode(status)), told.decode(errors="replace")


class Trials:
    """A pytest plugin that runs the collected tests as they are, then once for each mistake, each time in a fork."""

    def __init__(self, mutants: list[Mutant], tell: Callable[[Mutant, bool, str], None]) -> None:
        self.mutants = mutants
        self.tell = tell
        self.took: dict[str, float] = {}
        self.failed: list[str] = []
        self.broken = ""
        self.limit_s = 60.0

    def pytest_sessionstart(self) -> None:
        """A failing example is enough: it need not be made small, and is the same each time."""
        hypothesis = importlib.import_module("hypothesis")  # not before pytest has looked at it
        phases = [hypothesis.Phase.explicit, hypothesis.Phase.generate]
        hypothesis.settings.register_profile(
            "mutants",
            phases=phases,
            database=None,
            derandomize=True,
            deadline=None,
            suppress_health_check=list(hypothesis.HealthCheck),
        )
        hypothesis.settings.load_profile("mutants")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep how long each test took and which failed."""
        self.took[report.nodeid] = self.took.get(report.nodeid, 0.0) + report.duration
        if report.failed:
            self.failed.append(report.nodeid)

    def _run(self, session: pytest.Session) -> int:
        for item, following in zip(session.items, [*session.items[1:], None], strict=True):
            session.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self.failed:
                os.write(9, self.failed[0].encode())
                return 1
        os.write(9, json.dumps(self.took).encode())
        return 0

    def _run_with(self, session: pytest.Session, mutant: Mutant) -> int:
        exchange_code(code_with(mutant))
        return self._run(session)

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Take over the running of the tests."""
        begun = time.monotonic()
        result, told = forked(lambda: self._run(session), 900)
        if result:
            self.broken = told or f"ended with {result}"
            return True
        took = json.loads(told)
        session.items.sort(key=lambda item: took.get(item.nodeid, 0.0))
        self.limit_s = 10 + 5 * (time.monotonic() - begun)
        for mutant in self.mutants:
            if mutant.in_function:
                result, told = forked(functools.partial(self._run_with, session, mutant), self.limit_s)
                self.tell(mutant, result != 0, told)
        return True


def tests_of(file: str) -> list[str]:
    """Return the tests that mirror a module."""
    path = Path(file)
    named = Path("tests") / path.parent / f"test_{path.stem}.py"
    listed = [test for place, tests in TESTED_BY.items() if file.startswith(place) for test in tests]
    found = [named.as_posix(), *listed]
    return [file, *dict.fromkeys(test for test in found if (ROOT / test.partition("::")[0]).exists())]


def run_pytest(tests: list[str], plugin: object) -> int:
    """Run tests quietly in this process."""
    options = ["-x", "-q", "--no-header", "-p", "no:cacheprovider", "--timeout=0", "-p", "no:xdist"]
    return int(pytest.main([*options, "-m", "not network and not slow", "--tb=no", *tests], plugins=[plugin]))


class Fresh:
    """A pytest plugin that imports one module with its mistake, and says which test failed."""

    def __init__(self, mutant: Mutant) -> None:
        self.finder = MutatedImport(mutant)

    def pytest_sessionstart(self) -> None:
        """Come before pytest's own import, which would read a module that is named as a test from its file."""
        sys.meta_path.insert(0, self.finder)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Write the test that failed."""
        if report.failed:
            os.write(9, report.nodeid.encode())


def freshly(tests: list[str], mutant: Mutant) -> int:
    """Run tests with a module imported anew with its mistake."""
    return run_pytest(tests, Fresh(mutant))


def silent() -> None:
    """Send what pytest prints nowhere."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)


def try_module(mutants: list[Mutant]) -> tuple[list[tuple[int, bool, str]], str]:
    """Try the mistakes of one module; return place in the list, noticed or not, by what, and what is broken before."""
    tests = tests_of(mutants[0].file)

    def session() -> int:
        silent()
        places = {id(mutant): place for place, mutant in enumerate(mutants)}

        def tell(mutant: Mutant, noticed: bool, told: str) -> None:
            os.write(pipe, (json.dumps([places[id(mutant)], noticed, told]) + "\n").encode())

        pipe = os.dup(9)
        trials = Trials(mutants, tell)
        result = run_pytest(tests, trials)
        os.write(
            pipe,
            (
                json.dumps(
                    {"broken": trials.broken or (result not in {0, 5} and str(result)) or "", "limit": trials.limit_s}
                )
                + "\n"
            ).encode(),
        )
        return 0

    _, told = forked(session, 36_000)
    lines = [json.loads(line) for line in told.splitlines() if line.startswith(("[", "{"))]
    end = lines.pop() if lines and isinstance(lines[-1], dict) else {"broken": "the tests did not end: " + told[-300:]}
    if end["broken"]:
        return [], end["broken"]
    results = [(place, noticed, by) for place, noticed, by in lines]
    for place, mutant in enumerate(mutants):
        if not mutant.in_function:
            result, by = forked(lambda mutant=mutant: (silent(), freshly(tests, mutant))[1], end["limit"] + 20)
            results.append((place, result != 0, by))
    return results, ""


def equivalents() -> set[str]:
    """Return the mistakes that change nothing, by key."""
    lines = EQUIVALENT.read_text("utf-8").splitlines() if EQUIVALENT.exists() else []
    return {line.rpartition(" # ")[0].strip() for line in lines if line.strip() and not line.startswith("#")}


def modules_of(place: str) -> list[str]:
    """Return the modules of a room, or the one module named."""
    path = ROOT / place
    files = [path] if path.suffix == ".py" else sorted(path.rglob("*.py"))
    return [file.relative_to(ROOT).as_posix() for file in files]


def sampled(place: str, each: int, seed: int) -> list[Mutant]:
    """Return some mistakes of a room, the same for the same seed; all of them for 0."""
    ignored = equivalents()
    found = [m for file in modules_of(place) for m in mutants_of(file) if m.key not in ignored]
    if each and len(found) > each:
        found = random.Random(f"{place} {seed}").sample(found, each)
    return sorted(found, key=lambda mutant: (mutant.file, mutant.line))


def try_room(place: str, each: int, seed: int, *, verbose: bool) -> tuple[int, int]:
    """Try a room; return how many mistakes were noticed, of how many."""
    by_file: dict[str, list[Mutant]] = defaultdict(list)
    for mutant in sampled(place, each, seed):
        by_file[mutant.file].append(mutant)
    noticed = tried = 0
    for file, mutants in by_file.items():
        results, broken = try_module(mutants)
        if broken:
            print(f"{file}: the tests fail without any mistake: {broken}", flush=True)
        for number, killed, by in sorted(results):
            tried += 1
            noticed += killed
            mutant = mutants[number]
            if not killed or verbose:
                end = f"   noticed by {by}" if killed else ""
                print(f"{file}:{mutant.line} {mutant.inside}: {mutant.said}{end}", flush=True)
    return noticed, tried


def main() -> int:
    """Try the rooms named and print the share of mistakes noticed in each."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("places", nargs="+", help="rooms or modules, such as analysis/statistics")
    parser.add_argument("--each", type=int, default=40, help="mistakes tried in each place; 0 tries all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--verbose", action="store_true", help="also print the mistakes that were noticed, and by what")
    options = parser.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    for name in LOADED_BEFORE:
        importlib.import_module(name)
    lines = []
    for place in options.places:
        begun = time.monotonic()
        noticed, tried = try_room(place, options.each, options.seed, verbose=options.verbose)
        share = f"{100 * noticed / tried:.0f} %" if tried else "none"
        lines.append(f"{place:28} {noticed:4} of {tried:4} noticed  {share:>5}  {time.monotonic() - begun:5.0f} s")
        print(lines[-1], flush=True)
    if len(lines) > 1:
        print("", *lines, sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
