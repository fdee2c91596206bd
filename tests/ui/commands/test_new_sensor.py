"""A sensor that nobody has described: looked at live and from files, by a person and by a script."""

import asyncio
import json
import re
import tomllib
from pathlib import Path

import pytest
from bluez import Peer
from emulated import Person, UnknownSensor
from pushed import captured, text_frames

from acquire.decoders import encode_packet, packet_body
from acquire.discovery import Legibility, Task, discover, listening
from acquire.discovery.capture_file import read_capture, write_capture
from acquire.errors import DiscoveryError
from acquire.links.bluetooth_services import Notifier
from acquire.sensor.profile import load_profile
from ui.commands.dialogue import Dialogue
from ui.commands.proposal_text import proposal_table
from ui.commands.terminal_guide import TerminalGuide
from ui.session import describe_sensor
from ui.session.describe_sensor import choose_notifier

pytestmark = pytest.mark.slow

SERVICE = "5a1c7e0d-2f7b-4c5e-9a51-0d8f3b6c2e11"
CHARACTERISTIC = "5a1c7e0d-2f7b-4c5e-9a51-0d8f3b6c2e12"


@pytest.fixture(autouse=True)
def in_own_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def person(monkeypatch):
    """Somebody who hears what the program says; time is short."""
    for name, seconds in (("QUIET_S", 1.0), ("PUSH_S", 0.7), ("LET_GO_S", 0.2), ("WEIGHED_S", 0.5)):
        monkeypatch.setattr(describe_sensor, name, seconds)
    monkeypatch.setattr(listening, "WAKE_S", 0.5)
    monkeypatch.setattr(listening, "HEAR_S", 0.3)

    def somebody(*answers, **options):
        body = Person(answers, **options)
        tell = Dialogue.tell

        def heard(self, sentence):
            body.hear(sentence)
            tell(self, sentence)

        monkeypatch.setattr(Dialogue, "tell", heard)
        return body

    return somebody


@pytest.fixture
def plug():
    opened = []

    def plug(frames, **options):
        opened.append(UnknownSensor(frames, **options))
        return opened[-1]

    yield plug
    for sensor in opened:
        sensor.close()


def lines(person, write, rate_hz=80.0):
    return ((due, f"{write(number, due, force)}\r\n".encode()) for number, due, force in person.forces(rate_hz))


def stamped(_, due, force):
    return f"{round(due * 1e3)};{round(12_345 - 842.7 * force)}"


@pytest.fixture
def kept(tmp_path):
    """A capture as a journal."""

    def keep(write=lambda row: f"{round(row.seconds * 1e3)},{row.counts}", name="kept.journal", **options):
        write_capture(tmp_path / name, captured(text_frames(write, **options)))
        return tmp_path / name

    return keep


# live, with a person


def test_sensor_is_described_by_a_person_who_pushes_and_answers(ramphold, plug, person):
    body = person("", "", "400", "y")
    sensor = plug(lines(body, stamped), baud=57_600)
    result = ramphold("sensors", "--new", "--port", sensor.port, "--out", "my grip.toml", stdin=body)
    assert result.code == 0, result.err
    profile = load_profile("my grip.toml")
    assert (profile.name, profile.baud, profile.columns, profile.separator) == (
        "my-grip",
        57_600,
        ("ms", "counts"),
        ";",
    )
    assert (profile.rate_hz, profile.rated_force_n, profile.sensitivity) == (80.0, 400.0, "unknown")
    assert profile.rating == "stated"
    assert profile.counts_per_newton < 0
    assert profile.zero_counts == pytest.approx(12_345, abs=30)
    assert "115200 bit/s" in result.err
    assert "nothing that could be read" in result.err
    assert result.out.splitlines()[-1] == f"Next: ramphold check 'my grip.toml' --port {sensor.port} --weights 0,5,10"
    again = ramphold("check", "my grip.toml", "--port", sensor.port, "--seconds", "0.5")
    assert again.code == 0, again.err
    assert "the sensitivity is a guess, and so is every newton" in again.out


