"""A recording heard with the voices kept at a tower, or without where they do not fit; and what is kept of it."""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
from sqlmodel import Session

from judging.ear import listen, voices_from_bytes, voices_to_bytes
from judging.jobs import enqueue_listening, hear_again, hearing
from judging.jobs.listen_task import Listened
from judging.jobs.pull_offs_live import PullOffsLive
from judging.jobs.queue import finish
from judging.jobs.recordings_heard import call_listen, keep_listened
from judging.jobs.with_voices import listen_with
from judging.piece import Piece, rounds
from judging.sounding import ROOMS, Character, Noise, human_log, ring_of_bells, ring_to_file
from judging.store import (
    Kept,
    Store,
    StoredContest,
    StoredEntry,
    StoredTower,
    StoredVoices,
    add_recording,
    create_contest,
    entries_of,
    hearing_of,
    keep_voices,
    make_tower,
    recordings_of,
    set_consent,
    set_place,
    strike_log_of,
)

HUNTED = [np.arange(1, 7)] * 6
for change in range(40):
    row = HUNTED[-1].copy()
    for place in range(change % 2, 5, 2):
        row[[place, place + 1]] = row[[place + 1, place]]
    HUNTED.append(row)
HUNTING = Piece("plain hunting", np.array(HUNTED, np.int8), opening=6)
ROUNDS = Piece("rounds", np.tile(rounds(6), (16, 1)))
HZ = 940.0
LOG = "time_s,bell\n" + "".join(f"{0.3 * blow:.2f},{1 + blow % 6}\n" for blow in range(24))
RULES = 'rules = 1\ntitle = "Spring"\n[[section]]\nname = "Six"\npiece = "six"\n[draw]\nseed = "x"\n'


def rung(path: Path, piece: Piece = ROUNDS, *, bells: int = 41, step: int = 0) -> Path:
    """A touch in a ringing chamber, on bells that are so many half notes higher than those of the tower."""
    touch = human_log(piece, Character(spread_ms=30.0, follow=0.3), peal_minutes=165.0, handstroke_gap=1.0, seed=5)
    ring = ring_of_bells(6, seed=bells, tenor_nominal_hz=HZ * 2 ** (step / 12))
    room, wind = ROOMS["ringing chamber"], Noise("wind", 25)
    ring_to_file(path, touch.log, bells=ring, seed=5, room=room, noise=wind, rate=22_050, is_hand=touch.is_hand)
    return path


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    voices = listen(rung(tmp_path_factory.mktemp("voices") / "before.wav", HUNTING), HUNTING).voices
    assert voices is not None
    return voices_to_bytes(voices)


@pytest.mark.slow
def test_voices_of_these_bells_are_used(tmp_path: Path, kept: bytes) -> None:
    found = listen_with(kept, rung(tmp_path / "touch.wav"), ROUNDS, progress=lambda *_: None)
    assert found.with_voices
    assert found.heard.start_is_sure
    assert found.heard.log.bells[:6].tolist() == [1, 2, 3, 4, 5, 6]


@pytest.mark.slow
@pytest.mark.parametrize(("bells", "step"), [(52, 2), (45, 2), (52, -2)])
def test_voices_of_bells_a_note_higher_or_lower_never_rename_rounds(
    tmp_path: Path, kept: bytes, bells: int, step: int
) -> None:
    """Every bell of a ring a note higher has the pitch of its neighbour, and rounds say nothing against it."""
    found = listen_with(kept, rung(tmp_path / "touch.wav", bells=bells, step=step), ROUNDS, progress=lambda *_: None)
    assert not found.with_voices
    assert found.why_without
    assert found.heard.log.bells[:6].tolist() == [1, 2, 3, 4, 5, 6]


@pytest.mark.slow
@pytest.mark.parametrize(("bells", "step"), [(41, 0), (52, 2)])
def test_an_evening_begun_with_a_towers_voices_calls_the_first_bell_the_first(
    tmp_path: Path, kept: bytes, bells: int, step: int
) -> None:
    samples, rate_hz = soundfile.read(rung(tmp_path / "pull-off.wav", bells=bells, step=step), dtype="float32")
    quiet = np.random.default_rng(1).normal(0, 1e-4, 3 * rate_hz).astype(np.float32)
    live = PullOffsLive(rounds(6), rate_hz, voices=voices_from_bytes(kept, "voices"))

    told = live.feed(np.concatenate([quiet, samples, quiet])) + live.end()

    assert [one.log is not None for one in told] == [True]
    assert told[0].log is not None
    assert told[0].log.bells[:6].tolist() == [1, 2, 3, 4, 5, 6]


@pytest.mark.slow
def test_a_shell_is_told_where_the_voices_it_gave_do_not_fit(tmp_path: Path, kept: bytes) -> None:
    touch = rung(tmp_path / "touch.wav", bells=52, step=2)
    voices = voices_from_bytes(kept, "tower.npz")

    heard = hearing._hear(touch, ROUNDS, None, voices, None, lambda *_: None)

    assert heard.notes[0].startswith("the voices given were not used: they ")
    assert heard.log.bells[:6].tolist() == [1, 2, 3, 4, 5, 6]


