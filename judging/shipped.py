"""Where the files that come with Evenblow are: beside the package in a checkout, inside it in a wheel."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def shipped(folder: str) -> Path:
    """Folder of shipped files.

    Parameters
    ----------
    folder : {"templates", "demo_contest"}
        Which.

    Returns
    -------
    Path
        An existing folder.
    """
    inside = _PACKAGE / f"_{folder}"
    return inside if inside.is_dir() else _PACKAGE.parent / folder
