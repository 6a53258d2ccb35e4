"""The service as a process: an address to open, a first link for the organiser, a finished contest taken in."""

import sys
from pathlib import Path

import uvicorn

from judging.store import Settings, Store
from judging.web.app import create_app
from judging.web.importing import take_in
from judging.web.network import own_address
from judging.web.organiser_links import organiser_link

#: Addresses that mean "every network of this machine", which nobody can open.
_EVERYWHERE = frozenset({"0.0.0.0", "::"})  # noqa: S104 compared with, not bound to


def serve(*, data: Path, host: str, port: int, contest_folder: Path | None = None) -> None:
    """Run the service until it is stopped.

    Parameters
    ----------
    data : Path
        The data folder; made where there is none.
    host, port : str and int
        Where it listens.
    contest_folder : Path or None
        A contest judged already (rules, entries, pieces, recordings, strike logs, sheets) that is taken in and made
        final, once.

    Raises
    ------
    InputError
        Where the data folder or the contest cannot be used.
    """
    settings = Settings(data=data)
    base = f"http://{'127.0.0.1' if host in _EVERYWHERE else host}:{port}"
    with Store.open(data, settings) as store:
        slug = take_in(store, contest_folder) if contest_folder is not None else ""
        link = organiser_link(store, base=base)
    _say(f"Evenblow is at {base}/{f'contests/{slug}' if slug else ''}")
    if link:
        _say(f"Open this to come in as the organiser; it works once: {link}")
    if host in _EVERYWHERE:
        found = own_address()
        where = f"http://{found}:{port}/" if found else "this computer's own address, once it is in one"
        _say(f"Phones on the same network open {where}")
    else:
        _say("Only this computer reaches it; with --host 0.0.0.0 phones on the same network do too.")
    # No access log: addresses of personal links are secrets.
    uvicorn.run(
        create_app(settings, is_on_network=host in _EVERYWHERE),
        host=host,
        port=port,
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=3,  # pages left open listen for as long as they are
    )


def _say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)  # noqa: T201 the one place where the service speaks to its operator
