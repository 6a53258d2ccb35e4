"""The kinds of job: what is handed to the worker, and what is kept of its result.

A kind is added by a task, what it is handed, and an entry of `KINDS`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from judging.jobs.day_cutting import call_cutting, call_finding, cut_task, find_task, keep_found, keep_parts
from judging.jobs.ear_testing import call_test
from judging.jobs.excerpting import call_excerpt, excerpt_task
from judging.jobs.ideal_pull_off import KIND as IDEAL
from judging.jobs.ideal_pull_off import call_ideal
from judging.jobs.listen_task import listen_task
from judging.jobs.recordings_heard import call_listen, keep_listened
from judging.jobs.resounding import call_sound
from judging.jobs.setting_papers import call_paper, paper_task
from judging.jobs.sound_task import sound_task
from judging.jobs.task_frame import Call
from judging.store.engine import Store
from judging.store.service_tables import StoredJob


@dataclass(frozen=True, slots=True)
class JobKind:
    """One kind of job.

    Parameters
    ----------
    task : callable
        Runs in a worker, on plain values, within `judging.jobs.task_frame`; takes ``progress``.
    call : callable
        What the task is handed, from a reading session, the store and the job.
    keep : callable
        Keeps the result, in the transaction that ends the job.
    """

    task: Callable[..., Any]
    call: Callable[[Session, Store, StoredJob], Call]
    keep: Callable[[Session, StoredJob, Any], None]


#: Every kind of job there is, by name.
KINDS: Mapping[str, JobKind] = {
    "listen": JobKind(listen_task, call_listen, keep_listened),
    # The file is the result, and is there once the task is done: nothing is kept of it.
    "sound": JobKind(sound_task, call_sound, lambda *_: None),
    "ear test": JobKind(sound_task, call_test, lambda *_: None),
    "find cuts": JobKind(find_task, call_finding, keep_found),
    "cut": JobKind(cut_task, call_cutting, keep_parts),
    "excerpt": JobKind(excerpt_task, call_excerpt, lambda *_: None),
    "paper": JobKind(paper_task, call_paper, lambda *_: None),
    IDEAL: JobKind(sound_task, call_ideal, lambda *_: None),
}
