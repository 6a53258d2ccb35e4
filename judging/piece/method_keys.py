"""Keys that say which method, and its calling → method and names of calls."""

from dataclasses import replace

from judging.errors import InputError
from judging.piece.keys import Keys
from judging.piece.known_methods import method_named
from judging.piece.lead import PLAIN, Lead
from judging.piece.methods import Call, Method, stage_of
from judging.piece.rows import MOST_CHANGES

#: Title of a method that is given by its notation alone.
UNNAMED = "the method"


def method_of(keys: Keys, *, free_places: int) -> Method:
    """Method that the keys name, or give by its notation, with the calls declared.

    Parameters
    ----------
    keys : Keys
        Of which ``method``, ``notation`` and ``calls`` are read.
    free_places : int
        How many places change, for a notation whose title names no stage.

    Returns
    -------
    Method
        The method; its notation and calls are not yet read.

    Raises
    ------
    InputError
        Where neither name nor notation is given, the name is unknown, or a call is not declared as it must be.
    """
    title, notation = keys.text("method"), keys.text("notation")
    if not title and not notation:
        raise InputError(
            keys.where,
            'says nothing to ring: give method = "Plain Bob Doubles" (or notation, call_changes, rows or [[part]])',
        )
    if notation:
        method = Method(title or UNNAMED, stage_of(title) or free_places, notation)
    else:
        method = method_named(title, where=keys.at("method"))
    declared = _declared_calls(keys.table("calls"))
    kept = tuple(call for call in method.calls if call.name not in {new.name for new in declared})
    return replace(method, calls=kept + declared)


def _declared_calls(keys: Keys) -> tuple[Call, ...]:
    """Calls declared in the piece: each its notation, or a table of notation and the points where it is made."""
    calls = []
    for name in keys:
        if name == PLAIN:
            raise InputError(keys.where, f"{PLAIN!r} cannot be declared: it means that nothing is called")
        if keys.is_text(name):
            calls.append(Call(name, ((0, keys.text(name)),)))
            continue
        call = keys.table(name)
        call.allow(("notation", "ends_after"))
        notations = call.texts("notation")
        if not notations:
            raise InputError(call.where, 'says not what is rung: add notation = "14", say')
        points = call.wholes("ends_after", least=1, most=MOST_CHANGES) or [0]
        if len(notations) == 1:
            notations *= len(points)
        if len(notations) != len(points):
            raise InputError(
                call.where,
                f"{len(notations)} notations for {len(points)} points of the lead: give one for all, or one for each",
            )
        calls.append(Call(name, tuple(zip(points, notations, strict=True))))
    return tuple(calls)


def calling_of(keys: Keys, lead: Lead) -> tuple[str, ...]:
    """Calling given call by call.

    Parameters
    ----------
    keys : Keys
        Of which ``calling`` is read: a text of first letters, or a list of names or of such texts.
    lead : Lead
        The method.

    Returns
    -------
    tuple of str
        Name of a call, or ``"plain"``, for each calling point.

    Raises
    ------
    InputError
        Where a letter or name is no call of the method, or is the letter of two.
    """
    names = (PLAIN, *lead.made)
    calling: list[str] = []
    for item in keys.texts("calling"):
        if item in names:
            calling.append(item)
        else:
            calling += _by_letters("".join(item.split()), names, lead.title, keys.at("calling"))
    return tuple(calling)


def _by_letters(letters: str, names: tuple[str, ...], title: str, where: str) -> list[str]:
    """Calls from their first letters."""
    meant: dict[str, list[str]] = {}
    for name in names:
        meant.setdefault(name[:1].casefold(), []).append(name)
    calls = []
    for number, letter in enumerate(letters, start=1):
        found = meant.get(letter.casefold(), [])
        if len(found) > 1:
            raise InputError(where, f"letter {number}, {letter!r}, is the first of {' and '.join(found)}: write names")
        if not found:
            letters_known = ", ".join(f"{name[:1]} = {name}" for name in names)
            raise InputError(
                where,
                f"letter {number}, {letter!r}, is no call of {title}; here {letters_known}. Any other call is declared "
                f'under [calls], such as bob = "14"',
            )
        calls += found
    return calls
