"""The organiser's first way in: a link printed when the service starts, good for one use."""

from judging.store import Store, has_organiser, make_link


def organiser_link(store: Store, *, base: str) -> str | None:
    """Return a new one-time link for the service's organiser, or None where one has been used already.

    Parameters
    ----------
    store : Store
        Open.
    base : str
        Address of the service, such as ``http://127.0.0.1:8000``.

    Returns
    -------
    str or None
        Whole address; it can be shown only now, since the store keeps a hash of it.
    """
    with store.read() as session:
        if has_organiser(session):
            return None
    with store.write() as session:
        token = make_link(session, role="organiser", who="service", note="first start", settings=store.settings)
    return f"{base}/links/{token}"
