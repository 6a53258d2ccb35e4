"""A process of its own that opens a store, says so, and signs a sheet at the moment it is told.

Arguments: data folder, contest id, total. Answers on standard output.
"""

import sys
from decimal import Decimal
from pathlib import Path

from judging.errors import RuleError
from judging.marks.values import Sheet
from judging.store import Settings, Store, add_sheet

data, contest_id, total = sys.argv[1:]
with Store.open(Path(data), Settings(min_free_bytes=0)) as store:
    print("ready", flush=True)  # noqa: T201 how it answers
    sys.stdin.readline()
    try:
        with store.write() as session:
            add_sheet(session, int(contest_id), Sheet("a", "ash", Decimal(total)), who="judge a")
        print("signed", flush=True)  # noqa: T201 the same
    except RuleError as problem:
        print(problem, flush=True)  # noqa: T201 the same
