"""A profile written as a file: read again it is the same, and a person finds the reasons in it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.errors import ProfileError
from acquire.sensor.profile import FIELDS, Profile, known_profiles, load_profile
from acquire.sensor.profile_text import GROUPS, profile_text, save_profile

letters = st.text(st.characters(exclude_categories=["Cs"]))


def test_every_key_has_its_place_in_the_file():
    assert [key for group in GROUPS for key in group] == list(FIELDS)


@pytest.mark.parametrize("profile", known_profiles(), ids=lambda profile: profile.name)
def test_known_profile_is_read_again(profile, tmp_path):
    save_profile(tmp_path / "a.toml", profile_text(profile))
    assert load_profile(tmp_path / "a.toml") == profile


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("profiles")


profiles = st.builds(
    Profile,
    name=st.from_regex(r"[a-z0-9]+(-[a-z0-9]+)*", fullmatch=True),
    title=letters.filter(lambda text: text and "\n" not in text),
    baud=st.integers(1, 10**7),
    framing=st.just("lines"),
    columns=st.sampled_from([("counts",), ("ms", "counts"), ("-", "value", "seq", "-")]),
    separator=st.sampled_from(",;:| \t"),
    count_bits=st.sampled_from([16, 24, 32]),
    sequence_bits=st.integers(1, 32),
    rate_hz=st.floats(1e-3, 50_000.0),
    rated_force_n=st.floats(1e-3, 1e6),
    counts_per_newton=st.floats(1e-3, 1e6) | st.floats(-1e6, -1e-3),
    sensitivity=st.sampled_from(["nominal", "unknown"]),
    zero_counts=st.floats(-1e9, 1e9),
    start=st.text(st.characters(max_codepoint=127)),
    stop=st.text(st.characters(max_codepoint=127)),
)


@pytest.mark.slow
@given(profiles, st.dictionaries(st.sampled_from(list(FIELDS)), letters), letters)
def test_any_profile_is_read_again_whatever_is_said_about_it(folder, profile, comments, heading):
    comments = {key: said for key, said in comments.items() if key not in ("service", "characteristic", "tick_hz")}
    path = folder / "a.toml"
    path.write_text(profile_text(profile, comments=comments, heading=heading), encoding="utf-8", newline="\n")
    assert load_profile(path) == profile


def test_reason_stands_above_its_key_and_long_ones_are_wrapped():
    text = profile_text(load_profile("bridge-80"), comments={"rate_hz": "sure: " + "by its own clock " * 20})
    lines = text.splitlines()
    at = lines.index("rate_hz = 80.0")
    assert lines[at - 1].startswith("# ")
    assert lines[at - 4].startswith("# sure: by its own clock")
    assert max(map(len, lines)) <= 112


def test_key_with_a_comment_is_written_though_it_has_its_default():
    profile = load_profile("bridge-80")
    assert "baud" not in profile_text(profile)
    assert "# so it was found\nbaud = 115200\n" in profile_text(profile, comments={"baud": "so it was found"})


def test_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(ProfileError, match=r"cannot write the profile .*a\.toml: No such file"):
        save_profile(tmp_path / "no" / "a.toml", "")


def test_failed_write_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "a.toml"
    path.write_text("old")
    monkeypatch.setattr("os.fsync", lambda _: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(ProfileError, match="No space left on device"):
        save_profile(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]
