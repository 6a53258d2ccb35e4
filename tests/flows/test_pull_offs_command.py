"""`evenblow pull-offs` on a recording that grows while it is heard."""

import os
import signal
import subprocess
import threading
import time
from pathlib import Path

import numpy as np
import soundfile

from judging.piece import Piece, rounds
from judging.sounding import Character, Lateness, human_log, ring, ring_of_bells

RATE = 22_050


def pulled_off_twice() -> np.ndarray:
    parts = [np.zeros(3 * RATE)]
    for seed in range(2):
        piece = Piece("rounds", np.tile(rounds(6), (2, 1)))
        band = Character(spread_ms=10.0, pull_off_ms=5.0, late=(Lateness(bell=5, stroke="hand", late_ms=110.0),))
        log = human_log(piece, band, peal_minutes=170.0, seed=seed).log
        parts += [ring(log, ring_of_bells(6, seed=3), seed=seed, rate=RATE, lead_in_s=2.0)[0], np.zeros(3 * RATE)]
    whole = np.concatenate(parts)
    return 0.5 * whole + 2e-4 * np.random.default_rng(0).standard_normal(len(whole))


def test_each_is_told_while_the_file_still_grows(tmp_path: Path) -> None:
    whole, growing = tmp_path / "whole.wav", tmp_path / "growing.wav"
    soundfile.write(whole, pulled_off_twice(), RATE)
    data = whole.read_bytes()
    growing.write_bytes(data[: len(data) // 2])
    signal.signal(signal.SIGINT, signal.default_int_handler)  # what a shell runs in the background ignores it
    command = subprocess.Popen(
        ["evenblow", "pull-offs", str(growing), "--bells", "6"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    lines: list[str] = []
    assert command.stdout is not None
    reader = threading.Thread(target=lambda: lines.extend(iter(command.stdout.readline, "")), daemon=True)
    reader.start()
    wait_for(lines, "1. In the pull-off, 5 was")
    with growing.open("ab") as file:
        file.write(data[len(data) // 2 :])
    wait_for(lines, "2. In the pull-off, 5 was")

    command.send_signal(signal.SIGINT)
    command.wait(timeout=60)
    reader.join()
    assert command.stderr is not None
    errors = command.stderr.read()
    command.stdout.close()
    command.stderr.close()

    assert command.returncode == 0, errors
    assert lines[-1].startswith("2 pull-offs, ")
    assert "Traceback" not in errors


def wait_for(lines: list[str], beginning: str) -> None:
    end = time.monotonic() + 90
    while time.monotonic() < end:
        if any(line.startswith(beginning) for line in lines):
            return
        time.sleep(0.1)
    raise AssertionError(lines)


def test_a_quiet_file_ends_with_nothing_heard_and_another_with_bad_input(tmp_path: Path) -> None:
    quiet, text = tmp_path / "quiet.wav", tmp_path / "notes.wav"
    soundfile.write(quiet, 1e-3 * np.random.default_rng(0).standard_normal(5 * RATE), RATE)
    text.write_text("no sound", encoding="utf-8")

    for path, code, words in ((quiet, 1, "no pull-off was heard"), (text, 2, "does not begin as a WAV file")):
        done = subprocess.run(
            ["evenblow", "pull-offs", str(path), "--bells", "6", "--to-end"],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == code
        assert words in done.stderr
