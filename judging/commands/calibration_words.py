"""A calibration on a terminal: what agrees how well, and the lines that go into the rules."""

from typing import Any

from judging.jobs.calibrating import Calibrated


def calibration_in_words(calibrated: Calibrated) -> str:
    """Calibration as an organiser reads it.

    Parameters
    ----------
    calibrated : Calibrated
        From `judging.jobs.calibrating.calibrate_contests`.

    Returns
    -------
    str
        Lines of text.
    """
    found = calibrated.found
    wide = max(len(name) for name in calibrated.pieces)
    return "\n".join(
        [
            f"{found.report}.",
            "",
            f"{'faults':{wide}}  judges  machine  as calibrated",
            *(
                f"{name:{wide}}  {people:6.1f}  {before:7.1f}  {after:13.1f}"
                for name, people, before, after in zip(
                    calibrated.pieces, found.people, found.before, found.after, strict=True
                )
            ),
            "",
            "For rules.toml, before the rules are published; their fingerprint then holds them:",
            "",
            calibrated.toml,
        ]
    )


def calibration_document(calibrated: Calibrated) -> dict[str, Any]:
    """Calibration as plain data.

    Parameters
    ----------
    calibrated : Calibrated
        From `judging.jobs.calibrating.calibrate_contests`.

    Returns
    -------
    dict
        ``scale``, ``scale_se``, ``lines_unsure_percent``, ``saturation``,
        ``saturation_range`` (None = people write all), ``tolerance``, ``off``
        (mean distance of the totals: before, after, each left out), ``pieces``, ``rules_toml``, ``report``.
    """
    found, bands = calibrated.found, calibrated.found.bands
    return {
        "scale": found.scale,
        "scale_se": round(found.scale_se, 4),
        "lines_unsure_percent": float(found.unsure_percent),
        "saturation": found.saturation,
        "saturation_range": list(found.saturation_range),
        "tolerance": {name: getattr(bands, name) for name in bands.__dataclass_fields__},
        "off": {
            "before": round(found.off_before, 3),
            "after": round(found.off_after, 3),
            "left_out": round(found.off_left_out, 3),
        },
        "pieces": [
            {"piece": name, "judges": people, "machine": before, "calibrated": round(after, 3)}
            for name, people, before, after in zip(
                calibrated.pieces, found.people, found.before, found.after, strict=True
            )
        ],
        "report": found.report,
        "rules_toml": calibrated.toml,
        "remarks": list(calibrated.remarks),
    }
