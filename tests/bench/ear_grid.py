"""The grid: every level that a recording can have, each in at least one scene, in four classes."""

from ear_scenes import Scene

from judging.sounding import Character

EVEN = Character(spread_ms=0, pull_off_ms=0, pace_drift=0)
CHAMBER = "ringing chamber"


def _of(kind: str, *scenes: dict[str, object]) -> tuple[Scene, ...]:
    return tuple(Scene(**{"kind": kind, **scene}) for scene in scenes)


#: Five to ten bells, dry or in a ringing chamber, little noise.
CLEAN = _of(
    "clean",
    {"name": "clean5", "bells": 5},
    {"name": "clean6", "bells": 6},
    {"name": "covered6", "bells": 6, "ringing": "covered"},
    {"name": "clean8"},
    {"name": "clean10", "bells": 10},
    {"name": "tight8", "spread_ms": 15},
    {"name": "poor8", "spread_ms": 60},
    {"name": "learners6", "bells": 6, "spread_ms": 80},
    {"name": "chamber8", "room": CHAMBER, "snr_db": 30},
    {"name": "closed8", "handstroke_gap": 0.0},
    {"name": "half-gap8", "handstroke_gap": 0.5},
    {"name": "drift8", "drift": 0.008},
    {"name": "slow6", "bells": 6, "pace": 1.25},
    {"name": "fast8", "pace": 0.85},
    {"name": "short-opening8", "opening": 2},
    {"name": "ideal8", "spread_ms": 0.0, "drift": 0.0, "character": EVEN},
    {"name": "ideal6", "bells": 6, "ringing": "covered", "character": EVEN},
    {"name": "96kHz", "room": CHAMBER, "snr_db": 30, "recorder": "96k"},
    {"name": "stereo8", "room": CHAMBER, "snr_db": 30, "recorder": "stereo"},
    {"name": "long-rounds8", "before": "long rounds", "room": CHAMBER, "snr_db": 30},
    {"name": "cropped8", "before": "cropped", "room": CHAMBER, "snr_db": 30},
    {"name": "talk8", "before": "talk", "room": CHAMBER, "snr_db": 30},
    {"name": "calls8", "ringing": "call changes", "room": CHAMBER, "snr_db": 30},
    {"name": "rounds8", "ringing": "rounds", "room": CHAMBER, "snr_db": 30},
    {"name": "queens6", "bells": 6, "ringing": "queens", "room": CHAMBER, "snr_db": 30},
    {"name": "real8", "bank": "real"},
    {"name": "queens10", "bells": 10, "ringing": "queens", "room": CHAMBER, "snr_db": 30},
    {"name": "calls6", "bells": 6, "ringing": "call changes", "room": CHAMBER, "snr_db": 30},
)

