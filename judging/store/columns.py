"""What every table stands on: one metadata, moments in UTC, exact decimals, and words that a column may hold."""

from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, ClassVar

from sqlalchemy import CheckConstraint, MetaData, String
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator
from sqlmodel import SQLModel


def one_of(column: str, words: tuple[str, ...]) -> CheckConstraint:
    """Constraint that a column holds one of some words.

    Parameters
    ----------
    column : str
        Column's name; the constraint is named after it.
    words : tuple of str
        The words allowed, none with a quotation mark.

    Returns
    -------
    CheckConstraint
        ``column IN (...)``.
    """
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=column)


def utc_now() -> datetime:
    """Return this moment, aware, in UTC."""
    return datetime.now(UTC)


class ExactDecimal(TypeDecorator[Decimal]):
    """A decimal kept as its text, so that no mark ever passes through a binary fraction."""

    impl = String
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:  # noqa: ARG002 SQLAlchemy's signature
        """Write a decimal without an exponent."""
        return None if value is None else format(value, "f")

    def process_result_value(self, value: str | None, dialect: Dialect) -> Decimal | None:  # noqa: ARG002 SQLAlchemy's signature
        """Read it back, digit for digit."""
        return None if value is None else Decimal(value)


class Base(SQLModel):
    """Base of all tables: one metadata, with names for every constraint so that migrations can find them."""

    metadata: ClassVar[MetaData] = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        },
    )


def fields_of(stored: Base, *names: str) -> Mapping[str, Any]:
    """Pick fields of a stored value, for the audit trail's before and after.

    Parameters
    ----------
    stored : Base
        Any row of a table.
    *names : str
        Its fields.

    Returns
    -------
    mapping of str to object
        The fields' values now.
    """
    return {name: getattr(stored, name) for name in names}
