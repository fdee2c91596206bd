"""The command that checks a sensor, its limits, and standard gravity."""

from importlib.resources import files

G = 9.80665
"""Standard gravity, m/s2: 3rd General Conference on Weights and Measures, 1901."""

STANDARD = (files("analysis") / "data/sensor-check/hand-held.toml").read_text()

PROFILE = (files("acquire") / "data/sensors/packets-1k.toml").read_text()


def check(sensor, *more, profile="packets-1k"):
    return ("check", profile, "--port", sensor.port, "--seconds", 0.5, *more)


def limits(tmp_path, *changes):
    text = STANDARD
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (tmp_path / "mine.toml").write_text(text)
    return ("--limits", tmp_path / "mine.toml")
