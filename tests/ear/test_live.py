"""The ear on a stream: each stand is noticed, what was rung is heard as offline, and memory is bounded."""

import time
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from scipy.signal import lfilter

from judging.ear import hear
from judging.ear.decode import Sound
from judging.ear.features import FRAME_S, RATE_HZ
from judging.ear.growing import GrowingWav
from judging.ear.live import Begun, LiveEar, RingsOn, Stood
from judging.ear.pulls import follow_whole_rows
from judging.ear.rows import Pace
from judging.errors import InputError, NothingHeard
from judging.piece import Piece
from judging.piece.named_rows import named_row
from judging.sounding import Character, Lateness, human_log, ring, ring_of_bells, room_named
from judging.striking.strike_log import StrikeLog

from .conftest import Score

RATE = 48_000


def pull_off_piece(bells: int, whole_pulls: int = 8, row: str = "Rounds") -> Piece:
    return Piece("the pull-off", np.tile(named_row(row, bells), (2 * whole_pulls, 1)))


@cache
def evening(
    *whole_pulls: int, bells: int = 6, row: str = "Rounds", seed: int = 1, room: str = "ringing chamber"
) -> tuple[np.ndarray, list[StrikeLog]]:
    """Pull-offs with ten seconds between them, and the true times of each; made once, for reading alone."""
    chance = np.random.default_rng(seed)
    parts, truths, at = [1e-4 * chance.standard_normal(4 * RATE)], [], 4.0
    for number, pulls in enumerate(whole_pulls):
        late = Character(spread_ms=22.0, pull_off_ms=20.0, late=(Lateness(bell=5, stroke="both", late_ms=80.0),))
        touch = human_log(pull_off_piece(bells, pulls, row), late, peal_minutes=170.0 + bells, seed=100 * seed + number)
        sound, true = ring(
            touch.log,
            ring_of_bells(bells, seed=seed),
            room_named(room),
            seed=100 * seed + number,
            rate=RATE,
            is_hand=touch.is_hand,
        )
        truths.append(StrikeLog(true.times_s + at, true.bells.copy(), true.spread_ms.copy()))
        parts += [sound, np.zeros(6 * RATE)]
        at += len(sound) / RATE + 6
    whole = np.concatenate(parts)
    sound = (whole + 1e-4 * chance.standard_normal(len(whole))).astype(np.float32)
    sound.setflags(write=False)
    return sound, truths


