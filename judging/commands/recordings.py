"""Commands about recordings: blows heard in one, a day's cut to bands, pull-offs told as they grow, bells rung anew."""

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from judging.commands.answer import print_json
from judging.commands.given import (
    AsJson,
    BeginOption,
    EndOption,
    NotesOfBells,
    PieceFile,
    part_between,
    read_log,
    read_piece,
)
from judging.commands.progress import TerminalProgress
from judging.errors import InputError


def listen(
    recording: Annotated[Path, typer.Argument(metavar="RECORDING", help="WAV, FLAC, MP3, Ogg, M4A, WebM ...")],
    piece: PieceFile,
    out: Annotated[Path | None, typer.Option("-o", "--out", metavar="LOG.csv", help="Where the log goes.")] = None,
    first_blow: Annotated[
        float | None, typer.Option("--first-blow", metavar="SECONDS", help="When the first blow is, if it is known.")
    ] = None,
    voices: Annotated[
        Path | None,
        typer.Option("--voices", metavar="FILE.npz", help="The bells' voices, kept from an earlier recording."),
    ] = None,
    keep_voices: Annotated[
        Path | None,
        typer.Option("--keep-voices", metavar="FILE.npz", help="Keep the bells' voices for the next recording."),
    ] = None,
    begin_s: BeginOption = None,
    end_s: EndOption = None,
    beside: Annotated[
        Path | None, typer.Option("--beside", metavar="OTHER", help="Another recorder's recording of the same touch.")
    ] = None,
    *,
    as_json: AsJson = False,
) -> None:
    """Hear every blow of a recording: RECORDING to strike log."""
    from judging.ear import voices_from_bytes, voices_to_bytes
    from judging.files import check_can_be_written, read_bytes, write_file
    from judging.jobs.hearing import hear
    from judging.striking import count_striking, write_log
    from judging.striking.repeatability import repeatability

    if out is not None:
        check_can_be_written(out)
    wanted = read_piece(piece)
    known = voices_from_bytes(read_bytes(voices), str(voices)) if voices else None
    both = [recording] if beside is None else [recording, beside]
    progress = TerminalProgress()
    with progress:
        found = hear(
            {str(path): (path, wanted) for path in both},
            first_blow_s=first_blow,
            voices=known,
            between_s=part_between(begin_s, end_s),
            progress=progress,
        )
    heard = found[str(recording)]
    agreed = (
        None
        if beside is None
        else repeatability(*(count_striking(found[str(path)].log, wanted, name=str(path)) for path in both))
    )
    for note in (*heard.notes, *([] if agreed is None else [agreed.sentence])):
        typer.echo(note, err=True)
    text = write_log(heard.log)
    if out is not None:
        write_file(out, text.encode())
        typer.echo(f"{len(heard.log)} blows written to {out}", err=True)
    if keep_voices is not None and heard.voices is not None:
        write_file(keep_voices, voices_to_bytes(heard.voices))
        typer.echo(f"The voices of {len(heard.voices)} bells are kept in {keep_voices}", err=True)
    if as_json:
        print_json(
            {
                "blows": [
                    {"time_s": float(time), "bell": int(bell), "spread_ms": float(spread)}
                    for time, bell, spread in zip(heard.log.times_s, heard.log.bells, heard.log.spread_ms, strict=True)
                ],
                "notes": list(heard.notes),
                "start_is_sure": heard.start_is_sure,
                "rung": round(heard.rung, 3),
                "segments": [asdict(segment) for segment in heard.segments],
                "segment_is_sure": heard.segment_is_sure,
                "bells": [
                    {"bell": told.bell, "apart": told.apart, "most_like": told.most_like or None}
                    for told in heard.clarity
                ],
                "beside": None if agreed is None else agreed.document,
            }
        )
    elif out is None:
        typer.echo(text, nl=False)


