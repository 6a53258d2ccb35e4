"""A small contest rung on the spot, and the service on it, for everybody who may ask."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from judging.piece import Piece, piece_from_file
from judging.sounding import Character, Lateness, human_log, write_wav
from judging.store import (
    Settings,
    Store,
    audit,
    contest_by_slug,
    create_contest,
    entry_by_key,
    judge_by_key,
    make_link,
    set_phase,
)
from judging.striking import write_log
from judging.web import changes, create_app
from judging.web.importing import take_in

RULES = """
rules = 1
title = "Dell Deanery six-bell contest"
district = "Dell Deanery"
date = 2026-06-13
place = "Dellbridge"

[[section]]
name = "Six bells"
piece = "bob"

[[judge]]
id = "ann"
name = "First judge"
chief = true

[[judge]]
id = "ben"
name = "Second judge"

[draw]
seed = "dell"

[[penalty]]
for = "borrowed ringers"
percent = 10

[public]
fault_sheets = true
"""

#: Names that must never reach a judge before the result is final; their identifiers are made from them.
BANDS = {"saltmarsh": "Saltmarsh Quay", "pinfold": "Pinfold Hatch", "gorse": "Gorse & <b>Broom</b>"}

ENTRIES = "".join(f'[[entry]]\nid = "{key}"\nband = "{band}"\npiece = "bob"\n' for key, band in BANDS.items()).replace(
    'id = "pinfold"', 'id = "pinfold"\nborrowed = 1'
)

SHEETS = {
    "ann": "entry,total,comment\nsaltmarsh,12,Well led.\npinfold,20,\ngorse,20.5,Mind the tenor.\n",
    "ben": "entry,change,faults,tap_s\nsaltmarsh,3,1,8.5\nsaltmarsh,17,0.5,\npinfold,5,4,\ngorse,9,2.5,\n",
}

SLUG = "dell-deanery-six-bell-contest"
ADDRESS = f"/contests/{SLUG}"
RATE_HZ = 8000


def rows_piece() -> Piece:
    """Plain course of Plain Bob Doubles with a cover: rounds are 1st to 2nd row, 40 changes."""
    return piece_from_file("bob.txt", ROWS)


def _rows() -> str:
    """Rows written out by the oldest rule of Plain Bob (Framework for Method Ringing, App. A and C)."""
    row, rows = list("12345"), []
    for change in range(40):
        made = {5} if change % 2 == 0 else {1} if change % 10 != 9 else {1, 2, 5}
        at = 0
        while at < 5:
            if at + 1 in made:
                at += 1
            else:
                row[at], row[at + 1] = row[at + 1], row[at]
                at += 2
        rows.append("".join(row) + "6")
    return "\n".join(["123456", "123456", *rows]) + "\n"


ROWS = _rows()


def write_contest(folder: Path, *, sheets: bool = True) -> Path:
    """Write the contest as a folder; each band has its own way of striking."""
    for name in ("pieces", "logs", "recordings", "sheets"):
        (folder / name).mkdir(parents=True)
    (folder / "rules.toml").write_text(RULES, encoding="utf-8")
    (folder / "entries.toml").write_text(ENTRIES, encoding="utf-8")
    (folder / "pieces" / "bob.txt").write_text(ROWS, encoding="utf-8")
    for seed, key in enumerate(BANDS):
        character = Character(spread_ms=30.0 + 8 * seed, late=(Lateness(bell=6, stroke="back", late_ms=70.0),))
        touch = human_log(rows_piece(), character, seed=seed, peal_minutes=170.0, handstroke_gap=1.0)
        (folder / "logs" / f"{key}.csv").write_text(write_log(touch.log), encoding="utf-8")
    for seed, key in enumerate(BANDS):
        noise = 0.1 * np.random.default_rng(seed).standard_normal(100 * RATE_HZ)
        write_wav(folder / "recordings" / f"{key}.wav", noise, RATE_HZ)
    for judge, text in SHEETS.items() if sheets else ():
        (folder / "sheets" / f"{judge}.csv").write_text(text, encoding="utf-8")
    return folder


@dataclass(frozen=True, slots=True)
class Service:
    """The running service and a way to come in as anybody."""

    app: FastAPI
    store: Store

    def visitor(self, role: str = "public", key: str = "", *, anywhere: bool = False) -> TestClient:
        """Client of somebody: "organiser" (of the whole service if ``anywhere``), "judge", "band", "steward"."""
        client = TestClient(self.app, follow_redirects=False)
        if role == "public":
            return client
        with self.store.write() as session:
            contest = contest_by_slug(session, SLUG)
            assert contest is not None
            judge = judge_by_key(session, contest.id or 0, key) if role == "judge" else None
            entry = entry_by_key(session, contest.id or 0, key) if role == "band" else None
            token = make_link(
                session,
                role=role,
                who="test",
                contest_id=None if anywhere else contest.id,
                judge_id=judge.id if judge else None,
                entry_id=entry.id if entry else None,
            )
        assert client.post(f"/links/{token}").status_code == 303
        return client

    def set_phase(self, phase: str) -> None:
        """Put the contest into a phase without asking whether the step is allowed."""
        with self.store.write() as session:
            contest = contest_by_slug(session, SLUG)
            assert contest is not None
            set_phase(session, contest, phase, who="test", reason="test")

    def stranger(self) -> TestClient:
        """Client of somebody who organises another contest."""
        with self.store.write() as session:
            other = create_contest(session, rules_text=RULES.replace("Dell Deanery", "Other"), who="test")
            token = make_link(session, role="organiser", who="test", contest_id=other.id)
        client = TestClient(self.app, follow_redirects=False)
        assert client.post(f"/links/{token}").status_code == 303
        return client

    def keep_fault_sheets_private(self) -> None:
        """Change the rules behind everybody's back, as no page can."""
        self.change_rules("fault_sheets = true", "fault_sheets = false")

    def change_rules(self, old: str, new: str) -> None:
        """Change the rules behind everybody's back, as no page can."""
        with self.store.write() as session:
            contest = contest_by_slug(session, SLUG)
            assert contest is not None
            assert old in contest.rules_text
            contest.rules_text = contest.rules_text.replace(old, new)
            session.add(contest)
            audit(session, who="test", what="rules changed", contest=SLUG)


