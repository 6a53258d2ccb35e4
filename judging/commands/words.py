"""A piece, a count and a day's cuts on a terminal, in words."""

from collections.abc import Iterator
from math import isnan

from judging.contest.day_file import DayCuts, clock_text
from judging.papers.words import peal_speed
from judging.piece import Piece, prove, remarks, row_text
from judging.striking import (
    Count,
    Fault,
    Habit,
    bells_of,
    count_document,
    faults_in_words,
    leads_of,
    percentage,
)


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


def cuts_in_words(day: DayCuts) -> str:
    """Cuts of a day's recording, and what is in none of them.

    Parameters
    ----------
    day : DayCuts
        From `judging.contest.day_file.cut_day`.

    Returns
    -------
    str
        Lines of text.
    """
    width = max((len(cut.entry) for cut in day.cuts), default=0)
    lines = [f"{cut.entry:<{width}}  {clock_text(cut.begin_s)} to {clock_text(cut.end_s)}" for cut in day.cuts]
    for cut in day.cuts:
        lines += [f"Left out of {cut.entry}: ringing {_span(span)}" for span in cut.left_out]
    lines += [f"No ringing is heard in the times noted for {entry}" for entry in day.silent]
    lines += [f"Ringing in nobody's times: {_span(span)}" for span in day.unclaimed]
    return "\n".join(lines)


def _span(span: tuple[float, float]) -> str:
    return f"{clock_text(span[0])} to {clock_text(span[1])}"


def piece_in_words(piece: Piece) -> str:
    """What a conductor checks: length, truth, where it ends, lead heads and calls.

    Parameters
    ----------
    piece : Piece
        Any piece.

    Returns
    -------
    str
        Lines of text.
    """
    lines = [piece.title] if piece.title else []
    if piece.is_change.any():
        proof = prove(piece)
        truth = "true" if proof.true else "false"
        end = "comes round" if proof.comes_round else f"does not come round: it ends on {proof.ends_on}"
        lines.append(f"{proof.changes} {'change' if proof.changes == 1 else 'changes'}, {truth}, {end}.")
        lines += [
            f"  {repeat.row} comes at changes {', '.join(map(str, repeat.changes))}" for repeat in proof.repeats[:8]
        ]
    lines += [f"{remark}." for remark in remarks(piece)]
    words: dict[int, list[str]] = {}
    for label in piece.labels:
        words.setdefault(label.row, []).append(label.kind if label.kind == "lead head" else label.text)
    for row, said in sorted(words.items()):
        change = piece.change_of(row)
        where = f"change {change}" if change else f"row {row + 1}"
        lines.append(f"  {where:>11}  {row_text(piece.rows[row])}  {', '.join(said)}")
    return "\n".join(lines)


def _lines(count: Count) -> Iterator[str]:
    yield count.rung.piece.title
    yield ""
    yield count.summary
    if count.pull_off and count.pull_off not in count.summary:
        yield f"{count.pull_off}."
    yield from _pace(count)
    yield f"Marked: {count.rows_judged} rows, {count.scheme}."
    if count.most:
        per_row = int(count.most / count.rows_judged)
        share = percentage(count.total, count.rows_judged, per_row)
        yield f"{share} % of the most there could be ({per_row} a row on {count.rows_judged} rows)."
    yield from _part("Pull-off, ms late (+) or early (−)", list(_pull_offs(count)))
    yield from _part("Habits", [_habit(habit) for habit in count.habits if not habit.praise])
    yield from _part("Well done", [habit.sentence for habit in count.habits if habit.praise])
    yield from _part("Method", [event.sentence for event in count.rung.events])
    yield from _part("Charged", [_charged(fault) for fault in count.faults if fault.charge])
    yield from _part(
        "Heard where the rules do not mark", [_charged(fault) for fault in count.faults if _unmarked(fault)]
    )
    yield from _part("Note", count.notes)


def _pace(count: Count) -> Iterator[str]:
    """Peal speed, gap and handstroke gap, and the handstroke gap by who leads."""
    document = count_document(count)
    told = f"Pace: {peal_speed(document['peal_minutes'])} for 5,040 changes, {document['gap_ms']:.0f} ms between blows"
    if document["handstroke_gap"] is not None:
        told += f", a handstroke gap of {count.rhythm.handstroke_gap:.2f} of a blow"
    yield f"{told}."
    led = [one for one in leads_of(count) if one.is_hand]
    if len(led) > 1 and count.rhythm.handstroke_gap_is_seen:
        gaps = ", ".join(f"{one.bell} {one.gap:.2f}" + (f" ± {one.gap_se:.2f}" if one.leads > 1 else "") for one in led)
        yield f"The handstroke gap by who leads: {gaps}."


def _habit(habit: Habit) -> str:
    return f"{habit.sentence} ({faults_in_words(habit.saves)} fewer without it)" if habit.saves else habit.sentence


def _pull_offs(count: Count) -> Iterator[str]:
    """Each pull-off, two lines: bell and how far out, in the order they struck."""
    for pulled in count.pull_offs:
        told = [
            "  ".join(f"{bell or '?'} {_signed(late)}" for bell, late in zip(bells, lates, strict=True))
            for bells, lates in zip(pulled.bells.tolist(), pulled.late_ms.tolist(), strict=True)
        ]
        faults = faults_in_words(pulled.faults)
        yield f"{pulled.time_s:7.2f} s  hand  {told[0]}   {pulled.off_ms:.0f} ms from even on average"
        yield f"{'':11}back  {told[1]}   {faults}{'' if count.judged[:2].all() else ', had it been marked'}"
    if len(count.pull_offs) > 1:
        bells = bells_of(count.pull_offs)
        for is_hand in (True, False):
            means = "  ".join(f"{one.bell} {_signed(one.mean_ms)}" for one in bells if one.is_hand == is_hand)
            yield f"{'average' if is_hand else '':>9}  {'hand' if is_hand else 'back'}  {means}"
        errors = sorted(one.se_ms for one in bells)
        yield f"{'':17}each ± {errors[0]:.0f} to {errors[-1]:.0f}"


def _signed(late_ms: float) -> str:
    """Milliseconds with a sign, in five places; a dash where nothing was heard."""
    if isnan(late_ms):
        return f"{'–':>5}"
    rounded = round(late_ms)
    return f"{('+' if rounded > 0 else '−' if rounded < 0 else '') + str(abs(rounded)):>5}"


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
