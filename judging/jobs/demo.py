"""The demo contest: its declared files laid out, and its recordings rung on made-up bells."""

from functools import partial
from pathlib import Path

from judging.errors import InputError
from judging.files import read_text, write_file
from judging.jobs.workers import Progress, Step, run_in_workers
from judging.piece import Piece, piece_from_file
from judging.shipped import shipped
from judging.sounding import RecordingSpec, make_recording, read_ringing

#: What makes an existing folder recognisably ours to write into.
_MARK = "ringing.toml"


def make_demo_contest(out: Path, *, progress: Progress) -> None:
    """Lay out the demo contest as a contest folder, recordings included.

    Parameters
    ----------
    out : Path
        A new or empty folder, or that of an earlier demo, whose files are made anew.
    progress : Progress
        Gets a line a recording.

    Raises
    ------
    InputError
        Where the folder holds something else.
    """
    if out.exists() and (not out.is_dir() or (any(out.iterdir()) and not (out / _MARK).is_file())):
        raise InputError(str(out), "holds something that is not a demo contest; give another folder with --out")
    source = shipped("demo_contest")
    for path in sorted(source.rglob("*")):
        if path.suffix in {".toml", ".csv", ".txt"}:
            write_file(out / path.relative_to(source), path.read_bytes())
    ringing = read_ringing(read_text(out / _MARK), name=str(out / _MARK))
    pieces = {path.stem: piece_from_file(str(path), read_text(path)) for path in sorted((out / "pieces").iterdir())}
    (out / "recordings").mkdir(exist_ok=True)
    run_in_workers(
        {
            spec.entry: partial(_make, spec, pieces[spec.piece], out / "recordings" / f"{spec.entry}.wav")
            for spec in ringing.recordings
        },
        progress=progress,
    )


def _make(spec: RecordingSpec, piece: Piece, path: Path, step: Step) -> None:
    make_recording(spec, piece, path, progress=step)
