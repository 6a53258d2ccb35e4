"""The open store: durable connections, writers and readers kept apart, migrations all or nothing."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError, OperationalError
from sqlmodel import create_engine, select

from judging.errors import InputError, RuleError
from judging.store import Settings, Store, StoredContest, audit, head
from judging.store.columns import Base
from judging.store.engine import DATABASE_NAME, database_engine
from judging.store.migrate import MIGRATIONS, alembic_config


@pytest.mark.parametrize(
    ("pragma", "value"),
    [
        ("journal_mode", "wal"),
        ("synchronous", 2),
        ("foreign_keys", 1),
        ("trusted_schema", 0),
        ("secure_delete", 1),
        ("busy_timeout", 15_000),
    ],
)
def test_every_connection_is_durable_and_strict(store: Store, pragma: str, value: object) -> None:
    with store.write() as session:
        written = session.connection().execute(text(f"PRAGMA {pragma}")).scalar_one()
    with store.read() as session:
        read = session.connection().execute(text(f"PRAGMA {pragma}")).scalar_one()

    assert (written, read) == (value, value)


def test_a_reading_session_cannot_write(store: Store) -> None:
    with store.read() as session, pytest.raises(OperationalError, match="readonly"):
        session.connection().execute(text("DELETE FROM session"))


def test_a_writing_session_holds_the_write_lock_from_its_first_read(store: Store) -> None:
    other = sqlite3.connect(store.data / DATABASE_NAME, timeout=0, isolation_level=None)
    with store.write() as session:
        head(session)

        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("BEGIN IMMEDIATE")
    other.execute("BEGIN IMMEDIATE")
    other.close()


def test_an_error_rolls_the_whole_session_back(store: Store) -> None:
    def write_and_fail() -> None:
        with store.write() as session:
            audit(session, who="organiser", what="contest made")
            raise RuntimeError("power cut")

    with pytest.raises(RuntimeError):
        write_and_fail()

    with store.read() as session:
        assert head(session).seq == 0


def test_a_reader_sees_one_moment_while_a_writer_commits(store: Store) -> None:
    with store.read() as reader:
        before = head(reader)
        with store.write() as session:
            audit(session, who="organiser", what="contest made")

        assert head(reader) == before
    with store.read() as reader:
        assert head(reader).seq == 1


def test_opening_again_keeps_what_was_written(store: Store, settings: Settings) -> None:
    with store.write() as session:
        audit(session, who="organiser", what="contest made")
    store.close()

    with Store.open(settings.data, settings) as again, again.read() as session:
        assert head(session).seq == 1


def test_there_is_one_line_of_migrations() -> None:
    assert len(ScriptDirectory.from_config(alembic_config()).get_heads()) == 1


def test_the_migrated_tables_are_the_declared_ones(store: Store) -> None:
    """Alembic compares tables, columns, types, keys and indexes, but not CHECK constraints: those beside it."""
    declared = create_engine("sqlite://")
    Base.metadata.create_all(declared)
    with store.read() as session:
        migrated = session.connection()
        differences = compare_metadata(MigrationContext.configure(migrated, opts={"compare_type": True}), Base.metadata)
        checks = {
            table: sorted((check["name"], check["sqltext"]) for check in inspect(migrated).get_check_constraints(table))
            for table in Base.metadata.tables
        }
    expected = {
        table: sorted((check["name"], check["sqltext"]) for check in inspect(declared).get_check_constraints(table))
        for table in Base.metadata.tables
    }
    declared.dispose()

    assert differences == []
    assert checks == expected
    assert sum(map(len, checks.values())) > 20


def test_a_migration_that_fails_leaves_the_database_as_it_was(tmp_path: Path) -> None:
    """A trigger of the same name is in the way of the last step of the first migration."""
    path = tmp_path / DATABASE_NAME
    with sqlite3.connect(path) as database:
        database.execute("CREATE TABLE elsewhere (x)")
        database.execute("CREATE TRIGGER audit_follows BEFORE INSERT ON elsewhere BEGIN SELECT 1; END")
    database.close()

    with pytest.raises(InputError, match="not a usable database"):
        Store.open(tmp_path, Settings(min_free_bytes=0))

    with sqlite3.connect(path) as database:
        tables = database.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
    database.close()
    assert tables == [("elsewhere",)]


def test_a_database_of_a_newer_version_is_refused_and_not_touched(store: Store, settings: Settings) -> None:
    store.close()
    database = sqlite3.connect(settings.data / DATABASE_NAME)
    with database:
        database.execute("UPDATE alembic_version SET version_num = '9999'")
    database.close()

    with pytest.raises(InputError, match=r"9999.*newer"):
        Store.open(settings.data, settings)


def test_a_file_that_is_no_database_is_refused_by_name(tmp_path: Path) -> None:
    (tmp_path / DATABASE_NAME).write_bytes(b"not a database, but long enough to look like one" * 100)

    with pytest.raises(InputError, match=r"evenblow\.sqlite3.*not a usable database"):
        Store.open(tmp_path, Settings(min_free_bytes=0))


def test_a_file_in_the_place_of_the_data_folder_is_refused_by_name(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("")

    with pytest.raises(InputError, match="data: cannot be used as a data folder"):
        Store.open(tmp_path / "data", Settings(min_free_bytes=0))


@pytest.mark.parametrize(
    ("column", "value"), [("phase", "finished"), ("revision", 0), ("slug", "")], ids=["phase", "revision", "slug"]
)
def test_the_database_itself_refuses_what_no_contest_can_have(store: Store, column: str, value: object) -> None:
    """SQLModel does not check values of tables on construction, so the database must."""
    contest = StoredContest(slug="spring", title="Spring", rules_text="")
    setattr(contest, column, value)

    with pytest.raises(IntegrityError, match=f"ck_contest_{column}"), store.write() as session:
        session.add(contest)


def test_two_stores_open_one_new_folder_at_once(tmp_path: Path) -> None:
    """Engines of two services started together on the same new folder: both find the tables."""
    settings = Settings(min_free_bytes=0)
    with Store.open(tmp_path, settings) as first, Store.open(tmp_path, settings) as second:
        with first.write() as session:
            audit(session, who="organiser", what="contest made")
        with second.read() as session:
            assert session.exec(select(StoredContest)).all() == []
            assert head(session).seq == 1


def test_a_copy_that_nobody_else_uses_is_read_without_leaving_a_log_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "copy.sqlite3"
    sqlite3.connect(path).close()
    engine = database_engine(path, writes=False, alone=True)
    with engine.connect() as connection:
        assert connection.execute(text("SELECT 1")).scalar_one() == 1
    engine.dispose()

    assert [file.name for file in tmp_path.iterdir()] == ["copy.sqlite3"]


def test_a_writer_that_waited_too_long_is_told_so_in_words(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("judging.store.engine.BUSY_TIMEOUT_MS", 10)
    with Store.open(store.data, store.settings) as hurried, store.write():
        with pytest.raises(RuleError, match="Others are writing just now, so nothing was kept"), hurried.write():
            pass
        with pytest.raises(RuleError, match="Others are writing just now"):
            Store.open(store.data, store.settings)
    with hurried.write() as session:
        assert audit(session, who="organiser", what="note").seq == 1
    hurried.close()


def test_a_full_disk_is_said_in_words_and_keeps_nothing_of_the_transaction(store: Store) -> None:
    def write() -> None:
        with store.write() as session:
            session.connection().execute(text("PRAGMA max_page_count = 1"))  # it is set to the present size
            for _ in range(200):
                audit(session, who="organiser", what="note", after="x" * 4000)

    with pytest.raises(RuleError, match="The disk is full, so nothing was kept"):
        write()
    with store.read() as session:
        assert head(session).seq == 0


def test_a_database_is_saved_as_it_was_before_its_tables_are_changed(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One more migration is made up for this: it adds one table."""
    newest = ScriptDirectory.from_config(alembic_config()).get_current_head()
    with store.write() as session:
        audit(session, who="organiser", what="contest made")
    store.close()
    migrations = tmp_path / "migrations"
    shutil.copytree(MIGRATIONS, migrations, ignore=shutil.ignore_patterns("__pycache__"))
    (migrations / "versions" / "9999_later.py").write_text(
        f'from alembic import op\nimport sqlalchemy as sa\nrevision = "9999"\ndown_revision = "{newest}"\n'
        "branch_labels = depends_on = None\n\n"
        'def upgrade() -> None:\n    op.create_table("later", sa.Column("x", sa.Integer()))\n'
    )
    monkeypatch.setattr("judging.store.migrate.MIGRATIONS", migrations)

    with Store.open(store.data, store.settings) as newer, newer.read() as session:
        assert inspect(session.connection()).has_table("later")
        assert head(session).seq == 1

    [saved] = (store.data / "backups").iterdir()
    assert saved.name.startswith(f"tables-{newest}-")
    with closing(sqlite3.connect(saved)) as before:
        assert before.execute("SELECT count(*) FROM audit").fetchone() == (1,)
        assert before.execute("SELECT count(*) FROM sqlite_master WHERE name = 'later'").fetchone() == (0,)
