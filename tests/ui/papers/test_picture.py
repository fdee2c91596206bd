"""Trials as pictures: so many a page, each a file of its own."""

import numpy as np
import pytest

from acquire.simulation.efforts import FAULTY, GOOD, simulate
from analysis.stored.traces import newtons_trial
from analysis.trial.judged_trial import judge_trial
from analysis.trial.protocol import load_protocol
from ui.papers import picture
from ui.papers.picture import draw_pages

PROTOCOL = load_protocol()


def judged(number):
    effort = [GOOD, *FAULTY.values()][number]
    trace = simulate(effort, rate_hz=100.0, seed=number).trace
    there = ~np.isnan(trace.force)
    return judge_trial(newtons_trial(trace.time[there], trace.force[there]), PROTOCOL, name="made")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("count", "names"), [(0, ["all.png"]), (2, ["all.png"]), (5, ["all.png", "all-2.png", "all-3.png"])]
)
def test_each_page_is_a_file_and_the_trials_are_numbered_through(tmp_path, monkeypatch, count, names):
    numbered = []
    panel = picture._panel
    monkeypatch.setattr(picture, "TRIALS_A_PAGE", 2)
    monkeypatch.setattr(picture, "_panel", lambda axis, number, trial: panel(axis, numbered.append(number) or 0, trial))
    files = draw_pages([judged(number) for number in range(count)], tmp_path / "all.png", title="invented")
    assert [file.name for file in files] == names
    assert sorted(file.name for file in tmp_path.iterdir()) == sorted(names)
    assert all(file.read_bytes().startswith(b"\x89PNG") for file in files)
    assert numbered == list(range(1, count + 1))
