"""A paper that takes long: given where a worker has set it, otherwise asked for and waited for on a page of its own."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import Query, Response
from fastapi.responses import RedirectResponse
from sqlmodel import Session

from judging.jobs import enqueue_paper, paper_asked_for, paper_job, paper_path
from judging.papers import Paper, Setting
from judging.store import Store
from judging.web.access import Visitor
from judging.web.answers import paper_answer
from judging.web.pages import page


@dataclass(frozen=True, slots=True)
class Wanted:
    """A paper that somebody has asked for.

    Parameters
    ----------
    setting : Setting
        The paper.
    file : str
        Name of its file.
    title : str
        What it is.
    address : str
        Its address, which is also where it is asked for.
    back : tuple of (str, str)
        Words and address of the page that led here.
    """

    setting: Setting
    file: str
    title: str
    address: str
    back: tuple[str, str]


#: Which of a paper is waited for: contests go on meanwhile, and a paper made a moment later prints another audit head.
Asked = Annotated[str, Query(pattern="^([0-9a-f]{64})?$")]


def paper_or_wait(wanted: Wanted, session: Session, store: Store, visitor: Visitor, asked: str = "") -> Response:
    """Return a paper, or the page that says how far it is where a worker sets it.

    Parameters
    ----------
    wanted : Wanted
        The paper as it would be now.
    session : Session
        A reading session will do.
    store : Store
        Where its file may be.
    visitor : Visitor
        Who looks.
    asked : str
        Digits of the same paper as it was when it was asked for; empty for as it is now.
    """
    if not wanted.setting.is_long:
        return paper_answer(wanted.setting.pdf(), wanted.file)
    sha256 = asked if _is_same_paper(wanted, store, asked) else wanted.setting.sha256
    path = paper_path(store, sha256)
    if path.is_file():
        return paper_answer(path.read_bytes(), wanted.file)
    job = paper_job(session, sha256)
    if job is not None and job.state == "done":  # its file was thrown away
        job = None
    return page("long_paper.html", viewer=visitor, paper=wanted, job=job)


def ask_for_paper(wanted: Wanted, session: Session, store: Store) -> RedirectResponse:
    """Ask a worker to set a paper, and go and wait for it."""
    if not wanted.setting.is_long:
        return RedirectResponse(wanted.address, status_code=303)
    enqueue_paper(session, store, wanted.setting)
    joined = "&" if "?" in wanted.address else "?"
    return RedirectResponse(f"{wanted.address}{joined}asked={wanted.setting.sha256}", status_code=303)


def _is_same_paper(wanted: Wanted, store: Store, asked: str) -> bool:
    """Whether what was asked for is this paper, for a reader who sees the same names."""
    found = paper_asked_for(store, asked) if asked else None
    return found is not None and (found.template, found.name) == (wanted.setting.template, wanted.setting.name)


def made_of(paper: Paper, store: Store) -> bytes:
    """Return a paper's bytes: those that a worker has set, where it has."""
    if paper.set_up is None:
        return paper.make()
    setting = paper.set_up()
    path = paper_path(store, setting.sha256)
    return path.read_bytes() if setting.is_long and path.is_file() else setting.pdf()