#: Twelve and more bells, wet rooms, 20 dB and less, telephones, codecs, overload.
HARD = _of(
    "hard",
    {"name": "clean12", "bells": 12},
    {"name": "clean16", "bells": 16},
    {"name": "church6", "bells": 6, "room": "church", "snr_db": 20},
    {"name": "church8", "room": "church", "snr_db": 20},
    {"name": "church10", "bells": 10, "room": "church", "snr_db": 20},
    {"name": "church12", "bells": 12, "room": "church", "snr_db": 20},
    {"name": "church-poor8", "room": "church", "snr_db": 20, "spread_ms": 60},
    {"name": "closed-church6", "bells": 6, "handstroke_gap": 0.0, "room": "church", "snr_db": 20},
    {"name": "cropped-church6", "bells": 6, "handstroke_gap": 0.0, "room": "church", "snr_db": 20, "before": "cropped"},
    {"name": "rounds-church6", "bells": 6, "ringing": "rounds", "handstroke_gap": 0.0, "room": "church", "snr_db": 25},
    {"name": "birds8", "room": "outdoors", "noise": "birds", "snr_db": 20},
    {"name": "wind12dB", "room": CHAMBER, "snr_db": 12},
    {"name": "wind6dB", "room": CHAMBER, "snr_db": 6},
    {"name": "street12dB", "room": "outdoors", "noise": "street", "snr_db": 12},
    {"name": "street6dB", "room": "outdoors", "noise": "street", "snr_db": 6},
    {"name": "voices12dB", "room": CHAMBER, "noise": "voices", "snr_db": 12},
    {"name": "voices6dB", "room": CHAMBER, "noise": "voices", "snr_db": 6},
    {"name": "birds6dB", "room": "outdoors", "noise": "birds", "snr_db": 6},
    {"name": "phone12dB-12", "bells": 12, "room": CHAMBER, "snr_db": 12, "recorder": "phone"},
    {"name": "mp3-church10", "bells": 10, "room": "church", "snr_db": 12, "recorder": "mp364"},
    {"name": "stereo-church12", "bells": 12, "room": "church", "snr_db": 20, "recorder": "stereo"},
    {"name": "calls-church8", "ringing": "call changes", "room": "church", "snr_db": 20},
    {"name": "poor-church6", "bells": 6, "room": "church", "snr_db": 20, "spread_ms": 60},
    {"name": "phone8", "room": CHAMBER, "snr_db": 25, "recorder": "phone"},
    {"name": "phone-church6", "bells": 6, "room": "church", "snr_db": 20, "recorder": "phone"},
    {"name": "mp3-64", "room": CHAMBER, "snr_db": 25, "recorder": "mp364"},
    {"name": "m4a", "room": CHAMBER, "snr_db": 25, "recorder": "m4a"},
    {"name": "opus", "room": CHAMBER, "snr_db": 25, "recorder": "opus"},
    {"name": "8kHz", "room": CHAMBER, "snr_db": 25, "recorder": "8k"},
    {"name": "clipped", "room": CHAMBER, "snr_db": 25, "recorder": "clipped"},
    {"name": "real6hall", "bells": 6, "bank": "real", "room": "hall", "snr_db": 12},
    {"name": "real8hall", "bank": "real", "room": "hall", "snr_db": 20},
    {"name": "real12", "bells": 12, "bank": "real"},
)

#: Ringing gone wrong.
GONE = _of(
    "gone wrong",
    {"name": "mistakes8", "mistakes": 4, "room": CHAMBER, "snr_db": 25},
    {"name": "mistakes6", "bells": 6, "mistakes": 4, "ringing": "covered", "room": CHAMBER, "snr_db": 25},
    {"name": "mistakes10", "bells": 10, "mistakes": 4, "room": CHAMBER, "snr_db": 25},
    {"name": "slips8", "missing": 3, "extra": 3, "room": CHAMBER, "snr_db": 25},
    {"name": "slips6", "bells": 6, "missing": 3, "extra": 3, "room": "church", "snr_db": 20},
    {"name": "silent8", "mishap": "silent", "room": CHAMBER, "snr_db": 25},
    {"name": "fire-out8", "mishap": "fire-out", "room": CHAMBER, "snr_db": 25},
    {"name": "restart6", "bells": 6, "mishap": "restart", "room": CHAMBER, "snr_db": 25},
    {"name": "practice6", "bells": 6, "before": "practice", "room": CHAMBER, "snr_db": 25},
    {"name": "another-touch8", "before": "another touch", "room": CHAMBER, "snr_db": 25},
)

#: Hardly anything to learn from, without and with kept voices; few blows each, so they stand by themselves.
SHORT = _of(
    "short",
    {"name": "pull6", "bells": 6, "ringing": "whole pull", "room": CHAMBER, "snr_db": 25},
    {"name": "pull8", "ringing": "whole pull", "room": CHAMBER, "snr_db": 25},
    {"name": "pull12", "bells": 12, "ringing": "whole pull", "room": CHAMBER, "snr_db": 25},
    {"name": "ten-changes8", "ringing": "ten changes", "opening": 2, "room": "church", "snr_db": 20},
    {"name": "kept-pull6", "bells": 6, "ringing": "whole pull", "room": CHAMBER, "snr_db": 25, "kept": True},
    {"name": "kept-pull8", "ringing": "whole pull", "room": CHAMBER, "snr_db": 25, "kept": True},
    {"name": "kept-pull12", "bells": 12, "ringing": "whole pull", "room": CHAMBER, "snr_db": 25, "kept": True},
    {"name": "kept-ten8", "ringing": "ten changes", "opening": 2, "room": "church", "snr_db": 20, "kept": True},
)

CLASSES = {"clean": CLEAN, "hard": HARD, "gone wrong": GONE, "short": SHORT}
SCENES = tuple(scene for scenes in CLASSES.values() for scene in scenes)