def test_missed_push_is_asked_for_again(ramphold, plug, person):
    body = person("", "", "", "", "y", misses=1)
    sensor = plug(lines(body, stamped))
    result = ramphold("sensors", "--new", "--port", sensor.port, stdin=body)
    assert result.code == 0, result.err
    assert "No push was seen. Once more:" in body.told
    assert load_profile("new-sensor.toml").counts_per_newton < 0


def test_known_weight_gives_the_sensitivity(ramphold, plug, person, monkeypatch):
    body = person("", "5", "", "", "y")
    sensor = plug(lines(body, stamped))
    asked = Dialogue.wait_for_enter

    def hang(self, sentence):
        if sentence.startswith("Hang or lay 5 kg"):
            body.force_n = 5.0 * 9.80665  # standard gravity: 3rd General Conference on Weights and Measures, 1901
        return asked(self, sentence)

    monkeypatch.setattr(Dialogue, "wait_for_enter", hang)
    result = ramphold("sensors", "--new", "--port", sensor.port, stdin=body)
    assert result.code == 0, result.err
    profile = load_profile("new-sensor.toml")
    assert profile.counts_per_newton == pytest.approx(-842.7, rel=5e-3)
    assert profile.sensitivity == "nominal"
    assert result.out.splitlines()[-1] == f"Next: ramphold check new-sensor.toml --port {sensor.port}"


def test_answers_that_make_no_sense_are_asked_for_again(ramphold, plug, person):
    body = person("", "five", "-5", "", "", "stone", "kgf", "y")
    sensor = plug(lines(body, lambda _, __, force: f"{force / 9.80665:.3f}"))
    result = ramphold("sensors", "--new", "--port", sensor.port, stdin=body)
    assert result.code == 0, result.err
    assert "'five' is not a number above 0; type one, or only Enter." in body.told
    assert "'-5' is not a number above 0; type one, or only Enter." in body.told
    profile = load_profile("new-sensor.toml")
    assert profile.columns == ("value",)
    assert profile.counts_per_newton == pytest.approx(1.0 / 9.80665)


def test_script_gets_json_and_the_profile_of_a_sensor_that_must_be_started(ramphold, plug, person):
    body = person()
    packets = (
        (due, encode_packet(number % 65536, round(due * 1e6), [round(4000.0 * force)] * 10, count_bits=24))
        for number, due, force in body.forces(100.0)
    )
    sensor = plug(packets, start=b"start\n")
    options = ("--start", r"start\n", "--stop", r"stop\n", "--rated", "900", "--counts-per-newton", "4000")
    result = ramphold("sensors", "--new", "--port", sensor.port, "--yes", "--json", "--name", "grip", *options)
    assert result.code == 0, result.err
    found = {finding["key"]: finding for finding in result.json["findings"]}
    assert found["framing"]["value"] == "packets"
    assert (found["rate_hz"]["value"], found["tick_hz"]["value"]) == (1000.0, 1e6)
    assert {found[key]["confidence"] for key in ("start", "stop", "rated_force_n", "counts_per_newton")} == {"given"}
    assert result.json["push_seen"] is True
    assert result.json["written"] == "grip.toml"
    profile = load_profile("grip.toml")
    assert (profile.start, profile.stop, profile.counts_per_newton) == ("start\n", "stop\n", 4000.0)
    assert sensor.heard.startswith(b"start\n")


def test_unplugged_sensor_is_told_and_what_came_is_kept(ramphold, plug, person):
    body = person()
    sensor = plug(lines(body, stamped))
    hear = body.hear

    def pull_the_plug(sentence):
        hear(sentence)
        if "PUSH" in sentence:
            sensor.close()

    body.hear = pull_the_plug
    result = ramphold("sensors", "--new", "--port", sensor.port, "--yes", "--keep", "kept.journal")
    assert result.code == 1
    assert "was unplugged" in result.err
    kept = read_capture("kept.journal")
    assert kept.seconds > 0.8
    assert kept.told(Task.QUIET) is not None