def cut(
    recording: Annotated[Path, typer.Argument(metavar="RECORDING", help="One recording of the whole day.")],
    times: Annotated[
        Path, typer.Argument(metavar="TIMES.csv", help="The steward's, entry,start,stop; or cuts.csv, moved by hand.")
    ],
    out: Annotated[Path | None, typer.Option("-o", "--out", metavar="DIR", help="Where ENTRY.flac go.")] = None,
    began: Annotated[
        str | None, typer.Option("--began", metavar="TIME", help="When the recording began, by the steward's clock.")
    ] = None,
    *,
    as_json: AsJson = False,
) -> None:
    """Cut one recording of the whole day into one for each entry; without --out the cuts are only shown."""
    from judging.commands.words import cuts_in_words
    from judging.contest.day_file import DayCuts, cuts_text, holds_cuts, read_clock, read_cuts, read_times
    from judging.files import read_text, write_file
    from judging.jobs.cutting import find_cuts, write_cuts

    table, name = read_text(times), str(times)
    progress = TerminalProgress()
    with progress:
        if holds_cuts(table):
            day = DayCuts(0.0, read_cuts(table, name=name), (), ())
        else:
            clock_s = read_clock(began, "--began") if began else None
            day = find_cuts(recording, read_times(table, name=name), clock_s=clock_s, progress=progress)
        if out is not None:
            write_cuts(recording, day.cuts, out, progress=progress)
            write_file(out / "cuts.csv", cuts_text(day.cuts).encode())
    if as_json:
        print_json(asdict(day))
    else:
        typer.echo(cuts_in_words(day))
    if out is not None:
        typer.echo(f"{len(day.cuts)} recordings are in {out}; move a cut in {out / 'cuts.csv'} and give that", err=True)
    if day.silent:
        raise typer.Exit(1)


def pull_offs(
    recording: Annotated[Path, typer.Argument(metavar="GROWING.wav", help="A WAV file that is being recorded.")],
    bells: Annotated[int, typer.Option("--bells", min=3, max=16, help="How many ring.")],
    row: Annotated[str, typer.Option("--row", help="What is pulled off in: a name, or the row as bells.")] = "Rounds",
    *,
    to_end: Annotated[bool, typer.Option("--to-end", help="Stop at the end of the file, not at Ctrl-C.")] = False,
) -> None:
    """Tell each pull-off of a recording that is still being written, as soon as the bells stand."""
    from judging.commands.pull_offs_told import follow_pull_offs
    from judging.piece import row_said

    follow_pull_offs(recording, row_said(row, bells, where="--row"), to_end=to_end)


def sound(
    piece: Annotated[Path, typer.Argument(metavar="PIECE", help="What is rung: .toml or .txt.")],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FILE", help="Where the recording goes: .wav or .flac.")],
    log: Annotated[
        Path | None, typer.Option("--log", metavar="LOG", help="Ring with this log's timing, not ideally.")
    ] = None,
    peal_minutes: Annotated[float, typer.Option("--peal-minutes", help="Pace, as the time of 5,040 changes.")] = 170.0,
    handstroke_gap: Annotated[float, typer.Option("--handstroke-gap", help="In blows: 1 open, 0 closed.")] = 1.0,
    room: Annotated[
        str | None,
        typer.Option("--room", help="dry, ringing chamber, church or outdoors; a recording has its own. [church]"),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Another number makes other bells.")] = 1,
    notes: NotesOfBells = None,
    bells_of: Annotated[
        Path | None,
        typer.Option(
            "--bells-of", metavar="RECORDING", help="Ring on this recording's own bells, not on made-up ones."
        ),
    ] = None,
    bells_log: Annotated[
        Path | None,
        typer.Option("--bells-log", metavar="LOG", help="Its strike log; without one it is heard first, as PIECE."),
    ] = None,
    *,
    as_json: AsJson = False,
) -> None:
    """Make a recording of a piece rung on made-up bells, or on those of a recording."""
    from judging.sounding import ideal_log, ring_of_bells, ring_to_file, room_named

    if bells_log and not bells_of:
        raise InputError("--bells-log", "says nothing without --bells-of, the recording whose blows it has")
    wanted = read_piece(piece)
    blows = (
        read_log(log, wanted, notes)
        if log
        else ideal_log(wanted, peal_minutes=peal_minutes, handstroke_gap=handstroke_gap)
    )
    progress = TerminalProgress()
    with progress:
        bells, loudness = ring_of_bells(wanted.bells, seed=seed), None
        if bells_of:
            from judging.jobs.hearing import hear
            from judging.jobs.sound_task import own_bells

            own = (
                read_log(bells_log, wanted, notes)
                if bells_log
                else hear({bells_of.name: (bells_of, wanted)}, progress=progress)[bells_of.name].log
            )
            bells, loudness = own_bells(bells_of, own, wanted.bells)
        ring_to_file(
            out,
            blows,
            bells=bells,
            room=room_named(room or ("dry" if bells_of else "church")),
            seed=seed,
            loudness=loudness,
            progress=progress.line(out.name),
        )
    if as_json:
        print_json({"file": str(out), "blows": len(blows), "seconds": round(float(blows.times_s[-1]), 3)})
    typer.echo(f"{len(blows)} blows rung into {out}", err=True)