def blocks(sound: np.ndarray, size: int = RATE // 2) -> Iterator[np.ndarray]:
    for begin in range(0, len(sound), size):
        yield sound[begin : begin + size]


def heard_in(sound: np.ndarray, piece: Piece, *, kept_s: float = 24.0) -> list[Stood]:
    ear = LiveEar(piece, RATE, kept_s=kept_s)
    moments = [moment for block in blocks(sound) for moment in ear.feed(block)] + ear.end()
    return [moment for moment in moments if isinstance(moment, Stood)]


def talk(seconds: float, seed: int = 0) -> np.ndarray:
    """Speech-like: gliding pulses through changing resonances, in syllables with pauses (our own recipe)."""
    chance = np.random.default_rng(seed)
    out, at = np.zeros(int(seconds * RATE_HZ)), 0
    while at < len(out):
        length = int(chance.uniform(0.08, 0.35) * RATE_HZ)
        glide = np.exp(np.linspace(0, chance.uniform(-0.25, 0.25), length))
        turns = np.cumsum(chance.uniform(90, 260) * glide) / RATE_HZ
        syllable = np.diff(np.floor(turns), prepend=0.0) + 0.02 * chance.standard_normal(length)
        for low, high, width in ((300, 800, 80), (900, 2300, 120), (2400, 3300, 200)):
            narrow = np.exp(-np.pi * width / RATE_HZ)
            turn = np.cos(2 * np.pi * chance.uniform(low, high) / RATE_HZ)
            syllable = lfilter([1 - narrow], [1, -2 * narrow * turn, narrow**2], syllable)
        syllable *= np.sin(np.pi * np.linspace(0, 1, length)) ** 0.6
        there = out[at : at + length]
        there += (syllable / np.abs(syllable).max())[: len(there)]
        at += int(length * chance.uniform(0.9, 2.5))
    return (
        np.repeat(out, 2)[: int(seconds * RATE)]
        if RATE == 2 * RATE_HZ
        else np.interp(np.arange(int(seconds * RATE)) / RATE, np.arange(len(out)) / RATE_HZ, out)
    )


def chairs(seconds: float, seed: int = 0) -> np.ndarray:
    """Knocks of 5 to 40 ms, three a second, and scrapes (our own recipe)."""
    chance = np.random.default_rng(seed)
    out = np.zeros(int(seconds * RATE))
    for _ in range(int(3 * seconds)):
        at, length = int(chance.integers(0, len(out) - RATE)), int(chance.uniform(0.05, 0.3) * RATE)
        knock = chance.standard_normal(length) * np.exp(-np.arange(length) / RATE / chance.uniform(0.005, 0.04))
        out[at : at + length] += knock * chance.uniform(0.2, 1)
    for _ in range(int(seconds / 6)):
        at, length = int(chance.integers(0, len(out) - RATE)), int(chance.uniform(0.3, 1) * RATE)
        stick = 1 + np.sign(np.sin(2 * np.pi * chance.uniform(40, 120) * np.arange(length) / RATE))
        out[at : at + length] += 0.3 * stick * chance.standard_normal(length)
    return out / np.abs(out).max()


@pytest.mark.parametrize("row", ["Rounds", "Queens"])
def test_every_pull_off_of_an_evening_is_heard_right_one_whole_pull_or_eight(row: str) -> None:
    sound, truths = evening(1, 2, 3, 1, 8, 4, row=row)

    stands = heard_in(sound, pull_off_piece(6, row=row), kept_s=60.0)

    assert len(stands) == len(truths)
    for stand, true in zip(stands, truths, strict=True):
        assert stand.heard is not None, stand.problem
        assert Score(true, stand.heard.log).right == 1.0
        assert len(stand.heard.log) == len(true)
        assert 0 < stand.noticed_s - true.times_s[-1] < 5


@pytest.mark.parametrize(("bells", "row"), [(6, "Rounds"), (8, "Queens")])
def test_the_live_ear_hears_the_blows_that_it_hears_offline_in_every_stretch(bells: int, row: str) -> None:
    """Offline each stretch is a recording of its own, cut elsewhere and resampled whole, with voices known by then."""
    sound, truths = evening(3, 1, 2, bells=bells, row=row)
    piece = pull_off_piece(bells, row=row)
    ear, stands, same = LiveEar(piece, RATE, kept_s=24.0), [], 0
    for block in blocks(sound):
        voices = ear.voices
        stands += [(moment, voices) for moment in ear.feed(block) if isinstance(moment, Stood)]

    assert len(stands) == len(truths)
    for (live, voices), true in zip(stands, truths, strict=True):
        begin_s, end_s = true.times_s[0] - 2.0, true.times_s[-1] + 2.0
        cut = soxr.resample(sound[int(begin_s * RATE) : int(end_s * RATE)], RATE, RATE_HZ).astype(np.float32)
        recording = Sound(cut, "the same", RATE, 1, 1.0, 0.0, 0.0)
        if live.heard is None:
            with pytest.raises(NothingHeard):
                hear(recording, piece, voices=voices)
            continue
        offline = hear(recording, piece, voices=voices).log
        assert live.heard.log.bells.tolist() == offline.bells.tolist()
        assert np.abs(live.heard.log.times_s - (offline.times_s + begin_s)).max() < 0.001
        same += 1
    assert same >= 2


def test_single_whole_pulls_on_ten_bells_are_heard_right_or_said_not_to_be_heard() -> None:
    """Rounds on ten say little of which bell leads; silence before, and the voices of longer ringing, say the rest."""
    sound, truths = evening(4, 1, 1, 1, bells=10, seed=4)

    stands = heard_in(sound, pull_off_piece(10))

    right = [Score(true, one.heard.log).right for one, true in zip(stands, truths, strict=True) if one.heard]
    assert right == [1.0] * len(right)
    assert len(right) >= 3
    assert all(stand.heard or "10 bells" in stand.problem for stand in stands)


@pytest.mark.parametrize("noise", [talk, chairs])
def test_talk_and_chairs_between_are_no_ringing_and_do_not_hide_a_stand(noise: object) -> None:
    sound, truths = evening(1, 2, 1, seed=3)
    spoilt = sound + 0.05 * noise(len(sound) / RATE + 1, 3)[: len(sound)]  # type: ignore[operator]

    stands = heard_in(spoilt.astype(np.float32), pull_off_piece(6))

    assert [Score(true, stand.heard.log).right for stand, true in zip(stands, truths, strict=True) if stand.heard] == [
        1.0
    ] * 3


@pytest.mark.parametrize(
    "noise", [talk, chairs, lambda seconds: np.random.default_rng(1).standard_normal(int(seconds * RATE))]
)
def test_five_minutes_without_ringing_are_told_to_nobody(noise: object) -> None:
    sound = 0.3 * noise(300.0)  # type: ignore[operator]

    assert heard_in(sound.astype(np.float32), pull_off_piece(6)) == []


def test_an_evening_takes_no_more_memory_than_its_longest_stretch_may() -> None:
    sound, _ = evening(2, 12)
    ear, most_s = LiveEar(pull_off_piece(6), RATE, kept_s=12.0), 0.0
    for block in blocks(np.concatenate([sound] * 3)):
        ear.feed(block)
        most_s = max(most_s, ear.remembered_s)

    assert most_s < 12 + 6


def test_a_band_that_does_not_stop_is_heard_after_a_minute_and_told_the_same_once_it_stands() -> None:
    sound, truths = evening(20)
    ear, moments = LiveEar(pull_off_piece(6), RATE, kept_s=20.0), []
    for block in blocks(sound):
        moments += ear.feed(block)
    begun, rings_on, stand = moments

    assert isinstance(begun, Begun)
    assert isinstance(rings_on, RingsOn)
    assert isinstance(stand, Stood)
    assert 60 < rings_on.so_far.noticed_s - truths[0].times_s[0] < 64
    assert stand.noticed_s > truths[0].times_s[-1]
    assert stand.heard is not None
    assert stand.heard is rings_on.so_far.heard
    heard = stand.heard.log
    assert heard.times_s[-1] - heard.times_s[0] < 20
    rung = truths[0].times_s <= heard.times_s[-1] + 0.05
    true = StrikeLog(truths[0].times_s[rung], truths[0].bells[rung], truths[0].spread_ms[rung])
    assert Score(true, heard).right > 0.95


def test_what_was_rung_is_there_within_two_seconds_of_the_stand_being_noticed() -> None:
    sound, _ = evening(8)
    ear = LiveEar(pull_off_piece(6), RATE, kept_s=24.0)
    slowest_s = 0.0
    for block in blocks(sound):
        begun = time.process_time()  # others share the machine of the tests
        ear.feed(block)
        slowest_s = max(slowest_s, time.process_time() - begun)

    assert slowest_s < 2


def test_ringing_that_had_begun_before_is_not_judged() -> None:
    sound, truths = evening(6)
    begun = int((truths[0].times_s[0] + 1.0) * RATE)

    (stand,) = heard_in(sound[begun:], pull_off_piece(6))

    assert stand.heard is None
    assert stand.problem == "it had begun before it was listened to"


@pytest.mark.parametrize(("rung", "listened_for"), [(8, 6), (6, 8), (6, 5)])
def test_another_number_of_bells_is_known_for_what_it_is(rung: int, listened_for: int) -> None:
    sound, _ = evening(4, bells=rung)
    ear = LiveEar(pull_off_piece(listened_for), RATE, kept_s=24.0, others=(pull_off_piece(rung),))

    moments = [moment for block in blocks(sound) for moment in ear.feed(block)]

    (stand,) = (moment for moment in moments if isinstance(moment, Stood))
    assert stand.heard is None
    assert stand.instead is not None
    assert stand.instead.bells == rung


def test_clipping_is_said() -> None:
    sound, truths = evening(3)

    (stand,) = heard_in(np.clip(4 * sound, -1, 1), pull_off_piece(6))

    assert stand.heard is not None
    assert any("overloaded" in note for note in stand.heard.notes)
    assert Score(truths[0], stand.heard.log).right == 1.0


def test_a_microphone_that_gives_nothing_is_known_from_a_quiet_room() -> None:
    ear = LiveEar(pull_off_piece(6), RATE)
    for _ in range(8):
        ear.feed(np.zeros(RATE, np.float32))
    assert ear.is_silent
    ear.feed((1e-4 * np.random.default_rng(0).standard_normal(RATE)).astype(np.float32))
    assert not ear.is_silent


def test_sound_that_was_lost_spoils_the_pull_off_it_was_part_of_and_no_other() -> None:
    sound, truths = evening(3, 2)
    ear = LiveEar(pull_off_piece(6), RATE, kept_s=24.0)
    moments = []
    for number, block in enumerate(blocks(sound)):
        if number == int(2 * (truths[0].times_s[0] + 3)):
            ear.lose()
        else:
            moments += ear.feed(block)

    # What was rung on after the loss is no pull-off of its own.
    first, second = (moment for moment in moments if isinstance(moment, Stood))
    assert "lost on its way" in first.problem
    assert second.heard is not None


def test_sound_lost_after_what_is_heard_of_a_long_stretch_spoils_nothing() -> None:
    sound, truths = evening(8)
    ear = LiveEar(pull_off_piece(6), RATE, kept_s=10.0)
    moments = []
    for number, block in enumerate(blocks(sound)):
        if number == int(2 * (truths[0].times_s[0] + 20)):
            ear.lose()
        moments += ear.feed(block)

    _, stand = moments
    assert isinstance(stand, Stood)
    assert stand.heard is not None


def test_blocks_of_any_length_and_rate_come_to_the_same() -> None:
    sound, truths = evening(2)
    for rate, size in ((44_100, 441), (16_000, 16_000)):
        ear = LiveEar(pull_off_piece(6), rate)
        stands = [
            moment
            for block in blocks(soxr.resample(sound, RATE, rate), size)
            for moment in ear.feed(block)
            if isinstance(moment, Stood)
        ]
        assert stands[0].heard is not None
        assert Score(truths[0], stands[0].heard.log).right == 1.0


def test_a_rate_that_no_microphone_has_is_refused() -> None:
    with pytest.raises(InputError, match="sampled at 400 Hz"):
        LiveEar(pull_off_piece(6), 400)


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT"])
def test_a_growing_file_gives_what_is_written_as_it_is_written(tmp_path: Path, subtype: str) -> None:
    path = tmp_path / "evening.wav"
    stereo = np.random.default_rng(0).uniform(-0.5, 0.5, (RATE, 2)).astype(np.float32)
    soundfile.write(tmp_path / "whole.wav", stereo, RATE, subtype=subtype)
    whole = (tmp_path / "whole.wav").read_bytes()
    path.write_bytes(whole[:3001])
    growing = GrowingWav(path)
    got = list(growing.more())
    with path.open("ab") as file:
        file.write(whole[3001:])
    got += list(growing.more())
    growing.close()

    assert growing.rate_hz == RATE
    assert growing.channels == 2
    assert np.abs(np.concatenate(got) - soundfile.read(path)[0]).max() < 1e-6


@pytest.mark.parametrize(
    ("channels", "heard", "told"),
    [
        (lambda bells, _hiss: [bells, bells], [0, 1], ""),
        (lambda bells, _hiss: [bells, 0 * bells], [0, 1], ""),
        (
            lambda bells, _hiss: [np.clip(60 * bells, -1, 1), bells],
            [1],
            "the right of two channels was heard, since the",
        ),
        (lambda bells, _hiss: [bells, -0.9 * bells], [0], "the channels cancel each other"),
        (lambda bells, hiss: [hiss, bells], [1], "the bells stand out less in the other"),
        (lambda bells, hiss: [hiss, 0 * bells, bells, hiss[::-1]], [2], "only channel 3 of 4 was heard"),
    ],
    ids=["a pair", "one dead", "one overloaded", "opposite signs", "one of hiss", "one of four"],
)
def test_of_several_channels_the_first_ringing_shows_which_are_heard_and_it_is_told_once(
    channels: Callable[[np.ndarray, np.ndarray], list[np.ndarray]], heard: list[int], told: str
) -> None:
    bells, truths = evening(2, 1)
    hiss = 3 * np.sqrt(np.square(bells).mean()) * np.random.default_rng(5).standard_normal(len(bells))
    sound = np.column_stack(channels(bells, hiss)).astype(np.float32)
    ear = LiveEar(pull_off_piece(6), RATE, channels=sound.shape[1], kept_s=24.0)
    moments = [moment for block in blocks(sound) for moment in ear.feed(block)] + ear.end()
    stands = [moment.heard for moment in moments if isinstance(moment, Stood)]

    assert [Score(true, stand.log).right for true, stand in zip(truths, stands, strict=True)] == [1.0, 1.0]
    assert ear.channels_heard == heard
    assert told in " ".join(stands[0].notes)
    assert not any("channel" in note for note in stands[1].notes)


def test_a_stream_of_more_channels_than_can_be_read_is_refused() -> None:
    with pytest.raises(InputError, match="9 channels; up to 8"):
        LiveEar(pull_off_piece(6), RATE, channels=9)


@pytest.mark.parametrize(
    "start", [b"", b"RIFF", b"fLaC" + bytes(60), b"RIFF\x00\x00\x00\x00WAVEjunk\x04\x00\x00\x00abcd"]
)
def test_what_cannot_be_followed_says_so(tmp_path: Path, start: bytes) -> None:
    path = tmp_path / "x.wav"
    path.write_bytes(start)
    with pytest.raises(InputError, match="WAV"):
        GrowingWav(path)
    with pytest.raises(InputError, match="no such recording"):
        GrowingWav(tmp_path / "gone.wav")


@pytest.mark.parametrize("seconds", [2.0, 3.0, 4.5, 6.0])
def test_ringing_cut_shorter_than_a_whole_pull_is_refused_and_no_crash(seconds: float) -> None:
    sound, truths = evening(3)
    begin = int((truths[0].times_s[0] - 0.5) * RATE)
    plain = soxr.resample(sound[begin : begin + int(seconds * RATE)], RATE, RATE_HZ).astype(np.float32)

    for bells in (6, 12, 16):
        try:
            heard = hear(Sound(plain, "a scrap", RATE, 1, 1.0, 0.0, 0.0), pull_off_piece(bells))
        except NothingHeard:
            continue
        assert bells == 6
        assert len(heard.log) <= int((truths[0].times_s < truths[0].times_s[0] + seconds).sum())


@pytest.mark.parametrize("first_s", [-0.5, 0.1, 2.9, 10.0])
def test_a_scrap_that_ends_before_its_first_whole_pull_is_followed_without_a_crash(first_s: float) -> None:
    """One bell tried a few times, and nothing else, ended the ear of a whole evening."""
    answers = np.zeros((int(3.0 / FRAME_S), 6), np.float32)
    answers[[100, 250, 400], 0] = 1.0

    pulls = follow_whole_rows(answers, 6, [Pace(0.31, 1.0, 0.0)], first_s)

    assert np.isfinite(pulls.starts_s).all()
    assert (np.diff(pulls.starts_s) > 0).all()