BINARY = [(n / 80.0, bytes([0xAA, 0x55, n % 251, n * 7 % 251, n * 11 % 251, 9])) for n in range(2000)]


@pytest.mark.parametrize(
    ("frames", "why"),
    [((), "nothing came: check that the sensor is switched on"), (BINARY, "neither text lines nor packets")],
    ids=["silent", "binary"],
)
def test_sensor_that_cannot_be_read_is_told_before_anybody_pushes(ramphold, plug, person, frames, why):
    body = person()
    sensor = plug(frames, baud=9600)
    result = ramphold("sensors", "--new", "--port", sensor.port, "--yes", "--baud", "9600")
    assert result.code == 1
    assert why in result.err
    assert not any("PUSH" in sentence for sentence in body.told)


def test_port_that_is_not_there(ramphold):
    result = ramphold("sensors", "--new", "--port", "/dev/ttyNONE", "--yes")
    assert result.code == 1
    assert "there is no port /dev/ttyNONE" in result.err


def test_answer_that_does_not_come_is_told(ramphold, plug, person):
    body = person()
    sensor = plug(lines(body, stamped))
    result = ramphold("sensors", "--new", "--port", sensor.port)
    assert result.code == 1
    assert "the input ended before the answer: run it in a terminal, or add --yes" in result.err


# over Bluetooth


def test_bluetooth_sensor_is_described(ramphold, air, person):
    body = person()
    peer = air.bluez.add(Peer("Grip-07", SERVICE, CHARACTERISTIC))
    values = (
        packet_body(number % 65536, round(due * 32_768), [round(4200.0 * force)] * 10, count_bits=24)
        for number, due, force in body.forces(50.0)
    )

    async def play():
        for value in values:
            await asyncio.sleep(0.02)
            air.bluez._notify(peer, [value])

    playing = air.bluez.run(play())
    result = ramphold("sensors", "--new", "--port", "Grip-07", "--bluetooth", "--yes", "--keep", "kept.journal")
    playing.cancel()
    assert result.code == 0, result.err
    profile = load_profile("new-sensor.toml")
    assert (profile.link, profile.service, profile.characteristic) == ("bluetooth", SERVICE, CHARACTERISTIC)
    assert (profile.framing, profile.count_bits) == ("packets", 24)
    assert "bare, one a notification" in result.out
    again = ramphold("sensors", "--new", "--capture", "kept.journal", "--out", "again.toml", "--yes")
    assert again.code == 0, again.err
    assert load_profile("again.toml").characteristic == CHARACTERISTIC


def test_of_several_characteristics_the_one_that_reads_is_taken():
    found = [Notifier(SERVICE, f"{n}") for n in range(3)]
    heard = {"0": (0.0, 0), "1": (0.9, 40), "2": (0.5, 3)}

    def listen_to(each):
        share, frames = heard[each.characteristic]
        return Legibility(share=share, frames=frames, what="lines of numbers")

    assert choose_notifier(found, listen_to, TerminalGuide(Dialogue(silent=True))) == found[1]


def test_only_characteristic_is_taken_unheard():
    found = [Notifier(SERVICE, CHARACTERISTIC)]
    assert choose_notifier(found, lambda _: pytest.fail("heard"), TerminalGuide(Dialogue(silent=True))) == found[0]


def test_characteristics_that_send_nothing_are_told():
    nothing = Legibility(share=0.0, frames=0, what="lines or packets")
    guide = TerminalGuide(Dialogue(silent=True))
    with pytest.raises(DiscoveryError, match="none of its characteristics sends lines or packets"):
        choose_notifier([Notifier("a", "b"), Notifier("a", "c")], lambda _: nothing, guide)


# from files


