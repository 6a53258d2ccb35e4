"""Where everything is kept: tables and migrations, the audit chain, recordings, personal links, backups.

::

    with Store.open(Path("data")) as store:
        contest_id = import_folder(store, Path("demo_contest"), who="organiser")
        with store.read() as session:                      # cannot write
            day = load_day(session, contest_id)
        with store.write() as session:                     # the only writer; all or nothing
            add_sheet(session, contest_id, sheet, who="judge a")

Every function that changes something takes ``who`` and writes its audit entry in the session it is given.
"""

from judging.store.access import (
    Access,
    end_session,
    exchange_link,
    find_access,
    has_organiser,
    holder,
    links_of,
    make_link,
    renew_session,
    revoke_link,
)
from judging.store.archive import archive
from judging.store.audit import Head, audit, head, verify_chain
from judging.store.backup import backup, restore
from judging.store.book_tables import StoredBook, StoredBookTouch
from judging.store.books import (
    begin_book,
    book_held_open,
    close_book,
    erase_book,
    erase_touch,
    hold_open,
    keep_touches,
    new_link_of_book,
    open_book,
    read_kept,
    recount_book,
    touch_in,
    touches_in,
)
from judging.store.contests import add_entry, add_piece, change_entry, create_contest, set_order, set_phase, set_rules
from judging.store.day_recordings import (
    add_day_recording,
    day_recording_of,
    erase_day_recording,
    set_cuts,
)
from judging.store.days import draw_order, load_day
from judging.store.engine import Store
from judging.store.erasing import TakenBack, take_back
from judging.store.evenings import (
    add_stand,
    erase_stands,
    evening_of,
    log_of_stand,
    set_evening,
    stands_of,
)
from judging.store.evidence import (
    add_recording,
    add_strike_log,
    as_strike_log,
    erase_recording,
    keeps_recordings,
    recordings_of,
    set_consent,
    strike_log_of,
    strike_logs_of,
    wanted_recordings,
)
from judging.store.folder import import_folder
from judging.store.hearings import add_hearing, hearing_of
from judging.store.keyings import KeyedIn, key_in, keyings_of, open_keyings
from judging.store.lookups import (
    as_entry,
    contest_by_slug,
    contests,
    entries_of,
    entry_by_key,
    judge_by_key,
    judges_of,
    order_of,
    piece_of,
    pieces_of,
    rules_of,
)
from judging.store.ordering import add_late_entry, swap_bands
from judging.store.pads import Sent, keep_events, pad_events
from judging.store.people import add_shadow_judge, declare_interests, set_conflicts
from judging.store.places import bells_of_entry, place_of, places_at, places_of, set_place, voices_at
from judging.store.practice_tables import StoredEvening, StoredOpenSheet, StoredStand
from judging.store.protests import add_protest, answer_protest, protest_window, protests_of
from judging.store.publications import (
    is_shown,
    open_revision,
    publications_of,
    publish,
    refuse_if_final,
    refuse_if_shown,
    was_final,
)
from judging.store.recordings import Incoming, Kept, Recordings
from judging.store.service_tables import StoredAudit, StoredJob, StoredLink, StoredSession
from judging.store.settings import Settings
from judging.store.sharing import is_sheet_open, open_sheet
from judging.store.sheet_tables import StoredKeying, StoredPadEvent, StoredSheet, StoredTap
from judging.store.sheets import add_sheet, as_sheet, latest_sheet, sheets_by, sheets_of
from judging.store.tables import (
    StoredContest,
    StoredDayRecording,
    StoredEntry,
    StoredJudge,
    StoredPiece,
    StoredProtest,
    StoredPublication,
    StoredRecording,
    StoredStrikeLog,
)
from judging.store.takes import Take, Takes
from judging.store.tower_tables import StoredHearing, StoredPlace, StoredTower, StoredVoices
from judging.store.towers import change_tower, erase_tower, make_tower, towers
from judging.store.voices import erase_voices, keep_voices, voices_of_tower

__all__ = [
    "Access",
    "Head",
    "Incoming",
    "Kept",
    "KeyedIn",
    "Recordings",
    "Sent",
    "Settings",
    "Store",
    "StoredAudit",
    "StoredBook",
    "StoredBookTouch",
    "StoredContest",
    "StoredDayRecording",
    "StoredEntry",
    "StoredEvening",
    "StoredHearing",
    "StoredJob",
    "StoredJudge",
    "StoredKeying",
    "StoredLink",
    "StoredOpenSheet",
    "StoredPadEvent",
    "StoredPiece",
    "StoredPlace",
    "StoredProtest",
    "StoredPublication",
    "StoredRecording",
    "StoredSession",
    "StoredSheet",
    "StoredStand",
    "StoredStrikeLog",
    "StoredTap",
    "StoredTower",
    "StoredVoices",
    "Take",
    "TakenBack",
    "Takes",
    "add_day_recording",
    "add_entry",
    "add_hearing",
    "add_late_entry",
    "add_piece",
    "add_protest",
    "add_recording",
    "add_shadow_judge",
    "add_sheet",
    "add_stand",
    "add_strike_log",
    "answer_protest",
    "archive",
    "as_entry",
    "as_sheet",
    "as_strike_log",
    "audit",
    "backup",
    "begin_book",
    "bells_of_entry",
    "book_held_open",
    "change_entry",
    "change_tower",
    "close_book",
    "contest_by_slug",
    "contests",
    "create_contest",
    "day_recording_of",
    "declare_interests",
    "draw_order",
    "end_session",
    "entries_of",
    "entry_by_key",
    "erase_book",
    "erase_day_recording",
    "erase_recording",
    "erase_stands",
    "erase_touch",
    "erase_tower",
    "erase_voices",
    "evening_of",
    "exchange_link",
    "find_access",
    "has_organiser",
    "head",
    "hearing_of",
    "hold_open",
    "holder",
    "import_folder",
    "is_sheet_open",
    "is_shown",
    "judge_by_key",
    "judges_of",
    "keep_events",
    "keep_touches",
    "keep_voices",
    "keeps_recordings",
    "key_in",
    "keyings_of",
    "latest_sheet",
    "links_of",
    "load_day",
    "log_of_stand",
    "make_link",
    "make_tower",
    "new_link_of_book",
    "open_book",
    "open_keyings",
    "open_revision",
    "open_sheet",
    "order_of",
    "pad_events",
    "piece_of",
    "pieces_of",
    "place_of",
    "places_at",
    "places_of",
    "protest_window",
    "protests_of",
    "publications_of",
    "publish",
    "read_kept",
    "recordings_of",
    "recount_book",
    "refuse_if_final",
    "refuse_if_shown",
    "renew_session",
    "restore",
    "revoke_link",
    "rules_of",
    "set_conflicts",
    "set_consent",
    "set_cuts",
    "set_evening",
    "set_order",
    "set_phase",
    "set_place",
    "set_rules",
    "sheets_by",
    "sheets_of",
    "stands_of",
    "strike_log_of",
    "strike_logs_of",
    "swap_bands",
    "take_back",
    "touch_in",
    "touches_in",
    "towers",
    "verify_chain",
    "voices_at",
    "voices_of_tower",
    "wanted_recordings",
    "was_final",
]
