"""Every number of the hardware notes that is computed, computed again; every link and command in them tried."""

import math
import re
import shlex

import numpy as np
import pytest
import wire_vectors

from acquire.decoders import LineDecoder, encode_line, encode_packet
from acquire.links.board import NOISE_COUNTS
from acquire.sensor.profile import known_profiles, load_profile
from acquire.simulation.board import FIRMWARE, NEEDS
from acquire.values.calibration import CalibrationPoint, fit_calibration, residuals
from acquire.values.gravity import normal_gravity, weight
from analysis.statistics.uncertainty import budget, from_angle, from_limits, from_readings
from analysis.trial.measures import EARLY_HZ
from analysis.trial.protocol import load_protocol
from ui.commands.arguments import build_parser

NOTES = wire_vectors.NOTES
PAGES = [*sorted(NOTES.glob("*.md")), NOTES / "firmware" / "README.md"]
BOARDS = ("board-lines", "board-packets", "board-radio-lines", "board-radio-packets")

# What the cells and converters of the notes have in common: 2 mV/V, gain 128, 24 bits (data sheets, from memory).
SENSITIVITY, GAIN = 2e-3, 128.0
RANGE_PER_VOLT = 0.5 / GAIN
NOISE_10_V, NOISE_80_V = 50e-9, 90e-9
FILTER_PERIODS = 4


def text(page):
    return (NOTES / page).read_text(encoding="utf-8")


def tables(page):
    """The tables of a page, each a list of rows of cells, the head first."""
    found, rows = [], []
    for line in [*text(page).splitlines(), ""]:
        if line.startswith("|"):
            rows.append([cell.strip() for cell in line.strip("|").split("|")])
        elif rows:
            found.append([rows[0], *rows[2:]])
            rows = []
    return found


def table(page, head):
    """The table whose head has a cell."""
    (found,) = [rows for rows in tables(page) if head in rows[0]]
    return found


def by_name(page, head):
    """A table as its rows by their first cell."""
    return {row[0]: row[1:] for row in table(page, head)[1:]}


def shown(value, cell):
    """Whether a cell shows a value, rounded as it stands there."""
    digits = len(cell.partition(".")[2].rstrip("*"))
    return float(cell.strip("*")) == pytest.approx(value, abs=0.5000001 * 10.0**-digits)


# ---- choosing a cell ----


LARGE = 9.81 * 80 * 1.8
"""Anderson 2007: torque = c1 x 9.81 x mass x height, here of a man of 80 kg and 1.80 m; force = torque / lever arm."""
CELL_ROWS = {
    ("shoulder abduction", "men, 18 and over"): (10.6 * 9.80665, 3.8 * 9.80665),
    ("shoulder extension", "young adults"): (85.7, 18.4),
    ("shoulder internal rotation", "young adults"): (78.4, 27.5),
    ("elbow flexion", "men, 16-19"): (281.0, 0.25 * 281.0),
    ("hip abduction", "adults near 22"): (117.37, 43.78),
    ("hip flexion", "women, 20-29, 70 kg"): (0.3854 * 70 * 9.80665, 0.0532 * 70 * 9.80665),
    ("hip flexion", "men, 18-25, 80 kg, 1.80 m"): (LARGE * 0.113 / 0.40, LARGE * 0.025 / 0.40),
    ("knee flexion", "men, 18-25, 80 kg, 1.80 m"): (LARGE * 0.087 / 0.36, LARGE * 0.015 / 0.36),
    ("knee extension, by hand", "strong examiners"): (470.6, 179.8),
    ("knee extension, belt", "the same people"): (866.9, 131.7),
    ("ankle dorsiflexion", "men, 18-25, 80 kg, 1.80 m"): (
        9.81 * 0.033 * 80 * 1.8 / 0.15,
        9.81 * 0.005 * 80 * 1.8 / 0.15,
    ),
}


def test_rated_forces_follow_from_the_published_ones():
    rows = table("cell.md", "needed N")[1:]
    assert {(row[0], row[1]) for row in rows} == set(CELL_ROWS)
    for action, who, mean_n, sd_n, strong_n, needed_n, rated_n, source in rows:
        mean, sd = CELL_ROWS[action, who]
        strong = mean + 2.0 * sd
        needed = 1.25 * strong
        assert shown(mean, mean_n)
        assert shown(sd, sd_n)
        assert shown(strong, strong_n)
        assert shown(needed, needed_n)
        assert int(rated_n) == next(rated for rated in (200, 500, 1000, 2000) if rated >= needed)
        assert source


def test_force_of_a_fall_is_that_of_its_energy():
    assert "a sensor of 0.5 kg that falls 1 m and is stopped within 1 mm feels 4,903 n on average" in " ".join(
        text("cell.md").lower().split()
    )
    assert pytest.approx(4903, abs=0.5) == 0.5 * 9.80665 * 1.0 / 0.001


