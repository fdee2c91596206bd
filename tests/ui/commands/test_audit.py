"""`ramphold audit` as its user meets it: what it prints and writes, goes on with, and does not open twice."""

import csv
import datetime as dt
import shutil
from pathlib import Path

import distributed
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from pypdf import PdfReader

from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from analysis.audit import archive as walked
from analysis.audit.recipe import recipe_of
from analysis.trial.protocol import load_protocol
from ui.commands.audit import LEFT_OUT
from ui.model.audit.work import STORE, TerminalProgress, audit_archive
from ui.words.words import ENGLISH, Words

PLAN = ArchivePlan(
    examiners=(Examiner(code="EX-1", habits={"fast-ramp": 0.5}), *(Examiner(code=f"EX-{n}") for n in (2, 3, 4))),
    sessions_each=8,
    trials_each=6,
    rate_hz=100.0,
)


PARTIES = ("client", "scheduler", "worker")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("made")
    write_archive(folder, PLAN, seed=7)
    audit_archive(folder, load_protocol(), mapper=map)  # once: what is kept is copied with the rest
    return folder


@pytest.fixture
def archive(made, tmp_path):
    return Path(shutil.copytree(made, tmp_path / "archive"))


@pytest.mark.slow
def test_findings_are_printed_with_advice(ramphold, archive):
    (archive / STORE).unlink()
    result = ramphold("audit", archive, "--processes", "1")
    assert result.code == 0, result.err
    assert "32 sessions, 192 trials, judged by ramp-and-hold" in result.out
    (row,) = [line for line in result.out.splitlines() if line.startswith("EX-1 ")]
    assert "ramp too fast" in row
    assert "ask the person to build up over one to two seconds" in result.out
    assert sum("nothing stands out" in line for line in result.out.splitlines()) == 3


def test_second_audit_opens_no_trace(ramphold, archive, monkeypatch):
    first = ramphold("audit", archive, "--processes", "1", "--json").json

    def opened(path):
        raise AssertionError(f"{path} was opened")

    monkeypatch.setattr(walked, "read_session", opened)
    assert ramphold("audit", archive, "--processes", "1", "--json").json == first


@pytest.mark.slow
def test_changed_file_is_noticed_and_a_lost_one_forgotten(ramphold, archive):
    ramphold("audit", archive, "--processes", "1")
    shutil.copy(archive / "EX-2" / "00001.h5", archive / "EX-2" / "00002.h5")
    (archive / "EX-3" / "00000.h5").unlink()
    before = ramphold("audit", archive, "--processes", "1", "--json").json
    (archive / STORE).unlink()
    assert ramphold("audit", archive, "--processes", "1", "--json").json == before
    assert before["sessions"] == 30


def test_unreadable_file_is_told_and_the_rest_is_audited(ramphold, archive):
    (archive / STORE).unlink()  # what was measured is not opened again
    path = archive / "EX-2" / "00003.h5"
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    result = ramphold("audit", archive, "--processes", "1")
    assert result.code == LEFT_OUT == 3
    assert "not read: EX-2/00003.h5" in result.out
    assert "is damaged" in result.out
    assert "31 sessions" in result.out
    assert ramphold("audit", archive, "--processes", "1", "--json").json["left_out"] == 1


@pytest.mark.slow
def test_two_processes_give_the_very_same(ramphold, archive):
    alone = ramphold("audit", archive, "--processes", "1", "--json").out
    (archive / STORE).unlink()
    assert ramphold("audit", archive, "--processes", "2", "--json").out == alone


@pytest.mark.slow
def test_cluster_of_two_workers_gives_the_very_same(ramphold, archive):

    alone = ramphold("audit", archive, "--processes", "1", "--json").out
    (archive / STORE).unlink()
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        result = ramphold("audit", archive, "--cluster", cluster.scheduler_address, "--json")
    assert result.out == alone


@pytest.mark.slow
def test_cluster_that_speaks_tls_takes_only_who_has_the_keys(ramphold, archive, tmp_path):
    alone = ramphold("audit", archive, "--processes", "1", "--json").out
    (archive / STORE).unlink()
    ca, cert, key = certificates(tmp_path)
    whose = {f"tls_{who}_{what}": path for who in PARTIES for what, path in (("cert", cert), ("key", key))}
    security = distributed.Security(tls_ca_file=ca, require_encryption=True, **whose)
    options = {"n_workers": 1, "processes": False, "dashboard_address": None, "security": security}
    with distributed.LocalCluster(protocol="tls", **options) as cluster:
        address = cluster.scheduler_address
        assert address.startswith("tls://")
        without = ramphold("audit", archive, "--cluster", address)
        assert (without.code, f"no cluster answers at {address}" in without.err) == (1, True)
        keys = ("--tls-ca", ca, "--tls-cert", cert, "--tls-key", key)
        assert ramphold("audit", archive, "--cluster", address, *keys, "--json").out == alone


