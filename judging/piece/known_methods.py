"""The methods known by name, as data with their provenance.

A method carries where its notation is published, or that it is a value from memory and which independent property it
has; every property named here is tested. Families that follow one rule on every stage are written as the rule. Any
other method is given by its notation.
"""

from collections.abc import Callable, Mapping
from difflib import get_close_matches

from judging.errors import InputError
from judging.piece.methods import STAGES, Call, Method
from judging.piece.piece import SYMBOLS

_MEMORY = "value from memory"
_COURSE = "verified by a true course of n - 1 leads with the lead heads of Plain Bob"
_PLAIN_BOB = (
    "Framework for Method Ringing, App. C (lead heads on five to eight bells, their pattern on others); "
    "calls from memory, verified by true extents of Doubles and Minor"
)
_GRANDSIRE = (
    "Framework for Method Ringing, App. A (notation of Doubles) and App. C (lead heads, five and seven bells); "
    "calls as in a published lesson, verified by its true 60 and false 90 of Doubles"
)
_STEDMAN_DOUBLES = f"{_MEMORY}; verified by a true course of 60 and a true extent with a single in each half"
_STEDMAN = f"{_MEMORY}; verified by a true course in which every bell does the same work, begun apart"
_TREBLE_BOB = (
    f"notation from memory; lead heads on six as in a published lesson; {_COURSE}; no place at a cross-section"
)
_SURPRISE = f"{_MEMORY}; {_COURSE}, and a place made at every cross-section"
_DOUBLE = "the same forward from either end of the row (a double method)"


def _last(stage: int) -> str:
    """Symbol of the last place."""
    return SYMBOLS[stage - 1]


def _lead_head_calls(bob: str, single: str) -> tuple[Call, ...]:
    """Calls made at the lead head only."""
    calls = [Call("bob", ((0, bob),))]
    return (*calls, Call("single", ((0, single),))) if single else tuple(calls)


def _usual_calls(stage: int) -> tuple[Call, ...]:
    """Fourths-place bobs; singles in 2nds, 3rds and 4ths, which Doubles makes in 1sts to 3rds and Minimus cannot.

    Common practice, no source. Where a call leaves a bell alone that is watched, as many calls as its ring of bells is
    long come round (three bobs, two singles over a lead head with 2nds made); singles over a lead head that makes only
    the last place move every bell, and nothing but memory stands behind them.
    """
    return _lead_head_calls("14", {4: "", 5: "123"}.get(stage, "1234"))