@pytest.fixture(autouse=True)
def short_news(monkeypatch: pytest.MonkeyPatch) -> None:
    """A test's client reads an answer to its end, so that the desk's news must have one soon."""
    monkeypatch.setattr(changes, "EVERY_S", 0.02)
    monkeypatch.setattr(changes, "LONGEST_S", 0.06)


@pytest.fixture(scope="session")
def contest_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_contest(tmp_path_factory.mktemp("contest") / "dell")


@pytest.fixture(scope="session")
def finished_data(contest_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Data folder that holds the finished contest; copied, never opened for writing."""
    data = tmp_path_factory.mktemp("finished") / "data"
    with Store.open(data, _settings(data)) as store:
        take_in(store, contest_folder)
    return data


def _settings(data: Path) -> Settings:
    return Settings(data=data, max_recording_bytes=4_000_000, min_free_bytes=0)


def serve(data: Path, finished: Path) -> Iterator[Service]:
    shutil.copytree(finished, data)
    app = create_app(_settings(data), runs_jobs=False)
    with TestClient(app):
        yield Service(app, app.state.store)


@pytest.fixture(scope="module")
def finished(finished_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """The service on the finished contest; for tests that only read."""
    yield from serve(tmp_path_factory.mktemp("module") / "data", finished_data)


@pytest.fixture
def service(finished_data: Path, tmp_path: Path) -> Iterator[Service]:
    """The service on a contest of its own, finished until a test puts it elsewhere."""
    yield from serve(tmp_path / "data", finished_data)