def test_angle_costs_its_cosine():
    head, row = table("cell.md", "degrees off")
    for degrees, reading in zip(head[1:], row[1:], strict=True):
        assert shown(100.0 * (math.cos(math.radians(float(degrees))) - 1.0), reading)


def test_centimetre_costs_more_on_a_short_lever_arm():
    head, costs, angles = table("cell.md", "lever arm, m")
    for arm, cost, angle in zip(head[1:], costs[1:], angles[1:], strict=True):
        assert shown(100.0 * 0.01 / float(arm), cost)
        assert shown(math.degrees(math.acos(1.0 - 0.01 / float(arm))), angle)


# ---- bridge and converter ----


def test_counts_and_noise_follow_from_the_bridge():
    for rated, counts, slow, fast, fast_33 in table("converter.md", "counts a newton")[1:]:
        newtons = float(rated)
        assert shown(2**23 * SENSITIVITY / RANGE_PER_VOLT / newtons, counts)
        for cell, noise, volts in ((slow, NOISE_10_V, 5.0), (fast, NOISE_80_V, 5.0), (fast_33, NOISE_80_V, 3.3)):
            assert shown(1e3 * noise / (SENSITIVITY * volts) * newtons, cell)


def test_range_step_and_bits_of_the_converter():
    page = " ".join(text("converter.md").split())
    assert f"{1e3 * 5.0 * RANGE_PER_VOLT:.2f} mV to both sides at 5 V" in page
    step = 5.0 * RANGE_PER_VOLT / 2**23
    assert f"{1e9 * step:.2f} nV a count" in page
    assert f"That is {math.log2(5.0 * SENSITIVITY / (6.6 * NOISE_80_V)):.0f} bits free of noise at 80 Hz" in page
    assert round(NOISE_80_V / step) == NOISE_COUNTS


def through(hertz, rate):
    """What a mean of four periods leaves of a wave."""
    return abs(np.sinc(hertz * FILTER_PERIODS / rate))


def test_settling_delay_and_aliases_of_each_rate():
    head, *rows = table("converter.md", "10 Hz")
    cells = {row[0]: row[1:] for row in rows}
    for at, rate in enumerate(float(name.split()[0]) for name in head[1:]):
        assert shown(1e3 * FILTER_PERIODS / rate, cells["settles in 4 conversions, ms"][at])
        assert shown(1e3 * 0.5 * FILTER_PERIODS / rate, cells["says what was, ms ago"][at])
        for hertz in (4, 8, 12, 50):
            assert shown(100.0 * through(hertz, rate), cells[f"shows of {hertz} Hz, %"][at])
        for hertz in (50, 60):
            alias = abs(hertz - rate * round(hertz / rate))
            assert cells[f"{hertz} Hz appears at, Hz"][at] == ("-" if alias == 0 else f"{alias:g}")


def test_tremor_reads_low_by_what_the_page_says():
    low, high = round(100 * (1 - through(4, 80))), round(100 * (1 - through(12, 80)))
    assert f"`shake` (4 to 12 Hz) reads {low} to {high} % low" in text("converter.md")


def test_low_pass_of_the_signal_wires():
    assert f"a low-pass of {1.0 / (2.0 * math.pi * 2e3 * 0.1e-6):.0f} Hz" in text("converter.md")


def test_bridge_is_told_by_an_ohmmeter():
    arm = 350.0
    assert "350 between the two wires of a pair, 262.5 between any others" in " ".join(text("converter.md").split())
    assert arm * 3 * arm / (arm + 3 * arm) == 262.5


def test_rates_are_those_of_the_protocol():
    protocol, needed = load_protocol(), by_name("converter.md", "least, Hz")
    least = {name: float(row[0]) for name, row in needed.items()}
    assert least["plateau force (mean of 3 s)"] == protocol.slow_sensor.reject_below_hz
    assert protocol.hold.score_s == 3.0
    assert least["a trial without a warning"] == protocol.slow_sensor.warn_below_hz
    assert least["hold: mean of 0.1 s, at least four samples"] == 4.0 / protocol.hold.smoothing_s
    assert least["jerk: slope over 0.2 s, at least ten samples"] == 10.0 / protocol.steepest_rise.window_s
    assert least["shortest ramp of 0.5 s, to 5 %"] == 1.0 / (0.05 * protocol.ramp.reject_below_s)
    tremor = least["tremor up to 12 Hz, less than 5 % lost"]
    assert through(protocol.tremor.high_hz, tremor) >= 0.95 > through(protocol.tremor.high_hz, tremor - 1.0)
    assert least["rate from onset to 50 ms"] == EARLY_HZ[50]
    assert {EARLY_HZ[band] for band in (100, 150, 200, 250)} == {least["rates from onset to 100, 150, 200, 250 ms"]}