def test_captured_journal_is_described_and_written(ramphold, kept):
    result = ramphold("sensors", "--new", "--capture", kept(), "--yes")
    assert result.code == 0, result.err
    profile = load_profile("new-sensor.toml")
    assert (profile.columns, profile.rate_hz) == (("ms", "counts"), 80.0)
    rows = {line.split()[0]: line for line in result.out.splitlines() if line.split()[:1]}
    assert re.search(r'\["ms", "counts"\] +sure', rows["columns"])
    assert re.search(r"115200 +guess +a file does not tell", rows["baud"])
    assert "push: +" in result.out
    assert "Next: ramphold check new-sensor.toml --port PORT --weights 0,5,10" in result.out


def test_bytes_alone_are_described_with_a_rate(ramphold, tmp_path):
    data = b"".join(data for _, data in text_frames(lambda row: f"{row.counts}"))
    (tmp_path / "raw.bin").write_bytes(data)
    without = ramphold("sensors", "--new", "--capture", "raw.bin", "--yes")
    assert without.code == 1
    assert "give it with --rate" in without.err
    result = ramphold("sensors", "--new", "--capture", "raw.bin", "--yes", "--rate", "80", "--baud", "9600")
    assert result.code == 0, result.err
    assert (load_profile("new-sensor.toml").rate_hz, load_profile("new-sensor.toml").baud) == (80.0, 9600)


def test_file_says_of_each_key_how_sure_it_is_and_why(ramphold, kept):
    ramphold("sensors", "--new", "--capture", kept(), "--yes", "--title", "Grip of bench 3")
    text = Path("new-sensor.toml").read_text(encoding="utf-8")
    assert text.startswith("# Found by 'ramphold sensors --new' on ")
    assert 'title = "Grip of bench 3"' in text
    for key in set(tomllib.loads(text)) - {"name", "title"}:
        assert re.search(rf"# [^\n]*\n{key} = ", text), key
    assert re.search(r"# guess: nobody told: run 'ramphold check' with --weights", text)


def test_nothing_is_written_unless_the_user_agrees(ramphold, kept):
    answers = Person(["n"])
    result = ramphold("sensors", "--new", "--capture", kept(), stdin=answers)
    assert result.code == 0
    assert "Write this profile to new-sensor.toml? [y/N]" in result.err
    assert "Nothing was written." in result.out
    assert not Path("new-sensor.toml").exists()


@pytest.mark.parametrize(("answer", "replaced"), [("n", False), ("", False), ("y", True)])
def test_file_that_is_there_is_replaced_only_when_asked(ramphold, kept, tmp_path, answer, replaced):
    (tmp_path / "mine.toml").write_text("old")
    result = ramphold("sensors", "--new", "--capture", kept(), "--out", "mine.toml", stdin=Person(["y", answer]))
    assert result.code == 0
    assert ((tmp_path / "mine.toml").read_text() != "old") is replaced
    assert ("Next:" in result.out) is replaced


def test_script_never_replaces_a_file(ramphold, kept, tmp_path):
    (tmp_path / "mine.toml").write_text("old")
    result = ramphold("sensors", "--new", "--capture", kept(), "--out", "mine.toml", "--yes")
    assert result.code == 1
    assert "mine.toml: is there already" in result.err
    assert (tmp_path / "mine.toml").read_text() == "old"


def test_json_of_a_file_that_is_not_written(ramphold, kept):
    content = ramphold("sensors", "--new", "--capture", kept(), "--json", stdin=Person(["n"])).json
    assert (content["written"], content["next"]) == (None, None)
    assert content["findings"][0]["key"] == "baud"
    assert set(content["measured"]) == {"noise", "push", "read with this profile", "lost samples"}
    assert json.dumps(content)


