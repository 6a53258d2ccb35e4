import tomllib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.errors import InputError
from judging.piece import read_piece
from judging.piece.piece import Piece
from judging.shipped import shipped
from judging.sounding import Character, Lateness, Ringing, human_log, make_recording, read_ringing

GOOD = """ringing = 1
[bells]
number = 4
seed = 3
[[recording]]
entry = "a"
piece = "hunt"
seed = 5
peal_minutes = 120
handstroke_gap = 0.9
room = "church"
noise = "street"
signal_to_noise_db = 15
[recording.character]
spread_ms = 19
late = [{ bell = 4, stroke = "back", late_ms = 30 }]
"""


def demo() -> tuple[str, Ringing]:
    text = (shipped("demo_contest") / "ringing.toml").read_text(encoding="utf-8")
    return text, read_ringing(text, name="ringing.toml")


def test_a_file_says_who_rings_what_how_and_where() -> None:
    (spec,) = read_ringing(GOOD, name="r").recordings

    assert (spec.entry, spec.piece, spec.seed, spec.peal_minutes, spec.handstroke_gap) == ("a", "hunt", 5, 120.0, 0.9)
    assert (spec.room.name, spec.noise.kind, spec.noise.signal_to_noise_db) == ("church", "street", 15.0)
    assert spec.character == Character(spread_ms=19.0, late=(Lateness(4, "back", 30.0),))
    assert len(spec.bells) == 4


@pytest.mark.parametrize(
    ("found", "put", "match"),
    [
        ("ringing = 1", "ringing = 2", "version 1"),
        ("ringing = 1", "", "ringing is missing"),
        ("ringing = 1", "ringing = true", "not a int"),
        ("ringing = 1\n", "", "ringing is missing"),
        ("number = 4", "number = 40", "1 to 16"),
        ("number = 4", "number = 4\nsize = 3", "unknown key 'size'"),
        ("seed = 3", "seed = -3", "seed"),
        ("seed = 5", "seed = -5", "recording.* 1, seed"),
        ("peal_minutes = 120", "peal_minutes = 12", "recording.* 1, peal_minutes.*30"),
        ('room = "church"', 'room = "barn"', "recording.* 1, room.*barn"),
        ('noise = "street"', 'noise = "choir"', "recording.* 1, noise.*choir"),
        ("signal_to_noise_db = 15", "", "signal_to_noise_db is missing"),
        ("signal_to_noise_db = 15", "signal_to_noise_db = nan", "signal_to_noise_db"),
        ("spread_ms = 19", 'spread_ms = "19"', "spread_ms"),
        ("spread_ms = 19", "spread_ms = 1900", "character, spread_ms"),
        ("spread_ms = 19", "speed = 19", "unknown key 'speed'"),
        ('stroke = "back"', 'stroke = "tail"', "late 1, stroke"),
        ("bell = 4", "bell = 0", "late 1, bell.*from 1"),
        ('stroke = "back", ', "", "stroke is missing"),
        ("late = [{", "mistakes = [{", "mistakes 1.*unknown key"),
        ('entry = "a"', 'entry = "a"\nentry = "b"', "not TOML"),
        ("[[recording]]", "[recording]", "recording"),
    ],
)
def test_what_is_wrong_with_a_file_is_said_with_its_place(found: str, put: str, match: str) -> None:
    assert found in GOOD
    with pytest.raises(InputError, match=match) as told:
        read_ringing(GOOD.replace(found, put, 1), name="ringing.toml")
    assert str(told.value).startswith("ringing.toml")


def test_an_entry_has_one_recording() -> None:
    twice = GOOD + GOOD[GOOD.index("[[recording]]") :]
    with pytest.raises(InputError, match="2 recordings of 'a'"):
        read_ringing(twice, name="r")
    with pytest.raises(InputError, match="'b'"):
        read_ringing(GOOD, name="r").of("b")


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_damaged_file_is_refused_and_never_a_crash(data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(GOOD) - 1))
    stop = data.draw(st.integers(start, min(len(GOOD), start + 30)))
    damaged = GOOD[:start] + data.draw(st.text(max_size=5)) + GOOD[stop:]
    with suppress(InputError):
        assert isinstance(read_ringing(damaged, name="r"), Ringing)
        tomllib.loads(damaged)


def test_a_recording_holds_the_touch_on_its_own_clock(tmp_path: Path, hunting: Callable[..., Piece]) -> None:
    spec = read_ringing(GOOD, name="r").of("a")
    shares = []
    touch = make_recording(spec, hunting(4, rows=6), tmp_path / "a.wav", progress=lambda share, _: shares.append(share))
    samples, rate = soundfile.read(tmp_path / "a.wav")
    rung = human_log(
        hunting(4, rows=6),
        spec.character,
        peal_minutes=spec.peal_minutes,
        handstroke_gap=spec.handstroke_gap,
        seed=spec.seed,
    )

    assert 1 <= touch.log.times_s[0] <= 3
    assert np.diff(touch.log.times_s) == pytest.approx(np.diff(rung.log.times_s), abs=1e-9)
    assert np.array_equal(touch.log.times_s, touch.times_s[touch.row, touch.place - 1])
    assert len(samples) / rate == pytest.approx(touch.log.times_s[-1] + 4, abs=0.01)
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert [file.name for file in tmp_path.iterdir()] == ["a.wav"]


def test_a_piece_with_more_bells_than_the_ring_leaves_no_file(tmp_path: Path, hunting: Callable[..., Piece]) -> None:
    spec = read_ringing(GOOD, name="r").of("a")
    with pytest.raises(InputError, match="the ring has 4 bells"):
        make_recording(spec, hunting(6, rows=6), tmp_path / "a.wav")
    assert not list(tmp_path.iterdir())


def test_the_demo_has_five_bands_each_with_its_own_character() -> None:
    text, ringing = demo()
    piece = read_piece(
        (shipped("demo_contest") / "pieces" / "plain-bob-doubles.toml").read_text(encoding="utf-8"), name="piece"
    )

    assert text.startswith("ringing = 1")
    assert {spec.entry for spec in ringing.recordings} == {
        "netherwick",
        "fosslow",
        "marrow-green",
        "tillingate",
        "odds-and-evens",
    }
    touches = {
        spec.entry: human_log(
            piece, spec.character, peal_minutes=spec.peal_minutes, handstroke_gap=spec.handstroke_gap, seed=spec.seed
        )
        for spec in ringing.recordings
    }
    for spec in ringing.recordings:
        assert len(spec.bells) == piece.bells
        assert 160 <= spec.peal_minutes <= 175
    late = {name: 1000 * (touch.times_s - touch.felt_s) for name, touch in touches.items()}
    back, tenor = ~piece.is_hand, {name: touch.bells == 6 for name, touch in touches.items()}
    assert late["netherwick"][back][tenor["netherwick"][back]].mean() > 35
    assert late["fosslow"][piece.is_hand, 0].std() > 1.5 * late["fosslow"][back, 0].std()
    assert touches["marrow-green"].wrong_rows
    assert late["tillingate"][:2].std() > 2 * late["tillingate"][piece.opening :].std()
    judged = {name: found[piece.opening :].std() for name, found in late.items()}
    assert min(judged, key=lambda name: judged[name]) == "odds-and-evens"
