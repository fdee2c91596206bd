"""Efforts drawn for the judge to be tried on: no line, shape or disturbance is shared with `acquire.simulation`.

What a person does is a list of (second, share of the plateau) that a monotone spline or a ramp shape joins; what
lies on it are disturbances that people and sensors bring: 1/f noise, tremor of 8-12 Hz, sway of 1-2 Hz, breathing,
rounding to a step. Fixed seeds give fixed forces. All of it is invented.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.special import erf, expit

REST_S = 2.0

SHAPES = {
    "straight": lambda x: x,
    "half cosine": lambda x: np.sin(0.5 * np.pi * x) ** 2,
    "least jerk": lambda x: x**3 * (10.0 + x * (6.0 * x - 15.0)),
    "sigmoid": lambda x: (expit(10.0 * x - 5.0) - expit(-5.0)) / (expit(5.0) - expit(-5.0)),
    "gaussian": lambda x: (erf(3.6 * x - 1.8) + erf(1.8)) / (2.0 * erf(1.8)),
    "late bend": lambda x: 1.0 - (1.0 - x) ** 1.7,
}
"""Ramp shapes from (0, 0) to (1, 1)."""


@dataclass(frozen=True, kw_only=True)
class Person:
    """One effort and what lies on it; shares are of the plateau."""

    plateau: float = 200.0
    shape: str = "straight"
    ramp: float = 1.4
    hold: float = 4.5
    release: float = 0.3
    rest_after: float = 2.0
    trend: float = 0.0
    """Per second of the hold."""
    flicker: float = 0.0
    """Root mean square of 1/f noise."""
    tremor: float = 0.0
    """Root mean square of a beat of 8-12 Hz."""
    sway: float = 0.0
    """Amplitude of a wave of 1-2 Hz."""
    breath: float = 0.0
    """Amplitude of a wave of 0.2-0.35 Hz."""
    noise: float = 0.1
    """Of the sensor, N."""
    step: float = 0.0
    """Rounding of the sensor, N."""
    bumps: tuple[tuple[tuple[float, float], ...], ...] = field(default=())
    """Each a list of (seconds from the start of the hold, share added), joined by straight lines, 0 outside."""
    before: tuple[tuple[float, float], ...] = ()
    """(seconds from the onset, share), joined by straight lines: what is on the pad before the ramp."""
    zero_after: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """A force and what is known of it."""

    time: np.ndarray
    force: np.ndarray
    true: np.ndarray
    """The force without noise and rounding of the sensor, N."""
    tremor: np.ndarray
    """The part of it that is tremor, N."""
    onset: float
    ramp_time: float
    rise_10_90: float
    hold_start: float
    release: float


def draw(person: Person, rate: float, seed: int) -> Drawing:
    """Return the force of an effort that begins after `REST_S`."""
    chance = np.random.default_rng(seed)
    time = np.arange(int((REST_S + person.ramp + person.hold + person.release + person.rest_after) * rate)) / rate
    since = time - REST_S
    into = since - person.ramp
    shape = SHAPES[person.shape]
    share = shape(np.clip(since / person.ramp, 0.0, 1.0))
    slow = _wave(into, person.sway, chance.uniform(1.0, 2.0), chance)
    slow = slow + _wave(into, person.breath, chance.uniform(0.2, 0.35), chance)
    slow = slow + person.trend * np.clip(into, 0.0, person.hold) + person.flicker * _flicker(len(time), rate, chance)
    drawn = np.zeros(len(time))
    for bump in person.bumps:
        at, height = zip(*bump, strict=True)
        drawn += np.interp(into, at, height, left=0.0, right=height[-1])
    swell = np.clip(into / 0.2, 0.0, 1.0) if person.ramp > 0.2 else 1.0
    clean = share * (1.0 + slow * swell) + drawn
    clean *= PchipInterpolator([0.0, 0.35, 0.75, 1.0], [1.0, 0.75, 0.15, 0.0])(
        np.clip((into - person.hold) / person.release, 0.0, 1.0)
    )
    if person.before:
        at, height = zip(*person.before, strict=True)
        rest = np.interp(since, at, height, left=0.0, right=0.0)
        clean = (
            clean
            + np.where(since < 0.0, rest, 0.0)
            + np.where(since >= 0.0, height[-1] * (1.0 - np.minimum(share, 1.0)), 0.0)
        )
    clean = clean + np.where(
        into > person.hold, person.zero_after * np.clip((into - person.hold) / person.release, 0, 1), 0
    )
    tremor = person.tremor * _beat(time, chance) * np.clip(share, 0.0, 1.0) * (into < person.hold + 0.2)
    force = person.plateau * (clean + tremor) + person.noise * chance.standard_normal(len(time))
    if person.step:
        force = person.step * np.round(force / person.step)
    grid = np.linspace(0.0, 1.0, 20_001)
    low, high = (float(grid[np.argmax(shape(grid) >= level)]) for level in (0.1, 0.9))
    return Drawing(
        time=time,
        force=force,
        true=person.plateau * (clean + tremor),
        tremor=person.plateau * tremor,
        onset=REST_S,
        ramp_time=high * person.ramp,
        rise_10_90=(high - low) * person.ramp,
        hold_start=REST_S + person.ramp,
        release=REST_S + person.ramp + person.hold,
    )


def several(people: list[Person], gaps: list[float], rate: float, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return one recording of efforts with so many seconds from the end of one's release to the next one's onset."""
    parts = [draw(person, rate, seed + i) for i, person in enumerate(people)]
    force = list(parts[0].force[: int((parts[0].release + people[0].release) * rate)])
    for part, person, gap in zip(parts[1:], people[1:], gaps, strict=True):
        chance = np.random.default_rng(seed + len(force))
        force += list(person.noise * chance.standard_normal(int(gap * rate)))
        force += list(part.force[int(REST_S * rate) : int((part.release + person.release) * rate)])
    force += list(parts[-1].force[int((parts[-1].release + people[-1].release) * rate) :])
    return np.arange(len(force)) / rate, np.array(force)


