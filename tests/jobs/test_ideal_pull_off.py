"""The ideal pull-off of a tower to be visited, heard again: as many bells, and as far apart, as its page says."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from judging.ear import listen
from judging.jobs.ideal_pull_off import LEAD_IN_S, WHOLE_PULLS, call_ideal, enqueue_ideal, gap_ms, ideal_path
from judging.jobs.sound_task import sound_task
from judging.piece import Piece, rounds, row_text
from judging.store import Store


@pytest.mark.slow
@pytest.mark.parametrize(("bells", "minutes"), [(6, 165), (12, 215)])
def test_what_is_played_is_what_is_said(store: Store, bells: int, minutes: int) -> None:
    row = row_text(rounds(bells))
    with store.write() as session:
        call = call_ideal(session, store, enqueue_ideal(session, store, row, minutes))
    rung = sound_task(*call.arguments, **call.options, progress=lambda *_: None)

    path = Path(rung)
    log = listen(path, Piece("whole pulls", np.tile(rounds(bells), (2 * WHOLE_PULLS, 1)))).log
    whole_pull_s = 2 * 60 * minutes / 5040
    assert path == ideal_path(store, row, minutes)
    assert log.bells.tolist() == 2 * WHOLE_PULLS * list(range(1, bells + 1))
    assert log.times_s[0] == pytest.approx(LEAD_IN_S, abs=0.02)
    assert 1000 * np.median(np.diff(log.times_s)) == pytest.approx(gap_ms(bells, minutes), abs=1.0)
    assert np.diff(log.times_s[:: 2 * bells]) == pytest.approx(whole_pull_s, abs=0.003)
    assert soundfile.info(path).duration == pytest.approx(LEAD_IN_S + WHOLE_PULLS * whole_pull_s + 2.0, abs=2.0)
