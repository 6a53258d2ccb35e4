"""A ring's voices, kept in a file: what they buy, that they name the right bells, and that bad files are refused."""

import io
import zipfile
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from judging.ear import Voices, voices_from_bytes, voices_to_bytes
from judging.ear.features import OFFSETS, band_matrix
from judging.errors import InputError, JudgingError
from judging.piece import Piece

from .conftest import hunting

ROUNDS = np.arange(1, 9, dtype=np.int8)


WHOLE_PULL = Piece("a whole pull", np.tile(ROUNDS, (2, 1)))
SHORT = hunting(8, 10, opening=2)

#: Sounds a touch and says what was struck, see the fixture `sound`.
Sounder = Callable[..., Any]


@pytest.fixture
def kept(sound: Sounder) -> Voices:
    """Learnt from another band's touch on the same bells, on another day, and read from its file."""
    heard = sound(hunting(8, 24), seed=77).heard_as(hunting(8, 24))
    return voices_from_bytes(voices_to_bytes(heard.voices), "tower.npz")


@pytest.mark.slow
@pytest.mark.parametrize("room", ["ringing chamber", "church"])
def test_one_whole_pull_is_as_good_as_a_long_touch_with_kept_voices(sound: Sounder, room: str) -> None:
    learnt = sound(hunting(8, 24), seed=77, room=room).heard_as(hunting(8, 24)).voices
    for seed in (5, 6, 7):
        made = sound(WHOLE_PULL, room=room, seed=seed)
        heard = made.heard_as(WHOLE_PULL, voices=learnt)
        assert made.right(heard) == 1.0
        assert heard.start_is_sure


@pytest.mark.slow
def test_ten_changes_after_one_whole_pull_are_heard_with_kept_voices(sound: Sounder, kept: Voices) -> None:
    made = sound(SHORT, room="church")
    heard = made.heard_as(SHORT, voices=kept)
    assert made.right(heard) == 1.0
    assert heard.start_is_sure


@pytest.mark.slow
def test_a_piece_without_any_rounds_names_its_bells_by_kept_voices(sound: Sounder, kept: Voices) -> None:
    """Queens alone: which bell is which is not guessed from the scale but known."""
    piece = Piece("queens", np.tile(np.array([1, 3, 5, 7, 2, 4, 6, 8], np.int8), (12, 1)))
    made = sound(piece)
    assert made.right(made.heard_as(piece, voices=kept)) == 1.0


@pytest.mark.slow
def test_another_towers_voices_do_not_rename_bells_silently(sound: Sounder, kept: Voices) -> None:
    made = sound(hunting(8, 24), bells=43)
    try:
        heard = made.heard_as(hunting(8, 24), voices=kept)
    except JudgingError:
        return
    assert made.right(heard) >= 0.99 or not heard.start_is_sure


def some_voices(bells: int = 8) -> Voices:
    chance = np.random.default_rng(2)
    shape = (len(OFFSETS), band_matrix().shape[1], bells)
    return Voices(chance.normal(size=shape).astype(np.float32), chance.normal(size=bells).astype(np.float32))


@pytest.mark.slow
def test_voices_of_another_number_of_bells_are_refused_with_both_numbers(sound: Sounder) -> None:
    with pytest.raises(InputError, match="the voices given are of 6 bells, but a whole pull is for 8"):
        sound(WHOLE_PULL).heard_as(WHOLE_PULL, voices=some_voices(6))


def test_kept_voices_come_back_as_they_were_and_give_the_same_file_twice() -> None:
    voices = some_voices()
    again = voices_from_bytes(voices_to_bytes(voices), "tower.npz")
    assert np.array_equal(again.weights, voices.weights)
    assert np.array_equal(again.bias, voices.bias)
    assert voices_to_bytes(again) == voices_to_bytes(voices)


def test_numpy_reads_the_file_as_well() -> None:
    voices = some_voices()
    with np.load(io.BytesIO(voices_to_bytes(voices)), allow_pickle=False) as file:
        assert sorted(file.files) == ["bias", "picture", "weights"]
        assert np.array_equal(file["weights"], voices.weights)


def packed(**arrays: np.ndarray) -> bytes:
    file = io.BytesIO()
    np.savez(file, **arrays)
    return file.getvalue()


def lying() -> bytes:
    """An array whose header claims terabytes."""
    plain = io.BytesIO()
    np.lib.format.write_array_header_1_0(plain, {"descr": "<f4", "fortran_order": False, "shape": (10**6, 10**6)})
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        for name in ("weights.npy", "bias.npy", "picture.npy"):
            archive.writestr(name, plain.getvalue() + b"\0" * 64)
    return file.getvalue()


def objects() -> bytes:
    """Pickled objects, which could run anything."""
    thing = np.array([{"a": 1}], dtype=object)
    return packed(weights=thing, bias=thing, picture=thing)


BAD = {
    "empty": b"",
    "a log": b"time_s,bell\n1.0,1\n",
    "other arrays": packed(a=np.zeros(3)),
    "a bomb": packed(weights=np.zeros(4_000_000), bias=np.zeros(8), picture=np.zeros(9)),
    "a lie": lying(),
    "objects": objects(),
    "cut": voices_to_bytes(some_voices())[:-400],
}


@pytest.mark.parametrize("kind", BAD)
def test_files_that_hold_no_voices_are_refused_in_one_sentence(kind: str) -> None:
    with pytest.raises(InputError, match=r"^tower\.npz: is not a file of kept voices"):
        voices_from_bytes(BAD[kind], "tower.npz")


def test_voices_of_another_ear_are_refused() -> None:
    voices = some_voices()
    with pytest.raises(InputError, match="another version of the ear; listen to a recording again"):
        voices_from_bytes(packed(weights=voices.weights[:3], bias=voices.bias, picture=np.zeros(9)), "tower.npz")


def test_every_damaged_byte_is_read_as_it_was_or_refused() -> None:
    good = voices_to_bytes(some_voices(3))
    chance = np.random.default_rng(9)
    for _ in range(200):
        data = bytearray(good)
        data[chance.integers(len(data))] ^= 1 << chance.integers(8)
        try:
            voices = voices_from_bytes(bytes(data), "tower.npz")
        except InputError:
            continue
        assert voices_to_bytes(voices) == good
