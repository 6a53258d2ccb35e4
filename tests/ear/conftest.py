"""Recordings whose true times are known: the demo contest's on made-up bells, and real bells where they are at hand."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import mir_eval
import numpy as np
import pytest
import soundfile

from judging.ear import Heard, Voices, listen
from judging.piece import Piece, piece_from_file
from judging.shipped import shipped
from judging.sounding import (
    ROOMS,
    Character,
    Noise,
    human_log,
    make_recording,
    read_ringing,
    ring,
    ring_of_bells,
)
from judging.striking.strike_log import StrikeLog

SOUNDED_HZ = 22_050
BAND = Character(spread_ms=30, follow=0.3, pull_off_ms=35)


def hunting(bells: int, changes: int, opening: int = 6) -> Piece:
    """Rounds, then plain hunting: pairs cross from the front and from second place in turn."""
    rows = [np.arange(1, bells + 1)] * opening
    for change in range(changes):
        row = rows[-1].copy()
        for place in range(change % 2, bells - 1, 2):
            row[[place, place + 1]] = row[[place + 1, place]]
        rows.append(row)
    return Piece("plain hunting", np.array(rows, np.int8), opening)


@dataclass(frozen=True)
class Score:
    """What was heard against what was struck, after one constant offset."""

    true: StrikeLog
    heard: StrikeLog

    @property
    def error_ms(self) -> np.ndarray:
        """Of each true blow: the nearest heard blow of the same bell; infinite where none is within 100 ms."""
        error = np.full(len(self.true), np.inf)
        for bell in np.unique(self.true.bells):
            mine = np.sort(self.heard.times_s[self.heard.bells == bell])
            want = self.true.times_s[self.true.bells == bell]
            if len(mine):
                near = np.abs(mine[None, :] - want[:, None]).argmin(axis=1)
                error[self.true.bells == bell] = 1e3 * (mine[near] - want)
        error[np.abs(error) > 100] = np.inf
        return error - np.median(error[np.isfinite(error)]) if np.isfinite(error).any() else error

    @property
    def right(self) -> float:
        """Share of true blows heard within 20 ms with the right bell."""
        return float((np.abs(self.error_ms) < 20).mean())

    def onset_f(self, window_s: float) -> float:
        """mir_eval's onset F-measure, blind to which bell it was."""
        return float(mir_eval.onset.f_measure(self.true.times_s, self._level(), window=window_s)[0])

    def transcription_f(self, window_s: float) -> float:
        """mir_eval's transcription F-measure; bell b is the note 440 * 2^b Hz, so that no two bells are near."""
        return float(
            mir_eval.transcription.precision_recall_f1_overlap(
                *_notes(self.true.times_s, self.true.bells),
                *_notes(self._level(), self.heard.bells),
                onset_tolerance=window_s,
                offset_ratio=None,
            )[2]
        )

    def _level(self) -> np.ndarray:
        raw = Score(self.true, self.heard)
        near = np.abs(raw.heard.times_s[None, :] - raw.true.times_s[:, None]).argmin(axis=1)
        return raw.heard.times_s - np.median(raw.heard.times_s[near] - raw.true.times_s)


def _notes(times_s: np.ndarray, bells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return np.column_stack([times_s, times_s + 0.1]), 440 * 2.0 ** bells.astype(float)


@dataclass(frozen=True)
class Demo:
    """One recording of the demo contest."""

    path: Path
    piece: Piece
    true: StrikeLog
    heard: Heard

    @property
    def score(self) -> Score:
        return Score(self.true, self.heard.log)


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Demo]:
    """Make and hear a recording of the demo contest, once."""
    folder = tmp_path_factory.mktemp("demo")
    made: dict[str, Demo] = {}

    def make(entry: str) -> Demo:
        if entry not in made:
            root = shipped("demo_contest")
            spec = read_ringing((root / "ringing.toml").read_text(encoding="utf-8"), name="ringing.toml").of(entry)
            file = next((root / "pieces").glob(f"{spec.piece}.*"))
            piece = piece_from_file(file.name, file.read_text(encoding="utf-8"))
            path = folder / f"{entry}.wav"
            true = make_recording(spec, piece, path).log
            made[entry] = Demo(path, piece, true, listen(path, piece))
        return made[entry]

    return make