def _plain_bob(stage: int) -> Method:
    last = _last(stage)
    hunt = f"x1{last}" * (stage // 2) if stage % 2 == 0 else f"{last}.1." * (stage // 2) + last
    end = "12" if stage % 2 == 0 else f"12{last}"
    return Method(_titled("Plain Bob", stage), stage, f"{hunt},{end}", _usual_calls(stage), _PLAIN_BOB)


def _grandsire(stage: int) -> Method:
    notation = "3," + f"1.{_last(stage)}." * (stage // 2) + "1"
    return Method(_titled("Grandsire", stage), stage, notation, _lead_head_calls("3.1", "3.123"), _GRANDSIRE)


def _stedman(stage: int) -> Method:
    last = _last(stage)
    notation = f"3.1.{last}.3.1.3.1.3.{last}.1.3.1"
    if stage == 5:
        return Method("Stedman Doubles", stage, notation, (Call("single", ((6, "345"), (0, "145"))),), _STEDMAN_DOUBLES)
    bob, single = _last(stage - 2), f"{_last(stage - 2)}{_last(stage - 1)}{last}"
    calls = (Call("bob", ((3, bob), (9, bob))), Call("single", ((3, single), (9, single))))
    return Method(_titled("Stedman", stage), stage, notation, calls, _STEDMAN)


def _treble_bob(name: str, first: str) -> Callable[[int], Method]:
    """Kent and Oxford, which differ only in the first section."""

    def at(stage: int) -> Method:
        last = _last(stage)
        notation = f"{first}1{last}" + f"x12x1{last}" * (stage // 2 - 1) + f",1{last}"
        return Method(_titled(f"{name} Treble Bob", stage), stage, notation, _usual_calls(stage), _TREBLE_BOB)

    return at


def _little_bob(stage: int) -> Method:
    return Method(
        _titled("Little Bob", stage), stage, f"x1{_last(stage)}x14,12", _usual_calls(stage), f"{_MEMORY}; {_COURSE}"
    )


def _titled(name: str, stage: int) -> str:
    return f"{name} {next(word for word, bells in STAGES.items() if bells == stage)}"


#: Methods that follow no rule of the stage: title, place notation, provenance. Calls are the usual ones.
_SINGLE_METHODS: tuple[tuple[str, str, str], ...] = (
    ("St Simon's Bob Doubles", "5.1.5.3.5,125", f"{_MEMORY}; {_COURSE}, and a true 120 with three bobs"),
    ("St Martin's Bob Doubles", "5.1.5.123.5,125", f"{_MEMORY}; {_COURSE}, and a true 120 with three bobs"),
    ("Double Bob Minor", "x16x16x56,12", f"{_MEMORY}; {_COURSE}, and {_DOUBLE}"),
    ("Double Court Bob Minor", "x14x36x16,16", f"{_MEMORY}; {_COURSE}, and {_DOUBLE}"),
    ("Double Oxford Bob Minor", "x14x36x56,12", f"{_MEMORY}; {_COURSE}, and {_DOUBLE}"),
    (
        "St Clement's College Bob Minor",
        "x16x36x36,12",
        f"{_MEMORY}; {_COURSE}, and the same two bells on the front while the treble is behind",
    ),
    ("Double Norwich Court Bob Major", "x14x36x58x18,18", f"{_MEMORY}; {_COURSE}, and {_DOUBLE}"),
    (
        "Cambridge Surprise Minor",
        "x36x14x12x36x14x56,12",
        f"{_MEMORY}; first lead head has code b of the Framework, App. C; {_COURSE}",
    ),
    ("London Surprise Minor", "36x36.14x12x36.14x14.36,12", _SURPRISE),
    ("Norwich Surprise Minor", "x34x14x12x36x14x36,12", _SURPRISE),
    (
        "Cambridge Surprise Major",
        "x38x14x1258x36x14x58x16x78,12",
        f"{_MEMORY}; first lead head is the Framework's example; {_COURSE}",
    ),
    ("Yorkshire Surprise Major", "x38x14x58x16x12x38x14x78,12", _SURPRISE),
    ("Lincolnshire Surprise Major", "x38x14x58x16x14x58x36x78,12", _SURPRISE),
    ("Rutland Surprise Major", "x38x14x58x16x14x38x34x18,12", _SURPRISE),
    ("Pudsey Surprise Major", "x58x16x12x38x14x58x16x78,12", _SURPRISE),
    ("Superlative Surprise Major", "x36x14x58x36x14x58x36x78,12", f"{_SURPRISE}, and {_DOUBLE}"),
    ("Bristol Surprise Major", "x58x14.58x58.36.14x14.58x14x18,18", f"{_SURPRISE}, and {_DOUBLE}"),
    ("London Surprise Major", "38x38.14x12x38.14x14.58.16x16.58,12", _SURPRISE),
    ("Cambridge Surprise Royal", "x30x14x1250x36x1470x58x16x70x18x90,12", _SURPRISE),
    ("Yorkshire Surprise Royal", "x30x14x50x16x1270x38x14x50x16x90,12", _SURPRISE),
    ("Bristol Surprise Royal", "x50x14.50x50.36.14x70.58.16x16.70x16x10,10", f"{_SURPRISE}, and {_DOUBLE}"),
    ("Cambridge Surprise Maximus", "x3Tx14x125Tx36x147Tx58x169Tx70x18x9Tx10xET,12", _SURPRISE),
    (
        "Bristol Surprise Maximus",
        "x5Tx14.5Tx5T.36.14x7T.58.16x9T.70.18x18.9Tx18x1T,1T",
        f"{_SURPRISE}, and {_DOUBLE}",
    ),
)

#: Calls that are not the usual ones (value from memory; verified as those are).
_OTHER_CALLS: Mapping[str, tuple[Call, ...]] = {
    "Double Norwich Court Bob Major": _lead_head_calls("16", "1678"),
}


def _all_methods() -> tuple[Method, ...]:
    even, odd = range(6, 17, 2), range(5, 17, 2)
    families: tuple[tuple[Callable[[int], Method], range], ...] = (
        (_plain_bob, range(4, 17)),
        (_grandsire, odd),
        (_stedman, odd),
        (_little_bob, even),
        (_treble_bob("Kent", "34x34."), even),
        (_treble_bob("Oxford", "x34x"), even),
    )
    methods = [make(stage) for make, stages in families for stage in stages]
    for title, notation, provenance in _SINGLE_METHODS:
        stage = STAGES[title.split()[-1]]
        methods.append(Method(title, stage, notation, _OTHER_CALLS.get(title, _usual_calls(stage)), provenance))
    return tuple(methods)


#: Every method known by name.
METHODS: tuple[Method, ...] = _all_methods()

#: Words of a title that are left out in the tower where no other method is meant: Kent Major, Cambridge Minor.
_LEFT_OUT = frozenset({"Bob", "College", "Court", "Surprise", "Treble"})


def _by_name() -> dict[str, Method]:
    """Methods by full title, then by the short names that mean one method only."""
    named = {method.title.casefold(): method for method in METHODS}
    short: dict[str, list[Method]] = {}
    for method in METHODS:
        brief = " ".join(word for word in method.title.split() if word not in _LEFT_OUT)
        for name in {brief, method.title.removeprefix("Plain ")}:
            short.setdefault(name.casefold(), []).append(method)
    return named | {name: found[0] for name, found in short.items() if len(found) == 1 and name not in named}


_BY_NAME: Mapping[str, Method] = _by_name()


def method_named(title: str, *, where: str = "method") -> Method:
    """Method of the built-in set.

    Parameters
    ----------
    title : str
        Its name with its stage; capitals do not matter.
    where : str
        Where it was asked for, for the message.

    Returns
    -------
    Method
        The method.

    Raises
    ------
    InputError
        Where the set has no such method; near names are suggested.
    """
    found = _BY_NAME.get(" ".join(title.split()).casefold())
    if found is not None:
        return found
    near = get_close_matches(title.casefold(), _BY_NAME, n=3, cutoff=0.6)
    titles = dict.fromkeys(_BY_NAME[key].title for key in near)
    hint = (
        f"did you mean {' or '.join(repr(near_title) for near_title in titles)}?" if near else "is it spelt as usual?"
    )
    raise InputError(
        where,
        f'{title!r} is not among the methods known by name: {hint} Any other is given by its notation = "..."',
    )
