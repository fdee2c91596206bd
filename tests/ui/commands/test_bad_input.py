"""What a user gets wrong: one sentence that names it, exit code 1, nothing on standard output, nothing written."""

import os
import re
import threading
from pathlib import Path

import pytest

from acquire.simulation.pty import PseudoTerminal

SENSOR = Path(__file__).parents[3] / "acquire/data/sensors/packets-1k.toml"
PROTOCOL = Path(__file__).parents[3] / "analysis/data/protocols/ramp-and-hold.toml"

BAD_TEXT = {
    "empty": ("", r"x\.csv: is empty"),
    "only a comment": ("# nothing\n", r"x\.csv: holds no samples"),
    "only a header": ("time_s,force_n\n", r"x\.csv: holds no samples"),
    "one sample": ("time_s,force_n\n0,1\n", r"x\.csv, line 2: holds one sample, a trace needs two"),
    "the word nan": ("time_s,force_n\n0,1\n0.01,nan\n0.02,2\n", r"x\.csv, line 3: .*'nan'"),
    "the word NaN": ("0,1\n0.01,2\n0.02,NaN\n", r"x\.csv, line 3: .*'NaN'"),
    "infinity": ("0,1\n0.01,inf\n", r"x\.csv, line 2: the force must be a number, .* got 'inf'"),
    "a word": ("0,1\n0.01,strong\n", r"x\.csv, line 2: the force must be a number, .* got 'strong'"),
    "no time": ("0,1\n,2\n", r"x\.csv, line 2: the time must be a number of seconds"),
    "all forces lost": ("0,\n0.01,\n0.02,\n", r"x\.csv: no row holds a force"),
    "unsorted": ("0,1\n0.02,2\n0.01,3\n", r"x\.csv, line 3: time must increase, got 0\.01 s after 0\.02 s in line 2"),
    "repeated": ("0,1\n0.01,2\n0.01,3\n", r"x\.csv, line 3: time must increase, got 0\.01 s after 0\.01 s in line 2"),
    "other header": ("seconds,newtons\n0,1\n", r"x\.csv, line 1: the header must be time_s,force_n"),
    "three columns": ("0,1,2\n1,2,3\n", r"x\.csv, line 1: expected 1 or 2 columns"),
    "a column too many": ("0,1\n1,2,3\n", r"x\.csv, line 2: expected 2 columns"),
    "semicolons": ("0;1\n1;2\n", r"x\.csv, line 1: columns must be separated by commas"),
    "decimal commas": ("0,0;1,5\n0,1;2,5\n", r"x\.csv, line 1: write decimal points"),
    "one column": ("1\n2\n3\n", r"x\.csv, line 1: .* give --rate"),
}


def said(result):
    """Return the one sentence of a command that could not do it."""
    assert result.code == 1, result
    assert result.out == ""
    assert "Traceback" not in result.err
    last = result.err.splitlines()[-1]
    assert last.startswith("ramphold: ")
    assert result.err.count("ramphold: ") == 1
    return last


def listing(folder):
    return {path: path.stat().st_size for path in sorted(folder.rglob("*"))}