def test_profiles_of_the_boards_follow_from_the_bridge():
    for name in BOARDS:
        profile = load_profile(name)
        wanted = 2**23 * SENSITIVITY / RANGE_PER_VOLT / profile.rated_force_n
        assert profile.counts_per_newton == pytest.approx(wanted, abs=0.001)
        assert profile.rate_hz == 80.0


# ---- power ----


def test_currents_and_hours_follow():
    rows = by_name("power_and_safety.md", "with a cable, 5 V")
    for at, volts in enumerate((5.0, 3.3)):
        for ohms, name in ((350.0, "bridge of 350 ohm, mA"), (1000.0, "bridge of 1 kilohm, mA")):
            assert shown(1e3 * volts / ohms, rows[name][at])
        parts = ("bridge of 350 ohm, mA", "converter, mA **[ds]**", "controller, mA **[cp]**")
        together = sum(float(rows[part][at]) for part in parts)
        assert shown(together, rows["together with 350 ohm, mA"][at])
        assert shown(0.8 * 1000.0 / together, rows["hours from 1000 mAh, 80 % of it used"][at])


# ---- calibration ----


GRAVITY = normal_gravity(52.1, 35.0)


@pytest.fixture(scope="module")
def made():
    """The calibration of the worked table, by the program."""
    rows = table("calibration.md", "load N")[1:]
    points = [CalibrationPoint(load_n=float(row[2]), counts=float(row[3])) for row in rows]
    return fit_calibration(points, rated_force_n=1000.0)


def test_loads_are_the_masses_at_local_gravity():
    assert f"{GRAVITY:.5f} m/s2" in text("calibration.md")
    for _, mass, load, *_ in table("calibration.md", "load N")[1:]:
        assert shown(weight(float(mass), GRAVITY) if float(mass) else 0.0, load)


def test_command_of_the_page_asks_for_the_masses_of_its_table():
    (command,) = [command for command in commands() if "LC-0042" in command]
    options = build_parser().parse_args(shlex.split(command)[1:])
    assert list(options.weights) == [float(row[1]) for row in table("calibration.md", "load N")[1:]]
    assert normal_gravity(options.latitude, options.height) == GRAVITY


def test_residuals_are_those_of_the_fit(made):
    left = residuals(made)
    for row, newtons, share in zip(table("calibration.md", "load N")[1:], left.force_n, left.pct, strict=True):
        assert shown(float(newtons), row[4])
        assert shown(float(share), row[5])


def test_line_is_the_one_that_the_program_fits(made):
    page = " ".join(text("calibration.md").split())
    left = residuals(made)
    assert f"**{1.0 / made.newtons_per_count:.3f} counts a newton**, zero at **{made.zero_counts:.1f} counts**" in page
    assert f"largest residual **{left.largest_pct:.3f} %** of rated force" in page
    assert f"is **{100.0 * left.slope_uncertainty / made.newtons_per_count:.4f} %**" in page


def components(made):
    """The parts of the budget at 500 N, by the program's own functions."""
    left, at = residuals(made), 500.0
    away = abs(normal_gravity(52.6, 35.0) - GRAVITY) + abs(normal_gravity(52.1, 135.0) - GRAVITY)
    line_pct = 100.0 * left.slope_uncertainty / made.newtons_per_count
    shares = {
        "weights": 0.1,
        "gravity: half a degree of latitude and 100 m of height": 100.0 * away / GRAVITY,
        "buoyancy of steel in air, not corrected": 100.0 * 1.2 / 8000.0,
    }
    return (
        from_readings("the line, by its scatter", line_pct, dof=len(made.points) - 2, unit="%", sensitivity=at / 100.0),
        from_limits("largest residual", float(np.abs(left.force_n).max()), unit="N"),
        *(from_limits(name, share, unit="%", sensitivity=at / 100.0) for name, share in shares.items()),
        from_angle("line of force within 2 degrees", 2.0, sensitivity=at),
        from_readings("noise of one sample at 80 Hz", NOISE_80_V / (5.0 * SENSITIVITY) * 1e3, dof=math.inf, unit="N"),
    )


def test_uncertainty_is_that_of_the_programs_budget(made):
    rows = {name.strip("*"): row for name, row in by_name("calibration.md", "standard N").items()}
    parts = components(made)
    assert list(rows) == [*(part.source for part in parts), "together", "expanded, 95 %"]
    for part in parts:
        half_width, standard = rows[part.source]
        assert shown(part.contribution, standard)
        assert half_width == "" or shown(part.value, half_width.split()[0])
    whole = budget(parts)
    assert shown(whole.combined, rows["together"][1])
    assert shown(whole.expanded, rows["expanded, 95 %"][1])
    assert f"That is {100.0 * whole.expanded / 500.0:.2f} % at 500 N" in text("calibration.md")
    loads = sum(part.value for part in parts[2:5])
    assert f"{loads:.2f} % may stand there" in text("calibration.md")


