"""The service's runners: recordings are heard, and papers set, in one; what a band might listen to is rung in another.

A sound on a tower's own bells takes about a minute, and a band that has just rung waits for its touch. Each lane starts
worker processes of its own once it has something to do.
"""

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from contextlib import AbstractContextManager, ExitStack
from typing import Self

from judging.jobs.ideal_pull_off import KIND as IDEAL
from judging.jobs.kinds import KINDS, JobKind
from judging.jobs.runner import Runner
from judging.store.engine import Store

#: What is rung, so that somebody may hear it; all else is waited for.
RUNG = frozenset({"sound", "ear test", IDEAL})


class Lanes:
    """Runs the jobs of a store in two lanes that do not wait for each other; a context manager.

    Parameters
    ----------
    store : Store
        Open for as long.
    kinds, executor
        Of both, as `Runner` has them.
    """

    def __init__(
        self,
        store: Store,
        *,
        kinds: Mapping[str, JobKind] = KINDS,
        executor: Callable[[], AbstractContextManager[Executor]] | None = None,
    ) -> None:
        self._runners = tuple(
            Runner(
                store,
                kinds={name: kind for name, kind in kinds.items() if (name in RUNG) is is_rung},
                executor=executor,
            )
            for is_rung in (False, True)
        )
        self._open = ExitStack()

    def __enter__(self) -> Self:
        """Start."""
        for runner in self._runners:
            self._open.enter_context(runner)
        return self

    def __exit__(self, *_: object) -> None:
        """Stop; jobs with a worker are queued again."""
        self._open.close()

    def wake(self) -> None:
        """Look at the queue at once, such as after a job was enqueued."""
        for runner in self._runners:
            runner.wake()
