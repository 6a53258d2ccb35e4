"""Long work done outside the server: the durable queue, the worker processes, and what they do.

::

    with Store.open(data) as store, Runner(store) as runner:      # the runner is a thread of the server
        kept = store.recordings.keep(blocks, name="band 3.wav")
        with store.write() as session:                            # the upload and its job in one transaction
            recording = add_recording(session, entry, kept, name="band 3.wav", who="steward")
            job = enqueue_listening(session, entry, recording)
        runner.wake()
        with store.read() as session:
            jobs_of(session, entry.id)[0].progress                # 0 to 1; state queued, running, done or failed

On finish the strike log, its audit entry and the job's end are written in one transaction.
"""

from judging.jobs.ear_testing import EarTest, ear_test_job, ear_test_named, ear_test_path, enqueue_test
from judging.jobs.excerpting import Excerpt, enqueue_excerpt, excerpt_of
from judging.jobs.kinds import KINDS, JobKind
from judging.jobs.lanes import Lanes
from judging.jobs.queue import enqueue, jobs_of
from judging.jobs.recordings_heard import enqueue_listening, enqueue_unheard, hear_again
from judging.jobs.resounding import enqueue_sound, sound_path
from judging.jobs.runner import Runner
from judging.jobs.setting_papers import enqueue_paper, paper_asked_for, paper_job, paper_path

__all__ = [
    "KINDS",
    "EarTest",
    "Excerpt",
    "JobKind",
    "Lanes",
    "Runner",
    "ear_test_job",
    "ear_test_named",
    "ear_test_path",
    "enqueue",
    "enqueue_excerpt",
    "enqueue_listening",
    "enqueue_paper",
    "enqueue_sound",
    "enqueue_test",
    "enqueue_unheard",
    "excerpt_of",
    "hear_again",
    "jobs_of",
    "paper_asked_for",
    "paper_job",
    "paper_path",
    "sound_path",
]
