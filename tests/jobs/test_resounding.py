"""A strike log rung into a file: on its own clock, made once, made again where it was thrown away."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from sqlmodel import Session

from judging.errors import RuleError
from judging.jobs import enqueue_sound, sound_path
from judging.jobs.kinds import KINDS
from judging.jobs.resounding import sounds_made_of
from judging.jobs.sound_task import sound_task
from judging.jobs.task_frame import Call, Refused, run_task
from judging.piece import piece_from_file
from judging.sounding import Character, Lateness, human_log, ring, ring_of_bells
from judging.store import (
    Store,
    StoredEntry,
    StoredJob,
    StoredRecording,
    add_recording,
    add_strike_log,
    create_contest,
    entries_of,
    erase_recording,
    set_consent,
    strike_log_of,
)
from judging.striking import write_log
from judging.striking.strike_log import StrikeLog

RULES = 'rules = 1\ntitle = "Practice"\n[[section]]\nname = "Six"\npiece = "hunt"\n[draw]\nseed = "x"\n'


def plain_hunt(changes: int = 40) -> str:
    row, rows = list("123456"), ["123456"] * 2
    for change in range(changes):
        for place in range(change % 2, 5, 2):
            row[place], row[place + 1] = row[place + 1], row[place]
        rows.append("".join(row))
    return "\n".join(rows) + "\n"


@pytest.fixture
def entry(store: Store) -> StoredEntry:
    """An entry of a band whose tenor is late at every backstroke."""
    piece = piece_from_file("hunt.txt", plain_hunt())
    late = Character(spread_ms=12.0, late=(Lateness(bell=6, stroke="back", late_ms=95.0),))
    log = human_log(piece, late, seed=2, peal_minutes=165.0, handstroke_gap=1.0).log
    later = StrikeLog(log.times_s + 3.0, log.bells.copy(), log.spread_ms.copy())
    with store.write() as session:
        contest = create_contest(
            session,
            rules_text=RULES,
            entries_text='[[entry]]\nid = "weir"\nband = "Weir"\npiece = "hunt"',
            pieces={"hunt.txt": plain_hunt()},
            who="test",
        )
        made = entries_of(session, contest.id or 0)[0]
        set_consent(session, made, "given", who="test")
        add_strike_log(session, made, data=write_log(later), name="log.csv", origin="given", who="test")
        return made


def run(store: Store, job: StoredJob) -> str | Refused:
    """Do a job as the runner does, in this process."""
    with store.read() as session:
        call = KINDS["sound"].call(session, store, job)
    return run_task(KINDS["sound"].task, call)  # type: ignore[no-any-return]  # a task of any kind


def ask(store: Store, entry: StoredEntry, way: str) -> StoredJob:
    with store.write() as session:
        return enqueue_sound(session, store, entry, way)  # type: ignore[arg-type]  # one of the ways, from a test's list


@pytest.mark.parametrize("way", ["as rung", "steady", "repaired"])
def test_the_file_begins_to_sound_where_the_log_does(store: Store, entry: StoredEntry, way: str) -> None:
    path = run(store, ask(store, entry, way))

    assert isinstance(path, str)
    samples, rate = soundfile.read(path)
    with store.read() as session:
        log = strike_log_of(session, entry.id or 0)
        assert log is not None
        assert Path(path) == sound_path(store, log, way, RULES)  # type: ignore[arg-type]  # one of the ways
    first_s = np.flatnonzero(np.abs(samples) > 0.05)[0] / rate
    assert first_s == pytest.approx(3.0, abs=0.12)


def test_asked_for_twice_it_is_one_and_thrown_away_it_is_made_again(store: Store, entry: StoredEntry) -> None:
    first = ask(store, entry, "steady")
    with store.write() as session:
        job = session.get_one(StoredJob, first.id)
        job.state, job.progress = "done", 1.0
    again = ask(store, entry, "steady")  # its file was never made
    assert (again.id, again.state) == (first.id, "queued")

    run(store, again)
    with store.write() as session:
        session.get_one(StoredJob, first.id).state = "done"

    assert ask(store, entry, "steady").state == "done"
    assert ask(store, entry, "repaired").id != first.id


def test_without_a_log_there_is_nothing_to_ring(store: Store, entry: StoredEntry) -> None:
    def silent(session: Session) -> StoredEntry:
        contest = create_contest(
            session,
            rules_text=RULES.replace("Practice", "Other"),
            entries_text='[[entry]]\nid = "lock"\nband = "Lock"\npiece = "hunt"',
            who="test",
        )
        return entries_of(session, contest.id or 0)[0]

    del entry
    with store.write() as session, pytest.raises(RuleError, match="nothing to ring"):
        enqueue_sound(session, store, silent(session), "steady")


def test_a_log_that_cannot_be_rung_is_refused_in_words(tmp_path: Path) -> None:
    answer = run_task(sound_task, Call(("time_s,bell\n1.0,9\n", 6, str(tmp_path / "x.flac"))))

    assert isinstance(answer, Refused)
    assert not list(tmp_path.iterdir())


@pytest.fixture(scope="module")
def practice(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A recording of six bells, softly made, and its strike log."""
    piece = piece_from_file("hunt.txt", plain_hunt())
    touch = human_log(piece, Character(spread_ms=25.0), seed=2, peal_minutes=165.0, handstroke_gap=1.0)
    samples, log = ring(touch.log, ring_of_bells(6, seed=9), seed=3, rate=22_050, is_hand=touch.is_hand)
    path = tmp_path_factory.mktemp("practice") / "practice.flac"
    soundfile.write(path, 0.1 * samples, 22_050)
    return path, write_log(log)


