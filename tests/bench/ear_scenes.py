"""Recordings with known times for the ear's benchmark: made-up bells, real bells, rooms, noise, recorders, ringing."""

import itertools
import os
import zlib
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import soundfile
import soxr
from ear_mishaps import after, with_mishap, with_slips
from ear_recorders import RATE, record
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, sosfilt

from judging.piece import SYMBOLS, Piece, read_piece
from judging.sounding import ROOMS, Character, Mistake, Noise, Touch, human_log, ring, ring_of_bells
from judging.striking.strike_log import StrikeLog

REAL = Path(os.environ.get("EVENBLOW_BELLS", Path(__file__).parents[3] / "shared" / "bells"))
#: Seeds this far on are the same bells on another day.
ANOTHER_DAY = 500_000
_LESSON = "-lesson"
#: Blows nearer than sound takes over a metre: from elsewhere in the tower they are heard the other way round.
TOGETHER_S = 0.003
#: Blows so much before the piece's first are still its own.
_BEFORE_S = 0.2
#: How much later the far bells reach a microphone.
_ACROSS_S = 0.004
_PEAL_MINUTES = {5: 155, 6: 165, 8: 178, 10: 190, 12: 198, 16: 230}


@dataclass(frozen=True)
class Scene:
    """One kind of recording."""

    name: str
    bells: int = 8
    bank: str = "made up"
    spread_ms: float = 30.0
    handstroke_gap: float = 1.0
    pace: float = 1.0
    drift: float = 0.002
    room: str = "dry"
    noise: str = "wind"
    snr_db: float = 40.0
    recorder: str = "clean"
    ringing: str = "method"
    opening: int = 6
    kind: str = "clean"
    mistakes: int = 0
    follow: float = 0.3
    lead_in_s: float | None = None
    character: Character | None = field(default=None)
    before: str = ""
    missing: int = 0
    extra: int = 0
    mishap: str = ""
    kept: bool = False

    @property
    def peal_minutes(self) -> float:
        return self.pace * _PEAL_MINUTES.get(self.bells, 160 + 4 * self.bells)


@dataclass(frozen=True)
class Take:
    """One recording: where it is, what should have been rung, and what was.

    Rows out of course are numbered from the last, which is -1. They are known from the blows that the band made for
    each row, and not from how any program lays them; of some it can be said or not (`_out_of_course`).
    """

    path: Path
    piece: Piece
    true: StrikeLog
    rows: int = 0
    out_rows: frozenset[int] = frozenset()
    either_rows: frozenset[int] = frozenset()
    taught: "Take | None" = None