def mild(chance: np.random.Generator, shape: str, plateau: float) -> Person:
    """Return a good effort as most people give it."""
    return Person(
        plateau=plateau,
        shape=shape,
        ramp=chance.uniform(1.15, 2.0),
        hold=chance.uniform(4.0, 6.0),
        release=chance.uniform(0.2, 0.5),
        trend=chance.uniform(-0.01, 0.005),
        flicker=chance.uniform(0.002, 0.01),
        tremor=chance.uniform(0.002, 0.01),
        sway=chance.uniform(0.0, 0.02),
        breath=chance.uniform(0.0, 0.015),
        noise=max(0.05, 0.001 * plateau),
    )


def messy(chance: np.random.Generator, shape: str, plateau: float) -> Person:
    """Return a good effort that wanders, on a coarse and noisy sensor."""
    return Person(
        plateau=plateau,
        shape=shape,
        ramp=chance.uniform(1.1, 2.0),
        hold=chance.uniform(4.2, 6.0),
        release=chance.uniform(0.2, 0.6),
        trend=chance.uniform(-0.03, 0.01),
        flicker=chance.uniform(0.01, 0.025),
        tremor=chance.uniform(0.01, 0.025),
        sway=chance.uniform(0.01, 0.03),
        breath=chance.uniform(0.01, 0.03),
        noise=min(0.02 * plateau, chance.uniform(0.2, 0.6)),
        step=min(0.01 * plateau, float(chance.choice([0.0, 0.1, 0.5]))),
    )


def brief(chance: np.random.Generator, shape: str, plateau: float) -> Person:
    """Return a good effort of 3 to 5 s in all."""
    return dataclasses.replace(
        mild(chance, shape, plateau), ramp=chance.uniform(0.7, 1.5), hold=chance.uniform(2.3, 3.5)
    )


def fast(chance: np.random.Generator, shape: str, plateau: float) -> Person:
    """Return a good effort as fast and as hard as possible: up within 0.15 to 0.45 s, and held for a moment."""
    return dataclasses.replace(
        mild(chance, shape, plateau),
        ramp=chance.uniform(0.15, 0.45),
        hold=chance.uniform(1.2, 3.5),
        trend=chance.uniform(-0.05, 0.03),
    )


def _wave(into: np.ndarray, amplitude: float, hertz: float, chance: np.random.Generator) -> np.ndarray:
    return amplitude * np.sin(2.0 * np.pi * (hertz * into + chance.uniform()))


def _beat(time: np.ndarray, chance: np.random.Generator) -> np.ndarray:
    """Return a beating wave of 8-12 Hz, root mean square 1."""
    return sum(np.sin(2.0 * np.pi * (chance.uniform(8.0, 12.0) * time + chance.uniform())) for _ in range(3)) / np.sqrt(
        1.5
    )


def _flicker(count: int, rate: float, chance: np.random.Generator) -> np.ndarray:
    """Return 1/f noise between 0.1 and 20 Hz, root mean square 1."""
    hertz = np.fft.rfftfreq(count, 1.0 / rate)
    inside = (hertz >= 0.1) & (hertz <= min(20.0, 0.4 * rate))
    spectrum = np.zeros(len(hertz), dtype=complex)
    spectrum[inside] = np.exp(2j * np.pi * chance.uniform(size=int(inside.sum()))) / np.sqrt(hertz[inside])
    values = np.fft.irfft(spectrum, count)
    return values / values.std()