@pytest.fixture
def recorded(store: Store, entry: StoredEntry, practice: tuple[Path, str]) -> StoredRecording:
    """The entry's recording, and a log of it."""
    path, log = practice
    kept = store.recordings.keep_file(path)
    with store.write() as session:
        here = session.get_one(StoredEntry, entry.id)
        recording = add_recording(session, here, kept, name="practice.flac", who="test")
        add_strike_log(session, here, data=log, name="log.csv", origin="heard", who="test", recording_id=recording.id)
        return recording


def ask_on_own(store: Store, entry: StoredEntry, recording: StoredRecording) -> StoredJob:
    with store.write() as session:
        return enqueue_sound(session, store, entry, "steady", bells_of=recording)


def test_on_its_own_bells_a_band_sounds_like_itself_and_no_louder(
    store: Store, entry: StoredEntry, recorded: StoredRecording, practice: tuple[Path, str]
) -> None:
    job = ask_on_own(store, entry, recorded)
    assert job.id != ask(store, entry, "steady").id

    path = run(store, job)

    assert isinstance(path, str)
    samples, rate = soundfile.read(path)
    band, band_rate = soundfile.read(practice[0])

    def spectrum(sound: np.ndarray, at: int) -> np.ndarray:
        """Power of every third of an octave from 200 Hz to 5 kHz."""
        power = np.abs(np.fft.rfft(sound)) ** 2
        edges = (200 * 2 ** (np.arange(15) / 3) * len(sound) / at).astype(int)
        return 10 * np.log10(np.add.reduceat(power, edges)[:-1])

    with store.read() as session:
        log = strike_log_of(session, entry.id or 0)
        assert log is not None
        made_up = Path(str(run(store, ask(store, entry, "steady"))))
    own_db, made_db = (
        spectrum(sound, at) - spectrum(band, band_rate) for sound, at in ((samples, rate), soundfile.read(made_up))
    )
    assert own_db.std() < made_db.std() / 2
    assert np.sqrt((samples**2).mean()) <= np.sqrt((band**2).mean()) * 1.05
    assert np.abs(samples).max() < 0.71


def test_bells_that_cannot_be_measured_are_said_in_words(store: Store, entry: StoredEntry, tmp_path: Path) -> None:
    noise = tmp_path / "noise.wav"
    soundfile.write(noise, np.random.default_rng(1).normal(0, 0.05, 22_050 * 130), 22_050)
    kept = store.recordings.keep_file(noise)
    with store.write() as session:
        here = session.get_one(StoredEntry, entry.id)
        recording = add_recording(session, here, kept, name="noise.wav", who="test")

    answer = run(store, ask_on_own(store, entry, recording))

    assert isinstance(answer, Refused)
    assert "the tower’s own bells: bell" in answer.message
    assert "cannot be told apart" in answer.message
    assert kept.sha256 not in answer.message


def test_bells_of_a_recording_that_was_erased_are_not_measured(
    store: Store, entry: StoredEntry, recorded: StoredRecording
) -> None:
    job = ask_on_own(store, entry, recorded)
    with store.write() as session:
        erase_recording(session, session.get_one(StoredRecording, recorded.id), who="test", reason="wish")

    with pytest.raises(RuleError, match="was erased"):
        run(store, job)


def test_every_file_that_was_made_of_a_log_is_known_for_erasing(
    store: Store, entry: StoredEntry, recorded: StoredRecording
) -> None:
    with store.read() as session:
        log = strike_log_of(session, entry.id or 0)
        assert log is not None
        made = sounds_made_of(session, store, log, RULES)

    assert sound_path(store, log, "repaired", RULES) in made
    assert sound_path(store, log, "steady", RULES, bells_of=recorded) in made
    assert len(set(made)) == 6
