"""A service of its own process, to be killed and started again on the same data and port.

Arguments: the data folder, the port, and whom to print links for when the data is new. Prints one line a link.
"""

import sys
from pathlib import Path

import uvicorn

from judging.store import (
    Settings,
    Store,
    create_contest,
    entry_by_key,
    judge_by_key,
    make_link,
    set_order,
    set_phase,
)
from judging.web import create_app

RULES = """
rules = 1
title = "Ferry Lane six-bell contest"
[[section]]
name = "Six bells"
piece = "doubles"
[[judge]]
id = "ann"
name = "First judge"
[[judge]]
id = "ben"
name = "Second judge"
[draw]
seed = "ferry"
"""
ENTRIES = (
    '[[entry]]\nid = "weir"\nband = "Weir End"\npiece = "doubles"\n'
    '[[entry]]\nid = "lock"\nband = "Lock Cottage"\npiece = "doubles"\n'
)
PIECE = 'piece = 1\nmethod = "Plain Bob Doubles"\ncover = "tenor"\ncalling = "pppb"\nrepeat = 3\nopening_rows = 8\n'
LINKS = {"organiser": "", "steward": "", "ann": "judge", "ben": "judge", "ann again": "judge"}


def main() -> None:
    data, port = Path(sys.argv[1]), int(sys.argv[2])
    settings = Settings(data=data, min_free_bytes=0)
    is_new = not data.exists()
    with Store.open(data, settings) as store:
        if is_new:
            make_contest(store)
    uvicorn.run(create_app(settings, runs_jobs=False), host="127.0.0.1", port=port, log_level="critical")


def make_contest(store: Store) -> None:
    """Make the contest, put it where bands ring, and print everybody's link."""
    with store.write() as session:
        contest = create_contest(
            session, rules_text=RULES, entries_text=ENTRIES, pieces={"doubles.toml": PIECE}, slug="ferry", who="test"
        )
        set_order(session, contest, ["weir", "lock"], who="test")
        set_phase(session, contest, "ringing", who="test")
        for name, role in LINKS.items():
            judge = judge_by_key(session, contest.id, name.split(maxsplit=1)[0]) if role else None
            token = make_link(
                session,
                role=role or name,
                who="test",
                contest_id=contest.id,
                judge_id=judge.id if judge else None,
            )
            sys.stdout.write(f"/links/{token}\n")
        entry = entry_by_key(session, contest.id, "weir")
        assert entry is not None
    sys.stdout.flush()


if __name__ == "__main__":
    main()
