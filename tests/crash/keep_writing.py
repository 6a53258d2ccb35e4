"""A server in small that is killed: it signs sheets and takes recordings, and says of each when it is safe.

Argument: the data folder, in which the contest ``crash`` is. Prints one line after each commit, until killed.
"""

import sys
from decimal import Decimal
from itertools import count
from pathlib import Path

from judging.marks.values import Sheet
from judging.store import (
    Settings,
    Store,
    add_recording,
    add_sheet,
    contest_by_slug,
    entry_by_key,
    latest_sheet,
)

with Store.open(Path(sys.argv[1]), Settings(min_free_bytes=0)) as store:
    with store.read() as session:
        contest = contest_by_slug(session, "crash")
        if contest is None:
            sys.exit("no contest")
        entry = entry_by_key(session, contest.id, "ash")
        if entry is None:
            sys.exit("no entry")
        latest = latest_sheet(session, 1, entry.id)
    for number in count(latest.revision if latest else 0):
        with store.write() as session:
            sheet = Sheet("a", "ash", Decimal(number), reason=f"revision {number}")
            add_sheet(session, contest.id, sheet, who="judge a")
        print("sheet", number, flush=True)  # noqa: T201 the acknowledgement
        if number % 4 == 0:
            blocks = (bytes([number % 256]) * 65_536 + str(number).encode() for _ in range(8))
            kept = store.recordings.keep(blocks, name="ash.wav")
            with store.write() as session:
                add_recording(session, entry, kept, name="ash.wav", who="steward")
            print("recording", kept.sha256, flush=True)  # noqa: T201 the acknowledgement
