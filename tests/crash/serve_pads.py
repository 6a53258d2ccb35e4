"""A service of its own process, on a given data folder and port, to be killed and started again."""

import sys
from pathlib import Path

import uvicorn

from judging.store import Settings, Store, create_contest, set_order, set_phase
from judging.web import create_app

RULES = """
rules = 1
title = "Weir"
[[section]]
name = "Six"
piece = "hunt"
[[judge]]
id = "ann"
name = "Ann"
[draw]
seed = "x"
"""
ENTRIES = '[[entry]]\nid = "weir"\nband = "Weir End"\npiece = "hunt"\n'
PIECE = "123456\n123456\n213546\n231456\n"


def main() -> None:
    data, port = Path(sys.argv[1]), int(sys.argv[2])
    settings = Settings(data=data, min_free_bytes=0)
    is_new = not data.exists()
    with Store.open(data, settings) as store, store.write() as session:
        if is_new:
            contest = create_contest(
                session, rules_text=RULES, entries_text=ENTRIES, pieces={"hunt.txt": PIECE}, slug="weir", who="test"
            )
            set_order(session, contest, ["weir"], who="test")
            set_phase(session, contest, "ringing", who="test")
    uvicorn.run(create_app(settings, runs_jobs=False), host="127.0.0.1", port=port, log_level="critical")


main()