def piece_of(scene: Scene, changes: int) -> Piece:
    """What is rung, cut to so many changes."""
    n = scene.bells
    rounds = np.arange(1, n + 1, dtype=np.int8)
    if scene.ringing == "rounds":
        return Piece("rounds", np.tile(rounds, (changes, 1)))
    if scene.ringing == "ten changes":
        return piece_of(replace(scene, ringing="method"), 10)
    if scene.ringing == "whole pull":
        return Piece("a whole pull of rounds", np.tile(rounds, (2, 1)))
    if scene.ringing == "queens":
        queens = np.concatenate([rounds[::2], rounds[1::2]])
        return Piece("queens", np.tile(queens, (changes, 1)))
    if scene.ringing == "call changes":
        rows = [rounds]
        rng = np.random.default_rng(n)
        for _ in range(max(3, changes // 8)):
            row = rows[-1].copy()
            place = int(rng.integers(1, n - 1))
            row[place], row[place + 1] = row[place + 1], row[place]
            rows.append(row)
        return Piece("call changes", np.array(rows), free_lengths=True)
    names = {4: "Minimus", 5: "Doubles", 6: "Minor", 7: "Triples", 8: "Major", 9: "Caters", 10: "Royal", 11: "Cinques"}
    stage = names.get(n, "Maximus")
    if n in (6, 8) and scene.ringing == "covered":
        stage = names[n - 1]
    text = f'piece = 1\nmethod = "Plain Bob {stage}"\ncalling = "pb"\nrepeat = {2 + changes // (2 * n)}\n'
    if scene.ringing == "covered":
        text += 'cover = "tenor"\n'
    if n > 12:
        last = SYMBOLS[n - 1]
        notation = f"x1{last}" * (n // 2) + ",12"
        text = f'piece = 1\nbells = {n}\nnotation = "{notation}"\ncalling = "p"\nrepeat = {1 + changes // (2 * n)}\n'
    rows = read_piece(text, name=scene.name).rows
    rung = [row for row in rows if (row != rounds).any()][:changes]
    return Piece("plain bob", np.vstack([np.tile(rounds, (scene.opening, 1)), np.array(rung)]), scene.opening)


def make(scene: Scene, seed: int, changes: int, folder: Path) -> Take:
    """Ring a scene once; where voices are kept, so is the recording that they are learnt from."""
    taught = None
    if scene.kept:
        lesson = replace(scene, name=scene.name + _LESSON, ringing="method", opening=6, kept=False)
        taught = make(lesson, seed + ANOTHER_DAY, 30, folder)
    piece = piece_of(scene, changes)
    rng = np.random.default_rng([seed, 7])
    touch, meant = _rung(scene, piece, changes, seed, rng)
    begin_s = float(touch.log.times_s.min())
    if scene.missing or scene.extra:
        touch = with_slips(touch, scene.bells * (scene.opening + 2), scene.missing, scene.extra, rng)
    if scene.mishap:
        touch, begin_s = with_mishap(touch, scene.mishap, scene.bells, rng)
    if scene.before == "another touch":
        earlier = replace(scene, ringing="call changes", mistakes=0)
        other, _ = _rung(earlier, piece_of(earlier, 40), 40, seed + ANOTHER_DAY, rng)
        touch, begin_s = after(touch, other)
    out, either = _out_of_course(touch, meant, begin_s)
    samples, all_rung = _sound(touch, scene, seed)
    begin_s += float(all_rung.times_s.min() - touch.log.times_s.min())
    true = _from(all_rung, begin_s)
    if scene.noise == "voices":
        samples = _with_voices(samples, scene.snr_db)
    samples, true = _begun(samples, true, scene, rng)
    path = record(samples, scene.recorder, folder / f"{scene.name}-{seed}")
    return Take(path, piece, true, len(meant), out, either, taught)


def _rung(
    scene: Scene, piece: Piece, changes: int, seed: int, rng: np.random.Generator
) -> tuple[Touch, NDArray[np.int8]]:
    """Ring a piece; return what was rung, and the rows that should have been."""
    rung = piece
    if scene.before == "long rounds":
        rung = Piece(piece.title, np.vstack([np.repeat(piece.rows[:1], 20, axis=0), piece.rows]), piece.opening + 20)
    if piece.free_lengths:
        rung = Piece(piece.title, np.repeat(piece.rows, 2 * rng.integers(2, 6, len(piece.rows)), axis=0))
    wrong = []
    for _ in range(scene.mistakes):
        change = int(rng.integers(8, changes - 8))
        row = rung.rows[rung.opening + change]
        place = int(rng.integers(0, scene.bells - 1))
        wrong.append(Mistake(change, (int(row[place]), int(row[place + 1])), int(rng.integers(1, 7))))
    character = scene.character or Character(
        spread_ms=scene.spread_ms, follow=scene.follow, pace_drift=scene.drift, slips=0.03, mistakes=tuple(wrong)
    )
    touch = human_log(rung, character, peal_minutes=scene.peal_minutes, handstroke_gap=scene.handstroke_gap, seed=seed)
    return touch, rung.rows


def _out_of_course(touch: Touch, meant: NDArray[np.int8], begin_s: float) -> tuple[frozenset[int], frozenset[int]]:
    """Rows in which a bell struck before one that it should have followed, and those of which that can be said or not.

    Not plain is a row whose only bells in the wrong order struck together, and one that is in order itself, but that a
    bell of the next row struck into: both may be told as bells exchanged over the row's end, or as one early or late.
    """
    log, never = touch.log, (np.inf, -np.inf)
    out, either, struck_s = set(), set(), []
    for number, row in enumerate(meant):
        mine = (touch.row == number) & (log.times_s > begin_s - _BEFORE_S)
        in_order_s = log.times_s[mine][np.argsort(np.argsort(row)[log.bells[mine] - 1])]
        struck_s.append((in_order_s.min(), in_order_s.max()) if len(in_order_s) else never)
        before_s = float((np.maximum.accumulate(in_order_s) - in_order_s).max(initial=0.0))
        if before_s > 0:
            (out if before_s > TOGETHER_S else either).add(number - len(meant))
    for number, ((_, last_s), (next_s, _)) in enumerate(itertools.pairwise(struck_s)):
        if next_s < last_s:
            either |= {number - len(meant), number + 1 - len(meant)} - out
    return frozenset(out), frozenset(either)


def _sound(touch: Touch, scene: Scene, seed: int) -> tuple[np.ndarray, StrikeLog]:
    """Sound everything that was rung; two channels where the recorder has them."""
    if scene.bank == "real":
        return _ring_real(touch.log, touch.is_hand, scene, seed)
    noise = Noise(scene.noise, scene.snr_db) if scene.noise in ("wind", "street", "birds", "hiss") else Noise()
    bells = ring_of_bells(scene.bells, seed=_ring_seed(scene, seed))
    room = ROOMS["dry" if scene.room == "hall" else scene.room]

    def side(kept: np.ndarray, number: int) -> tuple[np.ndarray, StrikeLog]:
        log = touch.log
        part = StrikeLog(log.times_s[kept], log.bells[kept], log.spread_ms[kept].copy(), log.source)
        lead_in_s = scene.lead_in_s
        if scene.recorder == "stereo":
            lead_in_s = 2.0 + float(part.times_s.min() - log.times_s.min())
        return ring(part, bells, room, noise, seed=seed + number, is_hand=touch.is_hand[kept], lead_in_s=lead_in_s)

    if scene.recorder != "stereo":
        return side(np.ones(len(touch.log), bool), 0)
    (left, left_log), (right, right_log) = (side(touch.log.bells % 2 == half, 50_000 * half) for half in (1, 0))
    longest = max(len(left), len(right))
    left, right = (np.pad(one, (0, longest - len(one))) for one in (left, right))
    late = round(_ACROSS_S * RATE)
    channels = [0.7 * (near + 0.4 * np.roll(far, late)) for near, far in ((left, right), (right, left))]
    times = np.concatenate([left_log.times_s, right_log.times_s])
    order = np.argsort(times, kind="stable")
    names = np.concatenate([left_log.bells, right_log.bells])[order]
    return np.column_stack(channels), StrikeLog(times[order], names, np.zeros(len(order)), left_log.source)


def _ring_seed(scene: Scene, seed: int) -> int:
    """Every scene and seed has bells of its own, and on another day the same: what they are out is one draw a ring."""
    return zlib.crc32(f"{scene.name.removesuffix(_LESSON)} {seed % ANOTHER_DAY}".encode())


def _from(log: StrikeLog, begin_s: float) -> StrikeLog:
    """Return what was struck from then on."""
    kept = log.times_s > begin_s - _BEFORE_S
    return StrikeLog(log.times_s[kept], log.bells[kept], log.spread_ms[kept].copy(), log.source)


def _begun(
    samples: np.ndarray, true: StrikeLog, scene: Scene, rng: np.random.Generator
) -> tuple[np.ndarray, StrikeLog]:
    """Begin the recording otherwise: in the middle of the opening, after talk, or after a practice and a stand."""
    if scene.before == "cropped":
        cut_s = float(true.times_s[int(rng.integers(2, 3 * scene.bells))]) - 0.05
        kept = true.times_s >= cut_s
        log = StrikeLog(true.times_s[kept] - cut_s, true.bells[kept], true.spread_ms[kept].copy(), true.source)
        return samples[int(cut_s * RATE) :], log
    if scene.before == "talk":
        talk = soundfile.read(REAL / "voices.ogg")[0].mean(axis=1)
        lead = np.resize(talk, 20 * RATE) * 0.25 * np.abs(samples).max() / np.abs(talk).max()
    elif scene.before == "practice":
        rows = 12 * scene.bells
        end_s = float(true.times_s[rows]) - 0.02
        lead = samples[: int((end_s + 4) * RATE)].copy()
        fade = int(end_s * RATE)
        lead[fade:] = lead[fade - (len(lead) - fade) : fade] * np.linspace(1, 0, len(lead) - fade) ** 4 * 0.05
        lead = np.concatenate([lead, np.zeros(4 * RATE)])
    else:
        return samples, true
    return np.concatenate([lead, samples]), replace(true, times_s=true.times_s + len(lead) / RATE)


def _ring_real(log: StrikeLog, is_hand: np.ndarray, scene: Scene, seed: int) -> tuple[np.ndarray, StrikeLog]:
    """Real bells: every blow with its own force, tilt and Doppler, and one to three bounces of the clapper."""
    rng = np.random.default_rng([seed, 11])
    times = log.times_s - log.times_s.min() + 2.0
    out = np.zeros(int((times.max() + 4) * RATE))
    room = _hall() if scene.room == "hall" else None
    for time, bell, hand in zip(times, log.bells, is_hand, strict=True):
        sound = _real_bell(int(bell) + (0 if scene.bells > 8 else int(12 - scene.bells) // 2))
        sound = sound + rng.normal(0, 0.25) * np.diff(sound, prepend=0.0)
        index = np.arange(len(sound))
        until = np.minimum(index, 0.4 * RATE)
        sound = np.interp(index + (0.003 if hand else -0.003) * until * (1 - until / (0.8 * RATE)), index, sound)
        sound *= 10 ** (rng.normal(0, 2) / 20)
        begin = round(time * RATE)
        out[begin : begin + len(sound)] += sound[: len(out) - begin]
        for _ in range(rng.integers(1, 4)):
            later = begin + int(rng.uniform(0.04, 0.15) * RATE)
            out[later : later + len(sound)] += 10 ** (rng.uniform(-25, -14) / 20) * sound[: max(0, len(out) - later)]
    if room is not None:
        out = fftconvolve(out, room)[: len(out)]
    noise = rng.standard_normal(len(out)).cumsum()
    noise = sosfilt(butter(1, 60, "high", fs=RATE, output="sos"), noise) + rng.standard_normal(len(out))
    out += noise * _noise_gain(out, noise, scene.snr_db)
    return out / np.abs(out).max() * 0.7, replace(log, times_s=times)


def _noise_gain(signal: np.ndarray, noise: np.ndarray, snr_db: float) -> float:
    band = butter(3, [400, 10_000], "bandpass", fs=RATE, output="sos")
    ratio = np.square(sosfilt(band, signal)).mean() / np.square(sosfilt(band, noise)).mean()
    return float(np.sqrt(ratio) * 10 ** (-snr_db / 20))


_REAL: dict[int, np.ndarray] = {}


def _real_bell(number: int) -> np.ndarray:
    if number not in _REAL:
        sound = soundfile.read(REAL / f"{number:02}.wav")[0].mean(axis=1)
        treble = sosfilt(butter(4, [1000, 9000], "bandpass", fs=RATE, output="sos"), sound)
        envelope = np.convolve(np.abs(treble), np.ones(22) / 22, mode="same")
        first = int(np.argmax(envelope > 0.1 * envelope[: RATE // 2].max()))
        sound = sound[first:].copy()
        sound[-13_000:] *= np.linspace(1, 0, 13_000) ** 2
        _REAL[number] = sound / np.abs(sound).max()
    return _REAL[number]


def _hall() -> np.ndarray:
    response, rate = soundfile.read(REAL / "room.wav")
    response = soxr.resample(response[:, 0], rate, RATE)
    return response[int(np.abs(response).argmax()) :] / np.abs(response).max()


def _with_voices(samples: np.ndarray, snr_db: float) -> np.ndarray:
    talk = soundfile.read(REAL / "voices.ogg")[0].mean(axis=1)
    talk = np.resize(talk, len(samples))
    out = samples + talk * _noise_gain(samples, talk, snr_db)
    return (out / np.abs(out).max() * 0.7).astype(np.float32)