@pytest.fixture
def refused(ramphold, tmp_path, monkeypatch):
    """Run a command that cannot do it; return its sentence after seeing that it left nothing behind."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments, **options):
        before = listing(tmp_path)
        sentence = said(ramphold(*arguments, **options))
        assert listing(tmp_path) == before
        return sentence

    return run


@pytest.mark.parametrize("command", ["analyse", "replay"])
@pytest.mark.parametrize("name", BAD_TEXT)
def test_bad_text_is_named_with_its_line(refused, tmp_path, command, name):
    text, sentence = BAD_TEXT[name]
    (tmp_path / "x.csv").write_text(text)
    assert re.search(sentence, refused(command, "x.csv"))


@pytest.mark.parametrize("arguments", [("analyse",), ("replay", "--speed", "max")], ids=" ".join)
def test_bad_text_gives_no_json_either(refused, tmp_path, arguments):
    (tmp_path / "x.csv").write_text("0,1\n0,2\n")
    assert "line 2" in refused(*arguments, "x.csv", "--json")


def test_empty_force_field_is_a_lost_sample_and_no_error(ramphold, tmp_path, force):
    rows = [f"{i / 250.0},{f:.3f}" for i, f in enumerate(force("good", rate_hz=250.0))]
    whole, lossy = tmp_path / "whole.csv", tmp_path / "lossy.csv"
    whole.write_text("\n".join(rows))
    lossy.write_text("\n".join(row if i % 500 else row.partition(",")[0] + "," for i, row in enumerate(rows)))
    assert ramphold("analyse", whole, "--json").trials[0]["faults"] == []
    (trial,) = ramphold("analyse", lossy, "--json").trials
    assert [(fault["code"], fault["severity"]) for fault in trial["faults"]] == [("lost-samples", "warn")]
    assert trial["faults"][0]["text"].startswith("3 samples of the hold were lost")


@pytest.mark.parametrize("command", ["analyse", "replay"])
def test_binary_file_called_csv_is_told(refused, tmp_path, command):
    (tmp_path / "x.csv").write_bytes(bytes(range(256)) * 20)
    assert re.search(r"x\.csv, line \d+: is not text in UTF-8, so this is not a CSV file", refused(command, "x.csv"))


@pytest.mark.parametrize("command", ["analyse", "replay"])
def test_session_cut_short_is_told_at_any_length(refused, tmp_path, session_file, command):
    data = session_file.read_bytes()
    for length in (1, 20, 25, 100, 511, 2048, len(data) // 2, len(data) - 1):
        (tmp_path / "short.h5").write_bytes(data[:length])
        assert re.search(r"short\.h5: is (not a session file|damaged or cut short)", refused(command, "short.h5"))


def test_flipped_bit_in_a_session_is_told(refused, tmp_path, session_file):
    data = bytearray(session_file.read_bytes())
    data[len(data) // 2] ^= 1
    (tmp_path / "flipped.h5").write_bytes(data)
    assert "flipped.h5: is damaged or cut short, restore it from a copy" in refused("analyse", "flipped.h5")


@pytest.mark.parametrize("content", ["", "not a session\n", "time_s,force_n\n0,1\n1,2\n"])
def test_text_called_h5_is_told(refused, tmp_path, content):
    (tmp_path / "x.h5").write_text(content)
    assert "x.h5: is not a session file" in refused("analyse", "x.h5")


def test_session_called_csv_is_read_all_the_same(ramphold, tmp_path, session_file):
    path = tmp_path / "renamed.csv"
    path.write_bytes(session_file.read_bytes())
    assert len(ramphold("analyse", path, "--json").trials) == 3


@pytest.mark.parametrize("command", ["analyse", "replay"])
@pytest.mark.parametrize("name", ["none.csv", "none.h5"])
def test_missing_file_is_told(refused, command, name):
    assert refused(command, name).endswith(f"{name}: there is no such file")


def test_folder_in_place_of_a_file_is_told(refused, tmp_path):
    assert re.search(r"is a folder", refused("analyse", tmp_path))


def test_rate_for_a_file_with_times_is_told(refused, tmp_path):
    (tmp_path / "x.csv").write_text("0,1\n0.01,2\n")
    assert "leave out --rate" in refused("analyse", "x.csv", "--rate", 100)


def test_picture_in_a_missing_folder_is_told(ramphold, tmp_path):
    (tmp_path / "x.csv").write_text("0,1\n0.01,2\n")
    result = ramphold("analyse", tmp_path / "x.csv", "--picture", tmp_path / "none" / "x.png")
    assert result.code == 1
    assert result.err == f"ramphold: {tmp_path}/none/x.png: the picture cannot be written: No such file or directory\n"


def changed(path, source, old, new):
    text = source.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


@pytest.mark.parametrize("command", [("record", "--out", "a.h5", "--sensor"), ("check",)], ids=["record", "check"])
def test_profile_with_an_unknown_key_is_told(refused, tmp_path, command):
    changed(tmp_path / "mine.toml", SENSOR, "rate_hz =", "rate_herz =")
    assert re.search(r"mine\.toml, line \d+: .*rate_he?r", refused(*command, tmp_path / "mine.toml"))


def test_profile_with_a_wrong_value_is_told(refused, tmp_path):
    changed(tmp_path / "mine.toml", SENSOR, "count_bits = 24", 'count_bits = "many"')
    assert re.search(r"mine\.toml, line \d+: key count_bits", refused("check", tmp_path / "mine.toml"))


def test_profile_that_is_no_toml_is_told(refused, tmp_path):
    (tmp_path / "mine.toml").write_text("name = \n")
    assert re.search(r"mine\.toml, line 1: .*is not valid TOML", refused("check", tmp_path / "mine.toml"))


def test_unknown_profile_is_told_with_those_there_are(refused):
    sentence = refused("record", "--out", "a.h5", "--sensor", "none")
    assert "no sensor profile called none" in sentence
    assert "packets-1k" in sentence


def test_protocol_with_an_unknown_key_is_told(refused, tmp_path):
    (tmp_path / "x.csv").write_text("0,1\n0.01,2\n")
    changed(tmp_path / "mine.toml", PROTOCOL, "window_s = 0.5", "windows_s = 0.5")
    for command in (("analyse", "x.csv"), ("replay", "x.csv"), ("demo", "--out", "results")):
        assert re.search(r"mine\.toml: .*preload", refused(*command, "--protocol", tmp_path / "mine.toml"))


def test_unknown_protocol_is_told_with_those_there_are(refused, tmp_path):
    (tmp_path / "x.csv").write_text("0,1\n0.01,2\n")
    sentence = refused("analyse", "x.csv", "--protocol", "none")
    assert "no protocol called none" in sentence
    assert "ramp-and-hold" in sentence


@pytest.mark.parametrize("command", [("record", "--out", "a.h5", "--sensor"), ("check",)], ids=["record", "check"])
@pytest.mark.parametrize(
    ("port", "sentence"),
    [
        ("/dev/null", "/dev/null is not a serial port: choose one"),
        ("plain.txt", "plain.txt is not a serial port: choose one"),
        (".", ". is not a serial port: choose one"),
        ("/dev/no-such-port", "there is no port /dev/no-such-port: plug the sensor in"),
    ],
)
def test_port_that_is_none_is_told(refused, tmp_path, command, port, sentence):
    (tmp_path / "plain.txt").write_text("a file\n")
    assert sentence in refused(*command, "packets-1k", "--port", port)


def test_missing_port_option_is_told(refused):
    assert "say with --port" in refused("record", "--sensor", "packets-1k", "--out", "a.h5")
    assert "say with --port" in refused("check", "packets-1k")


@pytest.mark.parametrize("port", ["/dev/null", "COM3", "com12", r"\\.\COM10"])
def test_serial_port_for_a_bluetooth_profile_is_a_mistake_that_is_explained(refused, port):
    told = (
        f"{port} is a serial port, and ble-lines is the profile of a Bluetooth sensor: say with --port what the sensor"
    )
    assert told in refused("check", "ble-lines", "--port", port)


def test_sensor_that_says_nothing_is_told(refused, tmp_path):
    changed(tmp_path / "mute.toml", SENSOR, 'title = "', 'silent_after_s = 0.2\ntitle = "')
    with PseudoTerminal() as terminal:
        sentence = refused("check", tmp_path / "mute.toml", "--port", terminal.port)
    assert "within 0.2 s: check that it is switched on" in sentence


def test_sensor_that_speaks_another_language_is_told(refused, tmp_path):
    changed(tmp_path / "deaf.toml", SENSOR, 'title = "', 'silent_after_s = 0.2\ntitle = "')
    stop = threading.Event()
    with PseudoTerminal() as terminal:

        def babble():
            while not stop.wait(0.005):
                terminal.write(b"123,456\r\n")

        thread = threading.Thread(target=babble)
        thread.start()
        try:
            sentence = refused("check", tmp_path / "deaf.toml", "--port", terminal.port)
        finally:
            stop.set()
            thread.join()
    assert "nothing that can be understood" in sentence


def test_missing_out_folder_is_told(refused, tmp_path):
    sentence = refused("record", "--sensor", "simulated", "--out", tmp_path / "none" / "a.h5")
    assert sentence == f"ramphold: {tmp_path}/none: there is no such folder; create it or choose another --out"


@pytest.mark.parametrize("resume", [(), ("--resume",)], ids=["new", "resume"])
def test_folder_as_out_is_told(refused, tmp_path, resume):
    for out in (".", "/", tmp_path):
        assert "is a folder; say with --out" in refused("record", "--sensor", "simulated", "--out", out, *resume)


def test_out_that_exists_is_told_and_left_alone(refused, tmp_path):
    (tmp_path / "a.h5").write_text("mine\n")
    assert "a.h5: exists already; add --resume" in refused("record", "--sensor", "simulated", "--out", "a.h5")


def test_out_that_is_no_session_cannot_be_resumed(refused, tmp_path):
    (tmp_path / "a.h5").write_text("mine\n")
    sentence = refused("record", "--sensor", "simulated", "--out", "a.h5", "--resume")
    assert "a.h5: is not a session file" in sentence


def test_journal_that_is_none_is_told(refused, tmp_path):
    (tmp_path / "a.h5.journal").write_text("mine\n")
    sentence = refused("record", "--sensor", "simulated", "--out", "a.h5")
    assert "a.h5.journal: is not a journal" in sentence


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (("--battery", "none.toml"), "none.toml: there is no such file"),
        (("--battery", "mine.toml"), "mine.toml: .*"),
        (("--action", "knee-flip"), "there is no action knee-flip; there are: .*knee-flexion"),
        (("--calibration", "none.toml"), "none.toml: there is no such file"),
        (("--calibration", "mine.toml"), "mine.toml: .*"),
    ],
)
def test_wrong_plan_or_calibration_is_told(refused, tmp_path, options, sentence):
    (tmp_path / "mine.toml").write_text("[[thing]]\nkey = 1\n")
    assert re.search(sentence, refused("record", "--sensor", "simulated", "--out", "a.h5", *options))


def test_battery_with_an_unknown_action_is_told(refused, tmp_path):
    (tmp_path / "mine.toml").write_text('[[item]]\naction = "knee-flip"\n')
    sentence = refused("record", "--sensor", "simulated", "--out", "a.h5", "--battery", "mine.toml")
    assert "knee-flip" in sentence


def test_calibration_without_a_place_is_refused_before_anything_is_weighed(refused, tmp_path):
    where = tmp_path / "none" / "cell.toml"
    sentence = refused("check", "simulated", "--weights", "0,5", "--save", where)
    assert f"{where.parent}: there is no such folder" in sentence


def test_demo_into_a_file_is_told(refused, tmp_path):
    (tmp_path / "results").write_text("mine\n")
    assert "results: cannot be written to" in refused("demo", "--out", "results")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_folder_without_permission_is_told(refused, tmp_path):
    (tmp_path / "shut").mkdir(mode=0o500)
    assert "shut" in refused("demo", "--out", "shut")
    assert "shut" in refused("record", "--sensor", "simulated", "--out", "shut/a.h5")


def test_refusals_come_from_the_program_as_installed_too(started):
    result = started("analyse", "none.csv").wait()
    assert result == (1, "", "ramphold: none.csv: there is no such file")