def test_slow_sensor_is_told_what_the_protocol_makes_of_it(ramphold, kept):
    warned = ramphold("sensors", "--new", "--capture", kept(rate_hz=20.0), "--yes", "--out", "a.toml")
    assert "Below 80 Hz every trial is warned of" in warned.out
    slow = kept(name="slow.journal", rate_hz=8.0)
    rejected = ramphold("sensors", "--new", "--capture", slow, "--yes", "--out", "b.toml")
    assert "Below 10 Hz every trial is rejected" in rejected.out


def test_decimal_numbers_are_of_the_unit_that_is_told(ramphold, kept):
    path = kept(lambda row: f"{row.newtons:.2f}")
    ramphold("sensors", "--new", "--capture", path, "--yes", "--unit", "N")
    assert load_profile("new-sensor.toml").columns == ("n",)


def test_what_is_no_sensor_is_refused_in_one_line(ramphold, tmp_path):
    (tmp_path / "raw.bin").write_bytes(bytes(range(256)) * 4)
    result = ramphold("sensors", "--new", "--capture", "raw.bin", "--yes")
    assert result.code == 1
    assert result.out == ""
    assert result.err.startswith("ramphold: these bytes are neither text lines nor packets")
    assert result.err.count("\n") == 1


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--out", "no/a.toml", "--capture", "x"), "no: there is no such folder; create it or choose another --out"),
        (("--keep", "no/a.journal", "--port", "x"), "no: there is no such folder; create it or choose another --keep"),
        (("--keep", "there", "--port", "x"), "there: is there already; choose another --keep"),
        (("--capture", "nowhere"), "nowhere: there is no such file"),
    ],
)
def test_files_are_looked_at_before_anything_else(ramphold, tmp_path, options, why):
    (tmp_path / "there").write_text("")
    result = ramphold("sensors", "--new", *options)
    assert (result.code, result.err) == (1, f"ramphold: {why}\n")


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--new",), "--new needs --port, where the sensor is, or --capture"),
        (("--new", "--port", "a", "--capture", "b"), "--new needs --port, where the sensor is, or --capture"),
        (("--port", "a"), "--port is for --new"),
        (("--start", "go"), "--start is for --new"),
        (("--yes",), "--yes is for --new"),
        (("--new", "--port", "a", "--bluetooth", "--baud", "9600"), "a Bluetooth sensor has no baud rate"),
        (("--new", "--capture", "a", "--bluetooth"), "--bluetooth goes with --port alone"),
        (("--new", "--capture", "a", "--weight", "5"), "--weight and --keep are for a sensor that is there"),
        (("--new", "--port", "a", "--name", "My Grip"), "must be lower-case letters, digits and single hyphens"),
        (("--new", "--port", "a", "--start", "\u00e9"), "must be ASCII characters"),
        (("--new", "--port", "a", "--baud", "0"), "must be 1 or more, got 0"),
        (("--new", "--port", "a", "--rate", "-1"), "must be above 0, got -1"),
    ],
)
def test_wrong_usage_is_told(ramphold, options, why):
    result = ramphold("sensors", *options)
    assert result.code == 2
    assert why in result.err


@pytest.mark.parametrize(
    ("typed", "sent"),
    [(r"go\n", "go\n"), (r"a\r\n", "a\r\n"), (r"\x01\t", "\x01\t"), (r"a\\n", "a\\n"), ("plain", "plain")],
)
def test_commands_are_typed_as_a_shell_can_give_them(ramphold, kept, typed, sent):
    ramphold("sensors", "--new", "--capture", kept(), "--yes", "--start", typed)
    assert load_profile("new-sensor.toml").start == sent


def test_list_of_sensors_says_where_to_go_on(ramphold):
    assert (
        "A sensor that is none of these: ramphold sensors --new --port PORT" in ramphold("sensors", "--listen", "0").out
    )


def test_table_is_wrapped_to_the_terminal(kept):
    proposal = discover(read_capture(kept()))
    for width in (80, 120):
        assert max(map(len, proposal_table(proposal, width=width).splitlines())) <= width
