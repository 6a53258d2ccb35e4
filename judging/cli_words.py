"""A count on a terminal, in words: the sum, what to work on, and every fault as a sentence."""

from collections.abc import Iterator

from judging.striking import Count, Fault, faults_in_words, percentage


def count_in_words(count: Count) -> str:
    """Count as a person reads it.

    Parameters
    ----------
    count : Count
        From `judging.striking.count_striking`.

    Returns
    -------
    str
        Lines of text.
    """
    return "\n".join(_lines(count))


def _lines(count: Count) -> Iterator[str]:
    yield count.rung.piece.title
    yield ""
    yield count.summary
    if count.pull_off:
        yield count.pull_off
    yield f"Marked: {count.rows_judged} rows, {count.scheme}."
    if count.most:
        per_row = int(count.most / count.rows_judged)
        share = percentage(count.total, count.rows_judged, per_row)
        yield f"{share} % of the most there could be ({per_row} a row on {count.rows_judged} rows)."
    yield from _part("Habits", [habit.sentence for habit in count.habits if not habit.praise])
    yield from _part("Well done", [habit.sentence for habit in count.habits if habit.praise])
    yield from _part("Method", [event.sentence for event in count.rung.events])
    yield from _part("Charged", [_charged(fault) for fault in count.faults if fault.charge])
    yield from _part(
        "Heard where the rules do not mark", [_charged(fault) for fault in count.faults if _unmarked(fault)]
    )
    yield from _part("Note", count.notes)


def _part(heading: str, sentences: list[str] | tuple[str, ...]) -> Iterator[str]:
    if sentences:
        yield ""
        yield heading
        yield from (f"  {sentence}" for sentence in sentences)


def _charged(fault: Fault) -> str:
    charge = f"{faults_in_words(fault.charge)}: " if fault.charge else ""
    doubt = " (doubtful)" if fault.doubtful else ""
    return f"{fault.time_s:7.2f} s  {charge}{fault.sentence}{doubt}"


def _unmarked(fault: Fault) -> bool:
    return not fault.judged and fault.level != "blemish"