@pytest.mark.slow
def test_voices_of_another_ear_are_said_to_be_of_no_use(tmp_path: Path) -> None:
    found = listen_with(b"no voices", rung(tmp_path / "touch.wav"), ROUNDS, progress=lambda *_: None)
    assert not found.with_voices
    assert "is not a file of kept voices" in found.why_without


@dataclass
class Contest:
    """Two bands on six bells, each with a recording, and a tower with voices."""

    contest: StoredContest
    bands: list[StoredEntry]
    voices: StoredVoices


def contest_in(session: Session, store: Store) -> Contest:
    contest = create_contest(
        session,
        rules_text=RULES,
        entries_text='[[entry]]\nid = "ash"\nband = "Ash"\n[[entry]]\nid = "elm"\nband = "Elm"\n',
        pieces={"six.txt": "123456\n" * 4},
        who="test",
    )
    bands = entries_of(session, contest.id)
    for number, band in enumerate(bands):
        set_consent(session, band, "given", who="test")
        kept = store.recordings.keep([b"touch %d" % number], name="touch.wav")
        add_recording(session, band, kept, name="touch.wav", who="test")
    tower = make_tower(session, name="Wheatsheaf", bells=6, recorder="on the sound floor", who="test")
    hear(session, bands[0], learnt=b"learnt")
    log = strike_log_of(session, bands[0].id)
    assert log is not None
    return Contest(contest, bands, keep_voices(session, tower, log, learnt_from="Spring", who="test"))


def hear(session: Session, band: StoredEntry, **told: object) -> None:
    """Ask for a band's recording to be heard, and keep what the ear would answer."""
    job = enqueue_listening(session, band, recordings_of(session, band.id)[0])
    clarity = tuple((bell, 0.9, 1 + bell % 6) for bell in range(1, 7))
    keep_listened(session, job, Listened(LOG, (), start_is_sure=True, clarity=clarity, blows=24, **told))  # type: ignore[arg-type]
    finish(session, job)


def said_of(session: Session, band: StoredEntry) -> tuple[str, str]:
    log = strike_log_of(session, band.id)
    assert log is not None
    hearing = hearing_of(session, log)
    assert hearing is not None
    return hearing.voices_sha256, hearing.said


def test_a_job_is_another_with_other_voices_and_its_log_says_which_were_used(store: Store) -> None:
    with store.write() as session:
        made = contest_in(session, store)
        elm = made.bands[1]
        hear(session, elm)
        assert said_of(session, elm) == ("", "")

        tower = session.get_one(StoredVoices, made.voices.id).tower_id
        assert set_place(session, made.contest, 6, session.get_one(StoredTower, tower), who="test")
        jobs = hear_again(session, made.contest, 6)
        assert [job.state for job in jobs] == ["queued", "queued"]
        assert call_listen(session, store, jobs[1]).options["voices"] == b"learnt"

        keep_listened(session, jobs[0], Listened(LOG, (), start_is_sure=True, with_voices=True))
        keep_listened(session, jobs[1], Listened(LOG, (), start_is_sure=True, why_without="they do not fit"))

        digest, said = said_of(session, made.bands[0])
        assert digest == made.voices.sha256
        assert said.startswith("Heard with the voices kept at Wheatsheaf on ")
        assert said.endswith(", learnt from 24 blows.")
        digest, said = said_of(session, elm)
        assert digest == ""
        assert said.startswith("Heard without the voices kept at Wheatsheaf on ")
        assert said.endswith(": they do not fit.")


def test_an_answer_that_comes_after_it_was_asked_otherwise_is_not_kept(store: Store) -> None:
    with store.write() as session:
        made = contest_in(session, store)
        before = strike_log_of(session, made.bands[0].id)
        first, second = hear_again(session, made.contest, 6)[0], hear_again(session, made.contest, 6)[0]
        assert first.id != second.id

        keep_listened(session, second, Listened(LOG, ("later",), start_is_sure=True))
        keep_listened(session, first, Listened(LOG, ("earlier",), start_is_sure=True))

        now = strike_log_of(session, made.bands[0].id)
        assert before is not None
        assert now is not None
        assert now.id > before.id
        assert json.loads(now.notes_json) == ["later"]


def test_a_second_recorders_recording_is_heard_without_voices_and_is_not_in_force(store: Store) -> None:
    with store.write() as session:
        made = contest_in(session, store)
        set_place(session, made.contest, 6, session.get_one(StoredTower, made.voices.tower_id), who="test")
        ash = made.bands[0]
        second = add_recording(session, ash, Kept("a" * 64, 10), name="other.wav", who="test", is_second=True)
        before = strike_log_of(session, ash.id)

        job = enqueue_listening(session, ash, second)
        assert "voices" not in json.loads(job.params_json)
        keep_listened(session, job, Listened(LOG, (), start_is_sure=True))

        assert strike_log_of(session, ash.id) == before
        assert strike_log_of(session, ash.id, is_second=True) is not None
