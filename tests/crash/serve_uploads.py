"""A service of its own process, to be killed: prints its address, an organiser's and a judge's link, then serves."""

import socket
import sys
from pathlib import Path

import uvicorn
from contest_ringing import make_contest

from judging.store import Settings, Store, judge_by_key, make_link
from judging.web import create_app, organiser_link


def main() -> None:
    data = Path(sys.argv[1])
    settings = Settings(data=data, min_free_bytes=0)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    with Store.open(data, settings) as store:
        with store.write() as session:
            contest = make_contest(session)
            judge = judge_by_key(session, contest.id, "ann")
            assert judge is not None
            token = make_link(session, role="judge", who="test", contest_id=contest.id, judge_id=judge.id)
        sys.stdout.write(f"{address} {organiser_link(store, base=address)} {address}/links/{token}\n")
        sys.stdout.flush()
    uvicorn.run(create_app(settings, runs_jobs=False), host="127.0.0.1", port=port, log_level="critical")


main()
