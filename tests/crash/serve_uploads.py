"""A service of its own process, to be killed: prints its address, an organiser's and a judge's link, then serves."""

import socket
import sys
from pathlib import Path

import uvicorn

from judging.store import Settings, Store, create_contest, judge_by_key, make_link, set_order, set_phase
from judging.web import create_app, organiser_link

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
    data = Path(sys.argv[1])
    settings = Settings(data=data, min_free_bytes=0)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    with Store.open(data, settings) as store:
        with store.write() as session:
            contest = create_contest(
                session, rules_text=RULES, entries_text=ENTRIES, pieces={"hunt.txt": PIECE}, slug="weir", who="test"
            )
            set_order(session, contest, ["weir"], who="test")
            set_phase(session, contest, "ringing", who="test")
            judge = judge_by_key(session, contest.id, "ann")
            assert judge is not None
            token = make_link(session, role="judge", who="test", contest_id=contest.id, judge_id=judge.id)
        sys.stdout.write(f"{address} {organiser_link(store, base=address)} {address}/links/{token}\n")
        sys.stdout.flush()
    uvicorn.run(create_app(settings, runs_jobs=False), host="127.0.0.1", port=port, log_level="critical")


main()
