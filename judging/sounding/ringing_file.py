"""Text of ``ringing.toml`` → who rings what, how, where: everything needed to make a contest's recordings again.

The first key is ``ringing = 1``, the version of the format. Then one table ``[bells]`` for the ring they all ring on,
and one ``[[recording]]`` for each entry, with its ``[recording.character]``.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Final, TypeVar

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.sounding.band import Touch, human_log
from judging.sounding.bells import RingOfBells, ring_of_bells
from judging.sounding.chance import chance
from judging.sounding.character import Character, HeldUp, Lateness, Mistake
from judging.sounding.noise import QUIET, Noise
from judging.sounding.recording import Progress, ring_to_file
from judging.sounding.rooms import ROOMS, Room, room_named
from judging.sounding.steady import gap_s

#: Version of the format read here.
VERSION: Final = 1

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class RecordingSpec:
    """How one recording is made.

    Parameters
    ----------
    entry : str
        Whose it is.
    piece : str
        Identifier of the test piece.
    character : Character
        How the band strikes.
    peal_minutes, handstroke_gap : float
        Pace and leads meant.
    seed : int
        Of all that is left to chance in this recording.
    bells : RingOfBells
        What is rung on.
    room, noise : Room, Noise
        Where it is heard.
    """

    entry: str
    piece: str
    character: Character
    peal_minutes: float
    handstroke_gap: float
    seed: int
    bells: RingOfBells
    room: Room
    noise: Noise


@dataclass(frozen=True, slots=True)
class Ringing:
    """Everything a ringing file says.

    Parameters
    ----------
    bells : RingOfBells
        The ring all of them ring on.
    recordings : tuple of RecordingSpec
        In the order of the file.
    """

    bells: RingOfBells
    recordings: tuple[RecordingSpec, ...]

    def of(self, entry: str) -> RecordingSpec:
        """Return the recording of an entry.

        Parameters
        ----------
        entry : str
            Its identifier.

        Returns
        -------
        RecordingSpec
            How it is made.

        Raises
        ------
        InputError
            When the file has none for it.
        """
        for spec in self.recordings:
            if spec.entry == entry:
                return spec
        raise InputError(
            "ringing", f"has no recording of {entry!r}; there are {', '.join(s.entry for s in self.recordings)}"
        )


def read_ringing(text: str, *, name: str) -> Ringing:
    """Read what a ringing file says.

    Parameters
    ----------
    text : str
        The file's text (TOML).
    name : str
        Its name, for messages.

    Returns
    -------
    Ringing
        Bells and recordings.

    Raises
    ------
    InputError
        Naming the file, the table, the key, what was found and what may stand there.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as wrong:
        raise InputError(name, f"is not TOML: {wrong}") from wrong
    _only(data, {"ringing", "bells", "recording"}, name)
    version = _value(data, "ringing", int, name)
    if version != VERSION:
        raise InputError(f"{name}, ringing", f"is {version}; this Evenblow reads version {VERSION}")
    if next(iter(data)) != "ringing":
        raise InputError(
            f"{name}, ringing", "must be the first key, so that a reader knows the format before reading on"
        )
    bells = _bells(_value(data, "bells", dict, name), f"{name}, [bells]")
    tables = _value(data, "recording", list, name)
    recordings = tuple(_recording(table, bells, f"{name}, [[recording]] {i}") for i, table in enumerate(tables, 1))
    entries = [spec.entry for spec in recordings]
    for entry in entries:
        if entries.count(entry) > 1:
            raise InputError(name, f"has {entries.count(entry)} recordings of {entry!r}; an entry has one")
    return Ringing(bells, recordings)


def make_recording(
    spec: RecordingSpec, piece: Piece, path: Path, *, progress: Progress | None = None, rate: int | None = None
) -> Touch:
    """Ring a piece as the spec says and write the recording.

    Parameters
    ----------
    spec : RecordingSpec
        Who rings, how and where.
    piece : Piece
        What.
    path : Path
        File to write, .wav or .flac.
    progress : callable, optional
        Told the share done and what is being done.
    rate : int, optional
        Samples a second; 44,100 by default.

    Returns
    -------
    Touch
        The truth, on the recording's clock. It is for tests; the ear never sees it.

    Raises
    ------
    InputError
        When the spec does not fit the piece or the bells.
    """
    touch = human_log(
        piece, spec.character, peal_minutes=spec.peal_minutes, handstroke_gap=spec.handstroke_gap, seed=spec.seed
    )
    sounded = ring_to_file(
        path,
        touch.log,
        bells=spec.bells,
        seed=spec.seed,
        room=spec.room,
        noise=spec.noise,
        is_hand=touch.is_hand,
        progress=progress,
        **({} if rate is None else {"rate": rate}),
    )
    shift_s = float(sounded.times_s[0] - touch.log.times_s[0])
    return replace(touch, log=sounded, times_s=touch.times_s + shift_s, felt_s=touch.felt_s + shift_s)


