"""A contest folder → its result and papers: the whole job from recordings to certificates, as one command runs it."""

import json
from dataclasses import dataclass
from pathlib import Path

from judging.contest import ContestDay, Outcome, judge_contest, result_document
from judging.files import check_can_be_written, write_file
from judging.jobs.hearing import hear
from judging.jobs.workers import Progress
from judging.papers.of_the_day import DayPapers
from judging.store.archive_list import LIST_NAME, list_of, no_longer_in, read_list
from judging.store.contest_folder import read_folder
from judging.striking import blows_csv, count_document, write_log


@dataclass(frozen=True, slots=True)
class Judged:
    """What came of a folder.

    Parameters
    ----------
    day : ContestDay
        With the strike logs that were heard.
    outcome : Outcome
        Counts and results.
    remarks : tuple of str
        What the ear has to say of the recordings.
    """

    day: ContestDay
    outcome: Outcome
    remarks: tuple[str, ...]


def judge_folder(folder: Path, *, out: Path, progress: Progress) -> Judged:
    """Hear, count, rank and print a whole contest.

    Parameters
    ----------
    folder : Path
        Of the shape in `judging.store.contest_folder`.
    out : Path
        Where the archive goes: the declared files again, ``logs/``, ``counts/``, ``papers/``, ``result.json`` and the
        list of them all, ``archive.json``. Written only once all of it is made.
    progress : Progress
        Gets a line a recording and one for the papers.

    Returns
    -------
    Judged

    Raises
    ------
    InputError
        Naming file, place and likely cause of the first thing that is not usable; nothing is written then.
    """
    check_can_be_written(out / "result.json")
    earlier = read_list(out)
    found = read_folder(folder)
    heard = hear(
        {entry: (path, found.piece_of(entry)) for entry, path in found.recordings.items()},
        progress=progress,
    )
    day = found.with_heard({entry: one.log for entry, one in heard.items()})
    outcome = judge_contest(day)
    files = {str(path.relative_to(folder)): path.read_bytes() for path in found.declared}
    files |= {f"logs/{entry}.csv": write_log(one.log).encode() for entry, one in heard.items()}
    files |= {f"counts/{entry}.json": _json(count_document(count)) for entry, count in outcome.counts.items()}
    files |= {f"counts/{entry}.csv": blows_csv(count).encode() for entry, count in outcome.counts.items()}
    papers = DayPapers(day, outcome, {entry.id: entry.band for entry in day.entries}).makers()
    step = progress.line("papers")
    for done, (name, make) in enumerate(papers.items()):
        step(done / len(papers), name)
        files[f"papers/{name}"] = make()
    step(1.0, "done")
    files["result.json"] = _json(result_document(outcome, day))
    files[LIST_NAME] = list_of(files)  # last, so that an archive whose writing was broken off is known by it
    for name in no_longer_in(earlier, files):
        if (out / name).is_file():
            (out / name).unlink()
    for name, content in files.items():
        write_file(out / name, content)
    remarks = (*found.remarks, *(f"{entry}: {note}" for entry, one in heard.items() for note in one.notes))
    return Judged(day, outcome, remarks)


def _json(document: object) -> bytes:
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()
