"""Recording → strike log: which bell struck when, and how sure that is, and nothing else.

The arrow is `listen`; it goes through the modules in this order::

    decode      a recording of any common kind → mono samples, in bounded blocks
    channels    of several channels: those in which the bells come through
    features    samples → energy in narrow bands, and a sharper sign of onsets, two hundred times a second
    stretches   samples → where bells ring
    segments    where they ring several times: each heard by itself, and which of them is the piece
    pace        → how fast the ringing is, where each whole pull begins, where the ringing starts and ends
    voices      blows of the opening rows → one detector a bell, trained on this very recording
    start       which blow is the first of a row: every answer is tried and the piece itself decides
    repeats     after what time the same bells sound again: how long a row is, how many bells there are
    touch       the whole touch decoded, voices learnt again from it, until nothing moves:
    follow      detectors → one blow a bell a row, decoded for the whole touch at once
    timing      each blow against its own bell's average onset → times to a fraction of a millisecond
    kept_voices what was learnt of the bells ⇄ a small file, for the next recording
    doubt       how sure each time and label is
    quality     what was wrong with the recording, in words, and what to do about it
"""

from judging.ear.heard import Heard, Segment
from judging.ear.kept_voices import voices_from_bytes, voices_to_bytes
from judging.ear.listen import hear, listen
from judging.ear.voices import Voices

__all__ = ["Heard", "Segment", "Voices", "hear", "listen", "voices_from_bytes", "voices_to_bytes"]
