"""Several touches in one recording: each is found, and the piece is heard in the right one, or both are named."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from judging.ear import Heard, listen
from judging.ear.segments import clock, parts_of
from judging.ear.stretches import Stretch
from judging.errors import InputError, NothingHeard
from judging.piece import Piece, read_piece
from judging.sounding import ROOMS, Noise, human_log, ring, ring_of_bells

from .conftest import BAND, SOUNDED_HZ


def bob_minor() -> Piece:
    """Return thirty changes of Plain Bob Minor, after four rows of rounds."""
    text = 'piece = 1\nmethod = "Plain Bob Minor"\ncalling = "ppp"\n'
    rows = read_piece(text, name="touch").rows
    changes = [row for row in rows if (row != rows[0]).any()][:30]
    return Piece("Plain Bob Minor", np.vstack([np.tile(rows[0], (4, 1)), changes]), opening=4)


TOUCH = bob_minor()
OTHER = Piece("another touch", np.vstack([TOUCH.rows[:4], TOUCH.rows[:3:-1][:, [1, 0, 3, 2, 5, 4]]]), opening=4)


@pytest.fixture(scope="module")
def rung() -> Callable[[Piece, int], tuple[np.ndarray, float, float]]:
    """Ring a piece, or its first rows, on the same bells: the sound, its first blow and its last."""

    def make(piece: Piece, seed: int) -> tuple[np.ndarray, float, float]:
        touch = human_log(piece, BAND, peal_minutes=165, handstroke_gap=1.0, seed=seed)
        bells = ring_of_bells(6, seed=41)
        sound, log = ring(
            touch.log, bells, ROOMS["dry"], Noise("wind", 25), seed=seed, rate=SOUNDED_HZ, is_hand=touch.is_hand
        )
        return sound, float(log.times_s[0]), float(log.times_s[-1])

    return make


class Evening:
    """Touches one after the other in one file."""

    def __init__(self, path: Path, touches: list[tuple[np.ndarray, float, float]], pause_s: float = 6.0) -> None:
        self.path, self.spans = path, []
        rng = np.random.default_rng(3)
        parts, now = [], 0.0
        for sound, first_s, last_s in touches:
            quiet = 1e-3 * rng.standard_normal(int(pause_s * SOUNDED_HZ))
            self.spans.append((now + pause_s + first_s, now + pause_s + last_s))
            parts += [quiet, sound]
            now += pause_s + len(sound) / SOUNDED_HZ
        soundfile.write(path, np.concatenate(parts), SOUNDED_HZ, subtype="PCM_16")

    def where_heard(self, heard: Heard) -> int:
        """Return the number of the touch that the log begins and ends with."""
        found = [
            number
            for number, (first_s, last_s) in enumerate(self.spans)
            if abs(heard.log.times_s[0] - first_s) < 0.1 and abs(heard.log.times_s[-1] - last_s) < 0.1
        ]
        return found[0] if len(found) == 1 else -1


MakeRung = Callable[[Piece, int], tuple[np.ndarray, float, float]]


@pytest.fixture(scope="module")
def practice_and_another(tmp_path_factory: pytest.TempPathFactory, rung: MakeRung) -> Evening:
    practice = Piece("practice", TOUCH.rows[:10], opening=4)
    folder = tmp_path_factory.mktemp("evening")
    return Evening(folder / "evening.flac", [rung(practice, 1), rung(TOUCH, 2), rung(OTHER, 3)])


@pytest.fixture(scope="module")
def rung_twice(tmp_path_factory: pytest.TempPathFactory, rung: MakeRung) -> Evening:
    return Evening(tmp_path_factory.mktemp("twice") / "twice.flac", [rung(TOUCH, 4), rung(TOUCH, 5)])


def test_the_declared_touch_is_heard_and_practice_of_it_is_told(practice_and_another: Evening) -> None:
    heard = listen(practice_and_another.path, TOUCH)
    assert practice_and_another.where_heard(heard) == 1
    assert heard.segment_is_sure
    assert [segment.is_heard for segment in heard.segments] == [False, True, False]
    np.testing.assert_allclose(
        [(segment.begin_s, segment.end_s) for segment in heard.segments], practice_and_another.spans, atol=2
    )
    assert heard.rung > 0.95
    assert 0.1 < (heard.segments[0].rung or 0.0) < 0.4
    assert "some of the piece was also rung from 0:0" in heard.notes[0]


def test_another_piece_chooses_another_stretch(practice_and_another: Evening) -> None:
    assert practice_and_another.where_heard(listen(practice_and_another.path, OTHER)) == 2


def test_the_same_touch_rung_twice_is_unsure_and_both_are_named(rung_twice: Evening) -> None:
    heard = listen(rung_twice.path, TOUCH)
    assert not heard.segment_is_sure
    assert rung_twice.where_heard(heard) == 1
    first = heard.segments[0]
    assert f"from {clock(first.begin_s)} to {clock(first.end_s)}, 100 % of the piece" in heard.notes[0]
    assert heard.notes[0].endswith("Say which")


def test_a_person_says_which(rung_twice: Evening) -> None:
    begin_s, end_s = rung_twice.spans[0]
    heard = listen(rung_twice.path, TOUCH, between_s=(begin_s - 1, end_s + 1))
    assert rung_twice.where_heard(heard) == 0
    assert heard.segment_is_sure
    assert [segment.is_heard for segment in heard.segments] == [True, False]


def test_a_first_blow_given_says_which_too(rung_twice: Evening) -> None:
    heard = listen(rung_twice.path, TOUCH, first_blow_s=rung_twice.spans[0][0])
    assert rung_twice.where_heard(heard) == 0


def test_where_no_stretch_is_the_piece_all_are_named(rung_twice: Evening) -> None:
    eight = Piece("eight", np.array([np.arange(1, 9)] * 4 + [[2, 1, 4, 3, 6, 5, 8, 7], [2, 4, 1, 6, 3, 8, 5, 7]] * 8))
    with pytest.raises(NothingHeard, match=r"bells ring 2 times in it \(0:0\d–\d:\d\d, .*\), and none of them is this"):
        listen(rung_twice.path, eight)


@pytest.mark.parametrize("between_s", [(5.0, 4.0), (-1.0, 9.0), (1e6, 2e6), (3.0, 3.5)])
def test_a_part_that_is_not_there_is_refused(rung_twice: Evening, between_s: tuple[float, float]) -> None:
    with pytest.raises(InputError, match=r"so that no ringing can be heard from .* in it"):
        listen(rung_twice.path, TOUCH, between_s=between_s)


def test_one_touch_is_heard_as_a_whole_and_a_long_silence_around_it_is_left_out() -> None:
    touch = Stretch(20.0, 200.0, 0.3)
    assert parts_of([touch], 230.0) == []
    assert parts_of([touch], 4 * 3600.0) == [(10.0, 210.0)]
    assert parts_of([touch, Stretch(206.0, 400.0, 0.3)], 420.0) == [(10.0, 203.0), (203.0, 410.0)]


def test_times_are_told_as_a_player_shows_them() -> None:
    assert [clock(seconds) for seconds in (3.2, 59.6, 3725.0)] == ["0:03", "1:00", "1:02:05"]
