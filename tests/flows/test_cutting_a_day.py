"""One recorder left running all day, cut by the command into what `evenblow contest` wants."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from judging.piece import Piece
from judging.sounding import ROOMS, Character, Noise, human_log, ring, ring_of_bells

RATE = 22_050
WAITS_S = (15.0, 40.0)


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[float]]:
    """Two touches of twenty and thirty rows between quiet, as an Ogg file, and when each begins in it."""
    rng = np.random.default_rng(1)
    parts, begun, now = [], [], 0.0
    for number, wait_s in enumerate(WAITS_S):
        rounds = Piece("rounds", np.tile(np.arange(1, 7, dtype=np.int8), (20 + 10 * number, 1)), opening=0)
        touch = human_log(rounds, Character(spread_ms=30), peal_minutes=170, handstroke_gap=1.0, seed=number)
        sound, log = ring(
            touch.log, ring_of_bells(6, seed=3), ROOMS["church"], Noise("wind", 25), seed=number, rate=RATE
        )
        parts += [1e-3 * rng.standard_normal(int(wait_s * RATE)), sound]
        begun.append(now + wait_s + float(log.times_s[0]))
        now += wait_s + len(sound) / RATE
    path = tmp_path_factory.mktemp("day") / "day.flac"
    soundfile.write(path, np.concatenate([*parts, 1e-3 * rng.standard_normal(10 * RATE)]), RATE)
    return path, begun


def test_a_day_is_cut_by_the_stewards_times_and_a_cut_can_be_moved(
    day: tuple[Path, list[float]], run: Callable[..., Any], tmp_path: Path
) -> None:
    recording, begun = day
    times = tmp_path / "times.csv"
    times.write_text(
        "entry,start,stop\n"
        + "".join(
            f"{entry},{begun[k] + 7200:.0f},{begun[k] + 7200 + 40 + 20 * k:.0f}\n"
            for k, entry in enumerate(("ashby", "brook"))
        ),
        encoding="utf-8",
    )
    done = run("cut", recording, times, "-o", tmp_path / "parts", "--json")
    assert done.code == 0
    cuts = json.loads(done.out)["cuts"]
    assert [cut["entry"] for cut in cuts] == ["ashby", "brook"]
    for cut, first_s in zip(cuts, begun, strict=True):
        assert first_s - 6 < cut["begin_s"] < first_s - 2
        part = soundfile.info(tmp_path / "parts" / f"{cut['entry']}.flac")
        assert part.duration == pytest.approx(cut["end_s"] - cut["begin_s"], abs=0.01)

    moved = tmp_path / "moved.csv"
    moved.write_text("entry,begin_s,end_s\nashby,20,30\n", encoding="utf-8")
    assert run("cut", recording, moved, "-o", tmp_path / "again").code == 0
    assert soundfile.info(tmp_path / "again" / "ashby.flac").duration == pytest.approx(10)


def test_times_in_which_nobody_rang_are_said_to_have_no_ringing(
    day: tuple[Path, list[float]], run: Callable[..., Any], tmp_path: Path
) -> None:
    times = tmp_path / "times.csv"
    times.write_text("entry,start,stop\nashby,600,640\n", encoding="utf-8")
    done = run("cut", day[0], times, "--began", "0")
    assert done.code == 1
    assert "No ringing is heard in the times noted for ashby" in done.out


def test_a_cut_beyond_the_recording_is_refused_and_nothing_is_written(
    day: tuple[Path, list[float]], run: Callable[..., Any], tmp_path: Path
) -> None:
    cuts = tmp_path / "cuts.csv"
    cuts.write_text("entry,begin_s,end_s\nashby,20,30\nbrook,9000,9010\n", encoding="utf-8")
    done = run("cut", day[0], cuts, "-o", tmp_path / "parts")
    assert done.code == 2
    assert "but brook is cut from 9000 s on" in done.err
    assert not (tmp_path / "parts").exists()
