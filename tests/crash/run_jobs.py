"""A server in small that is killed in the middle of a job.

Arguments: the data folder, and a folder with `odd_tasks`. Says so when the job runs, with its workers' process ids.
"""

import multiprocessing
import sys
import time
from pathlib import Path

sys.path.insert(0, sys.argv[2])

if __name__ == "__main__":  # workers are spawned, and read this file again
    import odd_tasks
    from sqlmodel import select

    from judging.jobs import JobKind, Runner
    from judging.jobs.task_frame import Call
    from judging.store import Settings, Store, StoredJob

    kind = JobKind(odd_tasks.wait_for, lambda _session, _store, job: Call((job.params_json.strip('"'),)), print)
    settings = Settings(min_free_bytes=0, job_lease_s=1.0)
    with Store.open(Path(sys.argv[1]), settings) as store, Runner(store, kinds={"wait_for": kind}, poll_s=0.05):
        while True:
            time.sleep(0.02)
            with store.read() as session:
                [job] = session.exec(select(StoredJob)).all()
            if job.message == "waiting":
                break
        print("running", *[child.pid for child in multiprocessing.active_children()], flush=True)  # noqa: T201 read by the test
        time.sleep(600)