def test_drift_of_a_cell_of_one_kilonewton():
    rows = by_name("calibration.md", "for a cell of 1 kN")
    typical = {
        name.split(",")[0].split(" **")[0]: (float(row[0]), float(row[1].split()[0])) for name, row in rows.items()
    }
    zero_pct, zero_n = typical["zero with temperature"]
    assert zero_n == pytest.approx(zero_pct / 100.0 * 1000.0)
    assert typical["the same"] == pytest.approx((10.0 * zero_pct, 10.0 * zero_n))
    slope_pct, slope_n = typical["slope with temperature"]
    assert slope_n == pytest.approx(slope_pct / 100.0 * 500.0 * 10.0)
    creep_pct, creep_n = typical["creep in 30 minutes"]
    assert creep_n == pytest.approx(creep_pct / 100.0 * 500.0)


# ---- wire formats ----


def test_sizes_are_those_of_frames_that_are_made():
    rows = by_name("wire_formats.md", "bytes a frame")
    longest = {"counts": [-(2**23)], "us,counts": [2**32 - 1, -(2**23)], "ms,counts": [2**32 - 1, -(2**23)]}
    for name, (size, frames, per_s, _) in rows.items():
        if name.startswith("packet"):
            n = int(name.split()[2])
            # without a zero to stuff it is no shorter: byte stuffing costs the same whatever the bytes are
            made = len(encode_packet(0xFFFF, 2**32 - 1, [-1] * n, count_bits=24))
        else:
            made = len(encode_line(longest[name.split("`")[1]]).rstrip(b"\r\n")) + 2
        assert int(size.split()[0]) == made
        assert float(per_s.replace(",", "")) == pytest.approx(made * float(frames.replace(",", "")))


def test_commands_of_the_page_are_those_of_both_firmwares():
    commands = [name.strip("`").split("`")[0] for name in by_name("wire_formats.md", "what it must do")]
    words = {command.split()[0] for command in commands} - {"anything"}
    assert words == {"start", "stop", "zero", "rate", "identify"}
    for source in ("avr/sensor.c", "micropython/sensor.py"):
        content = (FIRMWARE / source).read_text()
        assert all(f'"{word}' in content for word in words)


def test_lines_profile_reads_what_the_firmware_says_its_columns_are():
    for name in ("board-lines", "board-radio-lines"):
        assert LineDecoder(load_profile(name).columns).feed(b"# columns=us,counts\n1,2\n")[0].counts == [2]
        assert ",".join(load_profile(name).columns) == "us,counts"


# ---- links, commands, marks ----


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page):
    links = re.findall(r"\]\(([^)#]+)", page.read_text(encoding="utf-8"))
    assert [link for link in links if "://" not in link and not (page.parent / link).exists()] == []


def test_index_leads_to_every_page():
    index = text("README.md")
    for page in NOTES.glob("*.md"):
        assert page.name == "README.md" or f"]({page.name})" in index
    assert "](firmware/README.md)" in index


COMMAND = re.compile(r"`(ramphold [^`]*)`|^ *(ramphold [^\n#`]*)", flags=re.MULTILINE)


def commands():
    """The commands that the pages name, on one line each."""
    pages = "\n".join(page.read_text(encoding="utf-8") for page in PAGES).replace("\\\n", " ")
    found = [" ".join((quoted or block).split()) for quoted, block in COMMAND.findall(pages)]
    assert len(found) > 8
    return found


@pytest.mark.parametrize("command", commands())
def test_commands_are_ones_that_the_program_knows(command):
    words = shlex.split(command)[1:]
    if words == ["check"]:
        words.append("board-packets")
    assert build_parser().parse_args(words).command == words[0]


def test_packages_to_install_are_those_that_the_program_asks_for():
    page = (FIRMWARE / "README.md").read_text()
    for packages in NEEDS.values():
        for package in packages:
            assert re.search(rf"apt-get install .*\b{package}\b.*\nramphold demo --board", page)


def test_profiles_that_the_firmware_page_names_are_there():
    names = {profile.name for profile in known_profiles()}
    assert set(by_name("firmware/README.md", "what goes over")) == {f"`{name}`" for name in BOARDS}
    assert set(BOARDS) <= names


def test_safety_is_said_where_it_matters():
    assert "not a medical device" in text("README.md")
    assert "not a medical device" in text("power_and_safety.md")
    assert "Local codes" in text("power_and_safety.md")
    assert "Never while charging" in text("power_and_safety.md")
