"""Progress of long commands, on standard error: bars on a terminal, plain lines elsewhere."""

from collections.abc import Callable
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn


class TerminalProgress:
    """One line a task, until the block ends."""

    def __init__(self) -> None:
        self._console = Console(stderr=True)
        self._bars = Progress(
            TextColumn("{task.fields[name]:<28}"),
            BarColumn(bar_width=24),
            TextColumn("{task.percentage:>3.0f} %"),
            TimeElapsedColumn(),
            TextColumn("{task.description}"),
            console=self._console,
            disable=not self._console.is_terminal,
        )

    def __enter__(self) -> Self:
        """Show the bars."""
        self._bars.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop moving them."""
        self._bars.stop()

    def line(self, name: str) -> Callable[[float, str], None]:
        """Add a line for one task.

        Parameters
        ----------
        name : str
            What the line is about.

        Returns
        -------
        callable
            Takes the share done, 0 to 1, and what is being done.
        """
        if not self._console.is_terminal:
            return self._plain(name)
        task = self._bars.add_task("waiting", name=name, total=1.0, start=False)

        def step(share: float, doing: str) -> None:
            self._bars.start_task(task)
            self._bars.update(task, completed=share, description=doing)

        return step

    def _plain(self, name: str) -> Callable[[float, str], None]:
        said: list[str] = []

        def step(share: float, doing: str) -> None:
            del share
            if doing not in said:  # a log file wants each step once, not every per cent
                said.append(doing)
                self._console.print(f"{name}: {doing}", highlight=False, markup=False, soft_wrap=True)

        return step
