"""The ear on bells that nobody here made: the tubular bells of a General MIDI synthesiser (FluidSynth, from Debian).

Program 15, Tubular Bells, is the nearest that the General MIDI Level 1 sound set has to bells in a tower. Skipped, with
the reason, where the synthesiser or its sounds are not installed.
"""

import shutil
import subprocess
from pathlib import Path

import mido
import mir_eval
import numpy as np
import pytest

from judging.ear import listen
from judging.sounding import Character, human_log
from judging.striking.strike_log import StrikeLog

from .conftest import hunting

pytestmark = pytest.mark.slow

SOUNDS = Path("/usr/share/sounds/sf2/TimGM6mb.sf2")
#: Tubular Bells in the General MIDI Level 1 sound set, counted from 0.
TUBULAR_BELLS = 14
#: A major scale down to C5, in semitones above it.
SCALE = (0, 2, 4, 5, 7, 9, 11, 12)
TENOR_NOTE = 72


def rendered(log: StrikeLog, bells: int, folder: Path) -> Path:
    """Play a log on the synthesiser, in its own room; a tick of the MIDI file is a millisecond."""
    midi, track = mido.MidiFile(ticks_per_beat=1000), mido.MidiTrack()
    midi.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=1_000_000))
    track.append(mido.Message("program_change", program=TUBULAR_BELLS))
    chance, now = np.random.default_rng(6), 0
    for time_s, bell in zip(log.times_s, log.bells, strict=True):
        tick = round(1000 * (time_s + 2))
        note = TENOR_NOTE + SCALE[bells - int(bell)]
        track.append(mido.Message("note_on", note=note, velocity=int(chance.integers(85, 115)), time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=4000))
    midi.save(folder / "touch.mid")
    sound = folder / "touch.wav"
    subprocess.run(
        ["fluidsynth", "-ni", "-r", "44100", "-g", "0.4", "-F", sound, SOUNDS, folder / "touch.mid"],
        check=True,
        capture_output=True,
        timeout=300,
    )
    return sound


@pytest.mark.skipif(shutil.which("fluidsynth") is None, reason="the synthesiser fluidsynth is not installed")
@pytest.mark.skipif(not SOUNDS.is_file(), reason="the sounds of timgm6mb-soundfont are not installed")
@pytest.mark.parametrize("bells", [6, 8])
def test_bells_of_a_general_synthesiser_are_told_apart_and_timed(tmp_path: Path, bells: int) -> None:
    piece = hunting(bells, 24)
    minutes = {6: 165, 8: 178}[bells]
    true = human_log(piece, Character(spread_ms=30, pull_off_ms=35), peal_minutes=minutes, seed=4).log
    heard = listen(rendered(true, bells, tmp_path), piece)
    times_s = true.times_s + 2
    log = heard.log
    offset_s = float(np.median(log.times_s[np.abs(log.times_s - times_s[:, None]).argmin(axis=1)] - times_s))
    score = mir_eval.transcription.precision_recall_f1_overlap(
        np.column_stack([times_s, times_s + 0.1]),
        440 * 2.0 ** true.bells.astype(float),
        np.column_stack([log.times_s - offset_s, log.times_s - offset_s + 0.1]),
        440 * 2.0 ** log.bells.astype(float),
        onset_tolerance=0.02,
        offset_ratio=None,
    )
    assert heard.start_is_sure
    assert score[2] >= 0.99
