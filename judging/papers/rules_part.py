"""One part of the rules in words."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RulesPart:
    """A part of the rules.

    Parameters
    ----------
    title : str
        Its heading.
    sentences : tuple of str
        What is declared.
    table : tuple of tuple of str
        Rows of an example, the first one its head; empty for none.
    example : str
        What the table or an example shows; empty for none.
    """

    title: str
    sentences: tuple[str, ...]
    table: tuple[tuple[str, ...], ...] = ()
    example: str = ""
