"""The application: routes by who uses them, what stands before them, and what lives as long as they do."""

from collections.abc import AsyncIterator
from contextlib import ExitStack, asynccontextmanager

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.middleware.gzip import GZipMiddleware

from judging import __version__
from judging.jobs import Lanes
from judging.jobs.listening import Listenings
from judging.store import Settings, Store, wanted_recordings
from judging.web.guard import Guard
from judging.web.judged import Judging
from judging.web.nights_of_years import FiguresKept
from judging.web.pages import pages_folder
from judging.web.refusals import add_refusals
from judging.web.routes import (
    band,
    book,
    calibration,
    cross_check,
    day,
    ear_test,
    entries,
    judge,
    order,
    organiser,
    pad,
    penalties,
    people,
    pieces,
    practice,
    printing,
    programs,
    protests,
    public,
    pull_offs,
    recorder,
    rules,
    steward,
    taking_back,
    towers,
)
from judging.web.turnstile import Turnstile

#: Largest request that is no recording: a dozen test pieces written out, or a strike log of a peal with its form.
MOST_BODY_BYTES = 12 * 1024 * 1024


def create_app(settings: Settings, *, runs_jobs: bool = True, is_on_network: bool = False) -> FastAPI:
    """Return the service on a data folder.

    Parameters
    ----------
    settings : Settings
        Where the data is, and how much is allowed.
    runs_jobs : bool
        Whether recordings are heard by this process's workers; False where another process runs the jobs.
    is_on_network : bool
        Whether it listens on every network of this computer, so that phones reach it.

    Returns
    -------
    FastAPI
        The store is opened, and jobs begin, with its lifespan; `app.state.store` is there from then on.
    """

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        with ExitStack() as stack:
            store = app.state.store = stack.enter_context(Store.open(settings.data, settings))
            with store.read() as session:
                store.recordings.sweep(wanted_recordings(session))  # uploads cut off more than a day ago
            store.takes.sweep()
            app.state.judging = Judging()
            app.state.figures = FiguresKept()
            app.state.turnstile = Turnstile()
            app.state.runner = stack.enter_context(Lanes(store)) if runs_jobs else None
            app.state.listenings = stack.enter_context(Listenings(store))
            yield

    app = FastAPI(
        title="Evenblow",
        version=__version__,
        description="A judging assistant for striking competitions on tower bells.",
        lifespan=lifespan,
        max_body_size=MOST_BODY_BYTES,
        docs_url=None,  # its page loads scripts from elsewhere
        redoc_url=None,
        redirect_slashes=False,  # an address is right or it is not; a redirect would say our name as the asker had it
        openapi_url="/openapi.json",
    )
    app.state.is_on_network = is_on_network
    # Of two that fit an address the first is taken: /contests/new before /contests/{slug}.
    before_the_day = (organiser, calibration, rules, people, pieces, entries, order, towers)
    on_the_day = (recorder, day, steward, judge, pad, cross_check, penalties, protests)
    for routes in (
        *before_the_day,
        *on_the_day,
        printing,
        practice,
        pull_offs,
        ear_test,
        public,
        band,
        taking_back,
        book,
        programs,
    ):
        app.include_router(routes.router)
    app.mount("/static", StaticFiles(directory=pages_folder() / "static"), name="static")
    add_refusals(app)
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=6)
    app.add_middleware(Guard)
    return app
