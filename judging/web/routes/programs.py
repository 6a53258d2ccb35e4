"""What programs use: JSON in and out under ``/api``, by a token that a personal link is exchanged for.

The same rights, names and rules hold as on the pages. Every refusal has one shape, `Refusal`.
"""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, HTTPException, Query, Request, status
from pydantic import BaseModel, ConfigDict, Field, StringConstraints
from starlette.concurrency import run_in_threadpool

from judging.contest import result_document
from judging.errors import InputError
from judging.jobs import enqueue_listening
from judging.store import (
    Kept,
    Store,
    StoredEntry,
    StoredJob,
    add_recording,
    add_strike_log,
    contests,
    exchange_link,
)
from judging.striking import count_document
from judging.web.access import Database, EntryFilled, EntryRun, JobSeen, StoreHere, Visitor, VisitorHere, may_see
from judging.web.documents import veil
from judging.web.evidence_page import LONGEST_DAY_S, check_recording
from judging.web.practice import is_practice
from judging.web.routes.steward import NO_LIMIT
from judging.web.views import BandViewed, ContestViewed


class Refusal(BaseModel):
    """Why something was refused; ``where`` names what was given that is at fault."""

    ok: Literal[False] = False
    status: int
    error: str
    where: str | None = None


def refusals(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return the refusals that a route may answer with, for its description."""
    return {number: {"model": Refusal} for number in statuses}


class LinkToken(BaseModel):
    """The last part of a personal link's address."""

    model_config = ConfigDict(extra="forbid")

    link: Annotated[str, StringConstraints(min_length=1, max_length=200)]


class ProgramToken(BaseModel):
    """What is sent from then on as ``Authorization: Bearer ...``; good for as long as a browser's session."""

    token: str
    role: str


class ContestShort(BaseModel):
    """A contest: how addresses call it, and where it stands."""

    slug: str
    title: str
    phase: str


class BandShort(BaseModel):
    """A band by the name that the asker may know, and how addresses call it."""

    number: int | None
    name: str
    key: str


class ContestWhole(ContestShort):
    """A contest and its bands, in the order of ringing once it is drawn."""

    revision: int
    bands: list[BandShort]


class BlowGiven(BaseModel):
    """One blow: seconds, bell (1 the treble, 0 not known), and how sure the time is."""

    model_config = ConfigDict(extra="forbid")

    time_s: float = Field(ge=0, le=604_800, allow_inf_nan=False)
    bell: int = Field(ge=0, le=16)
    spread_ms: float = Field(default=0.0, ge=0, le=10_000, allow_inf_nan=False)


class StrikesGiven(BaseModel):
    """A strike log."""

    model_config = ConfigDict(extra="forbid")

    blows: Annotated[list[BlowGiven], Field(min_length=1, max_length=200_000)]


class StrikesKept(BaseModel):
    """What was kept of it."""

    blows: int
    sha256: str


class JobState(BaseModel):
    """How far a recording's hearing is."""

    job: int
    state: Literal["queued", "running", "done", "failed"]
    progress: float
    error: str


Seconds = Annotated[float | None, Query(ge=0, le=LONGEST_DAY_S, allow_inf_nan=False)]


def part_rung(from_s: Seconds = None, to_s: Seconds = None) -> tuple[float, float] | None:
    """Part of a recording in which the piece was rung, where a program says; either end may be left out."""
    if from_s is None and to_s is None:
        return None
    begin_s, end_s = from_s or 0.0, LONGEST_DAY_S if to_s is None else to_s
    if begin_s >= end_s:
        raise InputError("to_s", f"{end_s:g} s is not after {begin_s:g} s, where the part begins")
    return begin_s, end_s


router = APIRouter(prefix="/api", tags=["programs"])
of_contest = APIRouter(prefix="/contests/{slug}")
of_band = APIRouter(prefix="/contests/{slug}/bands/{key}")
of_job = APIRouter(prefix="/jobs/{number}")


@router.post("/session", responses=refusals(409, 413, 422))
def exchange(given: LinkToken, session: Database) -> ProgramToken:
    """Exchange a personal link for a token, once."""
    token, access = exchange_link(session, given.link)
    return ProgramToken(token=token, role=access.role)


@router.get("/contests")
def list_contests(session: Database, visitor: VisitorHere) -> list[ContestShort]:
    """List the contests that the asker may see."""
    seen = [one for one in contests(session) if may_see(one, visitor) and not is_practice(one)]
    return [ContestShort(slug=one.slug, title=one.title, phase=one.phase) for one in seen]


@of_contest.get("", responses=refusals(404, 422))
def contest(view: ContestViewed) -> ContestWhole:
    """Give a contest and its bands."""
    bands = sorted(view.judged.day.entries, key=lambda entry: (entry.number is None, entry.number or 0))
    return ContestWhole(
        slug=view.stored.slug,
        title=view.stored.title,
        phase=view.stored.phase,
        revision=view.stored.revision,
        bands=[
            BandShort(
                number=entry.number,
                name=view.names.name(entry.id),
                key=view.names.address(entry.id).rsplit("/", 1)[-1],
            )
            for entry in bands
        ],
    )


@of_contest.get("/result", responses=refusals(404, 422))
def result(view: ContestViewed) -> dict[str, Any]:
    """Give the result as `evenblow rank --json` prints it, with bands by number until it is final."""
    if not view.shown.result or not view.judged.outcome.results:
        raise HTTPException(404, "There is no result to be seen yet.")
    return veil(result_document(view.judged.outcome, view.judged.day), view)


@of_band.get("/count", responses=refusals(404, 422))
def count(band: BandViewed) -> dict[str, Any]:
    """Give the machine's count as `evenblow count --json` prints it."""
    return count_document(band.count)


@of_band.post(
    "/strikes",
    status_code=status.HTTP_201_CREATED,
    responses=refusals(403, 404, 409, 413, 422),
)
def take_strikes(given: StrikesGiven, entry: EntryRun, session: Database, visitor: VisitorHere) -> StrikesKept:
    """Take a strike log in; it is in force from then on."""
    lines = [f"{blow.time_s:.6f},{blow.bell},{blow.spread_ms:.3f}\n" for blow in given.blows]
    stored = add_strike_log(
        session, entry, data="time_s,bell,spread_ms\n" + "".join(lines), name="blows", origin="given", who=visitor.who
    )
    return StrikesKept(blows=len(given.blows), sha256=stored.sha256)


@of_band.post(
    "/recording",
    status_code=status.HTTP_202_ACCEPTED,
    responses=refusals(403, 404, 409, 413, 422),
    max_body_size=NO_LIMIT,
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
        }
    },
)
async def take_recording(
    entry: EntryFilled,
    request: Request,
    store: StoreHere,
    visitor: VisitorHere,
    between_s: Annotated[tuple[float, float] | None, Depends(part_rung)],
    name: Annotated[str, Query(max_length=200)] = "recording",
    first_blow_s: Seconds = None,
    *,
    second: bool = False,
) -> JobState:
    """Take a recording in, as it is sent, of a band that has agreed; the answer names the job that hears it.

    ``from_s`` and ``to_s`` say where in it the piece was rung, among other ringing. ``second`` says that another
    recorder made it of the same touch: it is held against the first, and never counted.
    """
    head = b""
    with store.recordings.incoming(name) as incoming:
        async for block in request.stream():
            if len(head) < 16:
                head = (head + block)[:16]
                if len(head) == 16:
                    check_recording(head)
            await run_in_threadpool(incoming.write, block)
        if len(head) < 16:
            raise InputError("recording", f"has {len(head)} bytes, and is no recording; was the sending cut short?")
        kept = await run_in_threadpool(incoming.finish)
    job = await run_in_threadpool(_keep, store, entry, kept, name, first_blow_s, between_s, visitor, second=second)
    if request.app.state.runner is not None:
        request.app.state.runner.wake()
    return _state(job)


@of_job.get("", responses=refusals(404, 422))
def job(job: JobSeen) -> JobState:
    """Say how far a recording's hearing is."""
    return _state(job)


def _keep(
    store: Store,
    entry: StoredEntry,
    kept: Kept,
    name: str,
    first_blow_s: float | None,
    between_s: tuple[float, float] | None,
    visitor: Visitor,
    *,
    second: bool,
) -> StoredJob:
    with store.write() as session:
        here = session.get_one(StoredEntry, entry.id)
        recording = add_recording(session, here, kept, name=name, who=visitor.who, is_second=second)
        return enqueue_listening(session, here, recording, first_blow_s=first_blow_s, between_s=between_s)


def _state(job: StoredJob) -> JobState:
    return JobState(job=job.id, state=job.state, progress=job.progress, error=job.error)


for part in (of_contest, of_band, of_job):
    router.include_router(part)
