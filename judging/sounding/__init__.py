"""PIECE or STRIKE LOG → RECORDING, on made-up bells or a tower's own; nothing here is shared with the ear.

`human_log` and `ideal_log` say when each bell strikes, `ring_of_bells` what it sounds like, `ring` and `ring_to_file`
what a microphone hears of it; `bells_of_recording` measures a tower's bells from a recording;
`read_ringing` and `make_recording` do all of it for a contest's ``ringing.toml``.
"""

from judging.sounding.band import Touch, human_log
from judging.sounding.bells import Bell, RingOfBells, ring_of_bells
from judging.sounding.character import Character, HeldUp, Lateness, Mistake
from judging.sounding.noise import QUIET, Noise
from judging.sounding.own_bells import bells_of_recording
from judging.sounding.recording import loudness_of, ring, ring_to_file, write_wav
from judging.sounding.ringing_file import RecordingSpec, Ringing, make_recording, read_ringing
from judging.sounding.rooms import ROOMS, Room, room_named
from judging.sounding.steady import ideal_log

__all__ = [
    "QUIET",
    "ROOMS",
    "Bell",
    "Character",
    "HeldUp",
    "Lateness",
    "Mistake",
    "Noise",
    "RecordingSpec",
    "RingOfBells",
    "Ringing",
    "Room",
    "Touch",
    "bells_of_recording",
    "human_log",
    "ideal_log",
    "loudness_of",
    "make_recording",
    "read_ringing",
    "ring",
    "ring_of_bells",
    "ring_to_file",
    "room_named",
    "write_wav",
]
