"""`ramphold replay`: a stored trace through the path of a live sensor."""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from acquire.decoders import encode_line
from acquire.links.replay import ReplayLink
from acquire.sensor.profile import Profile
from acquire.stream.pipeline import Pipeline
from acquire.stream.trial_detector import DetectionRule
from acquire.values.arrays import FloatArray
from acquire.values.outside_text import visible
from acquire.values.records import Trial
from acquire.values.remarks import TrialEnd
from acquire.values.time_stamps import sample_period
from acquire.values.units import ForceUnit
from analysis.stored.traces import (
    StoredFile,
    looks_like_session,
    newtons_trial,
    read_file,
    read_samples,
    without_effort,
)
from analysis.trial.judged_trial import JudgedTrial, judge_trial
from analysis.trial.protocol import load_protocol
from ui.commands.analyse import as_json, show
from ui.papers.tables import said_of
from ui.words.judgement_json import verdict_word

CHUNK_S = 0.02
"""A replayed sensor sends so much at a time."""

WHOLE = DetectionRule(before_s=math.inf, after_s=math.inf, longest_s=math.inf)
"""A stored trial has been cut already, so it is kept whole."""


def run(options: argparse.Namespace) -> int:
    """Replay one file and show each trial as it ends."""
    protocol, path = load_protocol(options.protocol), Path(options.file)
    stored = read_file(path, rate_hz=options.rate, method=options.method, limit_n=options.examiner_limit)
    judged: list[JudgedTrial] = []
    _announce(stored, options.speed)
    for trial in _played(stored, options.rate, options.speed):
        # what a trial was is not in its samples
        context = stored.trials[min(len(judged), len(stored.trials) - 1)].context
        told = Trial(
            time=trial.time,
            counts=trial.counts,
            calibration=trial.calibration,
            zero_counts=trial.zero_counts,
            context=context,
            damage=trial.damage,
        )
        judged.append(judge_trial(told, protocol, origin=stored.origin(told)))
        if not options.json:
            _say(len(judged), judged[-1], ForceUnit(options.unit))
    if options.json:
        print(json.dumps(as_json([(stored, judged)], protocol), indent=1, allow_nan=False))
    else:
        print()
        show(stored, judged, protocol, ForceUnit(options.unit))
    return 0


def _announce(stored: StoredFile, speed: float) -> None:
    length = sum(float(trial.time[-1] - trial.time[0]) for trial in stored.trials)
    if length / speed > 1.0:
        print(
            f"replaying {visible(str(stored.path))}: {length / speed:.0f} s at {speed:g} x real time", file=sys.stderr
        )


def _say(number: int, judged: JudgedTrial, unit: ForceUnit) -> None:
    print(f"trial {number}: {verdict_word(judged)}", flush=True)
    for line in said_of(judged, unit):
        print(f"  {line}", flush=True)


def _played(stored: StoredFile, rate_hz: float | None, speed: float) -> Iterator[Trial]:
    """Yield each trial of a file as its end goes by."""
    if not looks_like_session(stored.path):
        samples = read_samples(stored.path, rate_hz)
        found = False
        for trial in play(newtons_trial(samples.time, samples.force), speed, rule=DetectionRule()):
            found = True
            if not _is_contact(stored, trial):
                yield trial
        if not found:
            yield without_effort(samples)
        return
    for trial in stored.trials:
        yield replace(next(play(trial, speed, rule=WHOLE), trial), damage=trial.damage)


def _is_contact(stored: StoredFile, trial: Trial) -> bool:
    """Tell whether a cut is a contact; what is one depends on the whole file, which is there in a replay."""
    first, last = stored.origin(trial), stored.origin(trial) + float(trial.time[-1] - trial.time[0])
    return any(first <= contact.start_s <= last for contact in stored.contacts)


def play(trial: Trial, speed: float, *, rule: DetectionRule) -> Iterator[Trial]:
    """Send the samples of a trial through link, decoder, time base and detector; yield the efforts found."""
    seconds = trial.time - trial.time[0]
    pipeline = Pipeline(_profile(trial, seconds), trial.calibration, rule=rule, zero_counts=trial.zero_counts)
    link = ReplayLink(_chunks(seconds, trial.counts), speed=speed, clock=time.monotonic)
    while not link.finished:
        link.wait(0.1)
        for chunk in link.chunks():
            yield from pipeline.feed(chunk.arrival, chunk.data)
    yield from pipeline.finish(TrialEnd.ENDED)


def _profile(trial: Trial, seconds: FloatArray) -> Profile:
    whole = np.issubdtype(trial.counts.dtype, np.integer)
    return Profile(
        name="replay",
        title="a stored trace",
        framing="lines",
        columns=("s", "counts" if whole else "n"),
        count_bits=32,
        rate_hz=1.0 / sample_period(seconds) if len(seconds) > 1 else 1.0,
        rated_force_n=1.0,
        counts_per_newton=1.0,
    )


def _chunks(seconds: FloatArray, counts: np.ndarray) -> Iterator[tuple[float, bytes]]:
    """Yield the samples as the text lines of a sensor that sends its own time."""
    values = [int(c) for c in counts] if np.issubdtype(counts.dtype, np.integer) else [float(c) for c in counts]
    edges = np.flatnonzero(np.diff(np.floor(seconds / CHUNK_S))) + 1
    for start, stop in zip([0, *edges], [*edges, len(seconds)], strict=True):
        lines = b"".join(encode_line((float(seconds[i]), values[i])) for i in range(start, stop))
        yield float(seconds[stop - 1]), lines