def _bells(table: Mapping[str, Any], where: str) -> RingOfBells:
    """Ring from its table."""
    _only(table, {"number", "seed", "tenor_nominal_hz"}, where)
    tenor_hz = _value(table, "tenor_nominal_hz", float, where) if "tenor_nominal_hz" in table else None
    given = {"seed": _value(table, "seed", int, where), "tenor_nominal_hz": tenor_hz}
    return _built(ring_of_bells, {"n": _value(table, "number", int, where)} | given, where)


def _recording(table: Any, bells: RingOfBells, where: str) -> RecordingSpec:  # noqa: ANN401 - TOML holds anything
    """One recording from its table."""
    table = _checked(table, where)
    known = {"entry", "piece", "seed", "peal_minutes", "handstroke_gap", "room", "noise", "signal_to_noise_db"}
    _only(table, known | {"character"}, where)
    pace = {key: _value(table, key, float, where) for key in ("peal_minutes", "handstroke_gap")}
    seed = _value(table, "seed", int, where)
    _built(gap_s, {"bells": len(bells)} | pace, where)
    _built(chance, {"seed": seed}, where)
    return RecordingSpec(
        entry=_value(table, "entry", str, where),
        piece=_value(table, "piece", str, where),
        character=_character(_checked(table.get("character", {}), f"{where}, character"), f"{where}, character"),
        seed=seed,
        bells=bells,
        room=room_named(_value(table, "room", str, where), where=f"{where}, room") if "room" in table else ROOMS["dry"],
        noise=_noise(table, where),
        **pace,
    )


def _noise(table: Mapping[str, Any], where: str) -> Noise:
    """Noise of a recording from its table."""
    if "noise" not in table:
        return QUIET
    given = {"kind": _value(table, "noise", str, where)}
    return _built(Noise, given | {"signal_to_noise_db": _value(table, "signal_to_noise_db", float, where)}, where)


def _character(table: Mapping[str, Any], where: str) -> Character:
    """Character of a band from its table."""
    _only(table, {field.name for field in fields(Character)}, where)
    lists = {"late": _late, "mistakes": _mistake, "held_up": _held_up}
    given: dict[str, Any] = {}
    for key in table:
        if key in lists:
            parts = enumerate(_value(table, key, list, where), 1)
            given[key] = tuple(
                lists[key](_checked(part, f"{where}, {key} {i}"), f"{where}, {key} {i}") for i, part in parts
            )
        else:
            given[key] = _value(table, key, int if key == "clips" else float, where)
    return _built(Character, given, where)


def _late(table: Mapping[str, Any], where: str) -> Lateness:
    """Read one habit."""
    _only(table, {"bell", "stroke", "late_ms", "leads_only"}, where)
    given = {
        "bell": _value(table, "bell", int, where),
        "stroke": _value(table, "stroke", str, where),
        "late_ms": _value(table, "late_ms", float, where),
        "leads_only": _value(table, "leads_only", bool, where) if "leads_only" in table else False,
    }
    return _built(Lateness, given, where)


def _mistake(table: Mapping[str, Any], where: str) -> Mistake:
    """Read one mistake."""
    _only(table, {"change", "bells", "rows"}, where)
    bells = _value(table, "bells", list, where)
    if len(bells) != 2 or not all(type(bell) is int for bell in bells):
        raise InputError(f"{where}, bells", f"is {bells!r}, not two bells")
    return Mistake(_value(table, "change", int, where), (bells[0], bells[1]), _value(table, "rows", int, where))


def _held_up(table: Mapping[str, Any], where: str) -> HeldUp:
    """Read one hold-up."""
    _only(table, {"change", "late_ms"}, where)
    return HeldUp(_value(table, "change", int, where), _value(table, "late_ms", float, where))


def _built(kind: Callable[..., T], given: dict[str, Any], where: str) -> T:
    """Build a value; what it refuses is told with the place in the file."""
    try:
        return kind(**given)
    except InputError as wrong:
        raise InputError(f"{where}, {wrong.where}", wrong.problem) from wrong


def _checked(table: Any, where: str) -> Mapping[str, Any]:  # noqa: ANN401 - TOML holds anything
    """Return what is a table, refuse what is not."""
    if not isinstance(table, dict):
        raise InputError(where, "is not a table")
    return table


def _only(table: Mapping[str, Any], known: set[str], where: str) -> None:
    """Refuse a key that nobody reads."""
    for key in table:
        if key not in known:
            raise InputError(where, f"unknown key {key!r}; known are {', '.join(sorted(known))}")


def _value(table: Mapping[str, Any], key: str, kind: type[T], where: str) -> T:
    """Value of a key that must be there."""
    if key not in table:
        raise InputError(where, f"{key} is missing")
    value = table[key]
    if kind is float and type(value) is int:
        value = float(value)
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        raise InputError(f"{where}, {key}", f"is {value!r}, not a {kind.__name__}")
    return value
