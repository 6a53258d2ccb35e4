"""A small contest in texts, and a store of its own for each test."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from judging.store import Settings, Store, create_contest, entry_by_key, set_consent

RULES = """
rules = 1
title = "Spring Six-Bell Contest"

[[section]]
name = "Method"
piece = "hunt"

[[judge]]
id = "a"
name = "Judge A"

[[judge]]
id = "b"
name = "Judge B"

[draw]
seed = "wheatsheaf 1931"
"""

ENTRIES = "\n".join(f'[[entry]]\nid = "{key}"\nband = "St {key.title()}"\n' for key in ("ash", "birch", "cedar"))

#: Two rounds, then plain hunting on four (Framework for Method Ringing, App. A: x.14.x.14.x.14.x.14).
ROWS = "1234\n1234\n2143\n2413\n4231\n4321\n3412\n3142\n1324\n1234\n"

#: The same rung in perfectly even blows, 0.3 s apart.
LOG = "time_s,bell\n" + "".join(
    f"{0.3 * blow + 0.3 * (blow // 8):.3f},{bell}\n" for blow, bell in enumerate(ROWS.replace("\n", ""))
)


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(data=tmp_path / "data", min_free_bytes=0, max_recording_bytes=10_000_000)


@pytest.fixture
def store(settings: Settings, empty_data: Path) -> Iterator[Store]:
    shutil.copytree(empty_data, settings.data)
    with Store.open(settings.data, settings) as opened:
        yield opened


@pytest.fixture
def texts() -> dict[str, str]:
    return {"rules": RULES, "entries": ENTRIES, "piece": ROWS, "log": LOG}


@pytest.fixture
def contest_id(store: Store, texts: dict[str, str]) -> int:
    """Id of a contest with three entries, two judges and a piece."""
    with store.write() as session:
        return create_contest(
            session,
            rules_text=texts["rules"],
            entries_text=texts["entries"],
            pieces={"hunt.txt": texts["piece"]},
            who="organiser",
        ).id


@pytest.fixture
def folder(tmp_path: Path, texts: dict[str, str]) -> Callable[[], Path]:
    """Make a contest folder: two logs, one recording, both judges' sheets."""

    def make() -> Path:
        root = tmp_path / "folder"
        for name in ("pieces", "logs", "recordings", "sheets"):
            (root / name).mkdir(parents=True)
        (root / "rules.toml").write_text(texts["rules"])
        (root / "entries.toml").write_text(texts["entries"])
        (root / "pieces" / "hunt.txt").write_text(texts["piece"])
        for key in ("ash", "birch"):
            (root / "logs" / f"{key}.csv").write_text(texts["log"])
        (root / "recordings" / "cedar.wav").write_bytes(b"RIFF" + bytes(2000))
        (root / "sheets" / "a.csv").write_text('entry,total,comment\nash,3.5,"Steady"\nbirch,4,\ncedar,9,\n')
        taps = "ash,3,1,4.2\nash,5,0.5,7.1\nbirch,1,1,\ncedar,,,\n"
        (root / "sheets" / "b.csv").write_text(f"entry,change,faults,tap_s\n{taps}")
        (root / "sheets" / "b-comments.csv").write_text("entry,comment\nash,Leads a little late\n")
        return root

    return make


@pytest.fixture
def consenting(store: Store, contest_id: int) -> Callable[[str], int]:
    """Let an entry's band agree to be recorded, and return the entry's id."""

    def agree(key: str) -> int:
        with store.write() as session:
            entry = entry_by_key(session, contest_id, key)
            assert entry is not None
            set_consent(session, entry, "given", who="steward")
            return entry.id

    return agree