def certificates(folder):
    """Make a certificate of its own authority, for this test alone; return the files of authority, certificate, key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "test")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem = made.public_bytes(serialization.Encoding.PEM)
    secret = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    for place, content in (("ca.pem", pem), ("cert.pem", pem), ("key.pem", secret)):
        (folder / place).write_bytes(content)
    return tuple(str(folder / place) for place in ("ca.pem", "cert.pem", "key.pem"))


def test_keys_of_a_cluster_belong_together(ramphold, archive):
    result = ramphold("audit", archive, "--cluster", "tls://127.0.0.1:9", "--tls-ca", "ca.pem")
    assert result.code == 2
    assert "--tls-ca, --tls-cert and --tls-key belong together" in result.err


def test_cluster_that_is_not_there_is_told(ramphold, archive, monkeypatch):

    def nobody(address, timeout):
        raise OSError(f"timed out connecting to {address} after {timeout} s")

    monkeypatch.setattr(distributed, "Client", nobody)
    result = ramphold("audit", archive, "--cluster", "tcp://127.0.0.1:9")
    assert result.code == 1
    assert "no cluster answers at tcp://127.0.0.1:9" in result.err


@pytest.mark.slow
def test_ctrl_c_keeps_what_is_done_and_the_next_run_goes_on(started, archive, ramphold):
    slow = archive / "more"
    write_archive(slow, ArchivePlan(examiners=(Examiner(code="EX-9"),), sessions_each=60, trials_each=10), seed=1)
    program = started("audit", archive)
    program.err.until("sessions, about")
    program.press_ctrl_c()
    stopped = program.wait()
    assert stopped.code == 130
    with walked.MeasuredStore(archive / STORE) as store:
        kept = len(store.fingerprints(recipe_of(load_protocol())))
    assert kept > 0
    assert ramphold("audit", archive, "--json").json["sessions"] == 92


def test_tables_hold_every_trial_and_every_comparison(ramphold, archive, tmp_path):
    out = tmp_path / "tables"
    ramphold("audit", archive, "--processes", "1", "--csv", out)
    with (out / "trials.csv").open(newline="") as file:
        trials = list(csv.DictReader(file))
    assert len(trials) == 192
    hasty = [row for row in trials if row["examiner"] == "EX-1" and "fast-ramp" in row["faults"].split()]
    with (out / "examiners.csv").open(newline="") as file:
        (share,) = [r for r in csv.DictReader(file) if (r["examiner"], r["fault"]) == ("EX-1", "fast-ramp")]
    assert int(share["count"]) == len(hasty)
    assert share["finding"] == "1"
    assert {path.name for path in out.iterdir()} == {"examiners.csv", "technique.csv", "signals.csv", "trials.csv"}


@pytest.mark.slow
def test_pages_and_coaching_sheet_are_written(ramphold, archive, tmp_path):
    pages, sheet = tmp_path / "audit.pdf", tmp_path / "sheet.pdf"
    result = ramphold("audit", archive, "--processes", "1", "--pdf", pages, "--coach", "EX-1", "--sheet", sheet)
    assert result.code == 0, result.err
    text = "".join(page.extract_text() for page in PdfReader(pages).pages)
    assert "Audit of examiners" in text
    assert "not a medical device" in text
    (page,) = PdfReader(sheet).pages
    said = page.extract_text()
    assert "Coaching sheet: EX-1" in said
    assert "1. ramp too fast" in said


def test_coaching_of_somebody_unknown_names_who_there_is(ramphold, archive, tmp_path):
    result = ramphold("audit", archive, "--processes", "1", "--coach", "EX-7", "--sheet", tmp_path / "s.pdf")
    assert result.code == 1
    assert "no trial is by an examiner EX-7; there are: EX-1, EX-2, EX-3, EX-4" in result.err


def test_blind_audit_prints_no_code(ramphold, archive):
    result = ramphold("audit", archive, "--processes", "1", "--blind", "--json")
    assert "EX-" not in result.out
    assert ramphold("audit", archive, "--blind", "--coach", "EX-1").code == 2


def test_folder_that_is_not_there_is_told(ramphold, tmp_path):
    result = ramphold("audit", tmp_path / "none")
    assert result.code == 1
    assert "there is no such folder" in result.err


def test_file_instead_of_a_folder_is_told(ramphold, tmp_path):
    (tmp_path / "a.h5").touch()
    result = ramphold("audit", tmp_path / "a.h5")
    assert result.code == 1
    assert "a.h5: is a file: give the folder that it lies in" in result.err


def test_archive_without_sessions_says_so(ramphold, tmp_path):
    result = ramphold("audit", tmp_path, "--processes", "1")
    assert result.code == 0
    assert "0 sessions, 0 trials" in result.out


def test_progress_tells_the_time_left(capsys):
    now = iter([0.0, 0.0, 0.5, 2.0, 40.0])
    told = TerminalProgress(ENGLISH, clock=lambda: next(now))
    for done in (0, 1, 10, 400):
        told(done, 1000)
    lines = capsys.readouterr().err.splitlines()
    assert lines == ["10 of 1000 sessions, about 3 min left", "400 of 1000 sessions, about 60 s left"]


@pytest.mark.slow
def test_german_is_for_text_pages_and_sheet(ramphold, archive, tmp_path):
    pages, sheet = tmp_path / "audit.pdf", tmp_path / "sheet.pdf"
    result = ramphold("audit", archive, "--language", "de", "--pdf", pages, "--coach", "EX-1", "--sheet", sheet)
    assert result.code == 0, result.err
    words = Words("de")
    assert words("audit_paper.sessions", count=32) in result.out
    assert words("audit.written", path=pages) in result.err
    for path, key in ((pages, "audit_paper.words_title"), (sheet, "audit_paper.coach.time")):
        assert words(key) in "".join(page.extract_text() for page in PdfReader(path).pages)
