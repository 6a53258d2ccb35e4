"""Short ways to say a contest in a test."""

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal

import pytest

from judging.marks import Entrant, MarksRules, Result, Sheet, Tap, rank

Figures = Mapping[str, Sequence[str | int]]


def sheets_of(table: Figures) -> list[Sheet]:
    """Sheets of judges ``j1``, ``j2``, ... from one line a band."""
    return [
        Sheet(f"j{number}", entry, Decimal(str(figure)))
        for entry, line in table.items()
        for number, figure in enumerate(line, start=1)
    ]


@pytest.fixture(scope="session")
def sheets() -> Callable[[Figures], list[Sheet]]:
    return sheets_of


@pytest.fixture(scope="session")
def taps() -> Callable[..., Sheet]:
    """A sheet of taps: pairs of change and faults."""

    def make(judge: str, entry: str, *pairs: tuple[int, str]) -> Sheet:
        itemised = tuple(Tap(change, Decimal(faults)) for change, faults in pairs)
        return Sheet(judge, entry, sum((tap.faults for tap in itemised), Decimal(0)), itemised)

    return make


@pytest.fixture(scope="session")
def ranked() -> Callable[..., Result]:
    """The result of one line of figures a band."""

    def make(table: Figures, rules: MarksRules | None = None, *entrants: Entrant, **options: object) -> Result:
        known = {entrant.id: entrant for entrant in entrants}
        judges = [f"j{number}" for number in range(1, 1 + max(len(line) for line in table.values()))]
        return rank(
            [known.get(entry, Entrant(entry)) for entry in table],
            sheets_of(table),
            rules or MarksRules(),
            judges=judges,
            **options,  # type: ignore[arg-type]  # passed on as they are
        )

    return make


@pytest.fixture(scope="session")
def places() -> Callable[[Result], dict[str, int | None]]:
    return lambda result: {line.entry: line.place for line in result.places}


@pytest.fixture(scope="session")
def marks() -> Callable[[Result], dict[str, str]]:
    return lambda result: {line.entry: str(line.mark) for line in result.places}