class Sounded:
    """A recording in memory, with what was struck in it."""

    def __init__(self, samples: np.ndarray, true: StrikeLog, folder: Path) -> None:
        self.samples, self.true, self.folder = samples, true, folder

    def heard_as(self, piece: Piece, first_blow_s: float | None = None, voices: Voices | None = None) -> Heard:
        path = self.folder / "touch.wav"
        soundfile.write(path, self.samples, SOUNDED_HZ, subtype="PCM_16")
        return listen(path, piece, first_blow_s=first_blow_s, voices=voices)

    def ring_again(self, times_s: np.ndarray, names: np.ndarray, piece_from_s: float = -np.inf) -> None:
        """Sound other blows on the same six bells; those before the time given are rung, but are not the piece."""
        order = np.argsort(times_s, kind="stable")
        log = StrikeLog(times_s[order], names[order], np.zeros(len(order)))
        self.samples, rung = ring(log, ring_of_bells(6, seed=41), seed=5, rate=SOUNDED_HZ)
        kept = log.times_s >= piece_from_s
        self.true = StrikeLog(rung.times_s[kept], rung.bells[kept], np.zeros(int(kept.sum())))

    def right(self, heard: Heard) -> float:
        """Share of blows heard within 20 ms with the right bell, after one constant offset."""
        error = np.full(len(self.true), np.inf)
        for bell in np.unique(self.true.bells):
            mine, want = heard.log.times_s[heard.log.bells == bell], self.true.times_s[self.true.bells == bell]
            if len(mine):
                error[self.true.bells == bell] = mine[np.abs(mine - want[:, None]).argmin(axis=1)] - want
        near = np.abs(error) < 0.1
        return float((np.abs(error - np.median(error[near])) < 0.02).mean()) if near.any() else 0.0


@pytest.fixture(scope="session")
def sounded() -> dict[tuple[object, ...], tuple[np.ndarray, StrikeLog]]:
    """What has been sounded so far: several tests begin with the same touch."""
    return {}


@pytest.fixture
def sound(tmp_path: Path, sounded: dict[tuple[object, ...], tuple[np.ndarray, StrikeLog]]) -> Callable[..., Sounded]:
    def make(
        piece: Piece,
        *,
        band: Character = BAND,
        gap: float = 1.0,
        room: str = "ringing chamber",
        seed: int = 5,
        bells: int = 41,
    ) -> Sounded:
        minutes = {6: 165, 8: 178, 10: 190, 12: 198}[piece.bells]
        touch = human_log(piece, band, peal_minutes=minutes, handstroke_gap=gap, seed=seed)
        blows = (array.tobytes() for array in (touch.log.times_s, touch.log.bells, touch.is_hand))
        key = (*blows, room, seed, bells)
        if key not in sounded:
            sounded[key] = ring(
                touch.log,
                ring_of_bells(piece.bells, seed=bells),
                ROOMS[room],
                Noise("wind", 25),
                seed=seed,
                rate=SOUNDED_HZ,
                is_hand=touch.is_hand,
            )
            sounded[key][0].setflags(write=False)
        return Sounded(*sounded[key], tmp_path)

    return make


@pytest.fixture(scope="session")
def real_bells() -> list[np.ndarray]:
    """Twelve real bells, each from its own attack on, mono at 44.1 kHz."""
    folder = Path(os.environ.get("EVENBLOW_BELLS", Path(__file__).parents[3] / "shared" / "bells"))
    if not (folder / "12.wav").is_file():
        pytest.skip("no recordings of real bells here; EVENBLOW_BELLS may say where they are")
    return [_from_attack(soundfile.read(folder / f"{number:02}.wav")[0].mean(axis=1)) for number in range(1, 13)]


def _from_attack(sound: np.ndarray) -> np.ndarray:
    """Cut before the first sample that reaches a tenth of the early peak; fade the end, where the tail was cut."""
    steps = np.abs(np.diff(sound, prepend=0.0))
    envelope = np.convolve(steps, np.ones(22) / 22, mode="same")
    first = int(np.argmax(envelope > 0.1 * envelope[: 44_100 // 2].max()))
    kept = sound[first:].copy()
    kept[-13_000:] *= np.linspace(1, 0, 13_000) ** 2
    return kept / np.abs(kept).max()
