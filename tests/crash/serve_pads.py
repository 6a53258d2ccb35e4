"""A service of its own process, on a given data folder and port, to be killed and started again."""

import sys
from pathlib import Path

import uvicorn
from contest_ringing import make_contest

from judging.store import Settings, Store
from judging.web import create_app


def main() -> None:
    data, port = Path(sys.argv[1]), int(sys.argv[2])
    settings = Settings(data=data, min_free_bytes=0)
    is_new = not data.exists()
    with Store.open(data, settings) as store, store.write() as session:
        if is_new:
            make_contest(session)
    uvicorn.run(create_app(settings, runs_jobs=False), host="127.0.0.1", port=port, log_level="critical")


main()
