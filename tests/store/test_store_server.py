"""A store on a server: what is said where driver, server, database or rights are missing; the password is never shown."""

import io
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from wearfit.cli.main import main
from wearfit.errors import Refusal
from wearfit.store import postgresql
from wearfit.store.address import address_of
from wearfit.store.engine import Database
from wearfit.store.store import Store

pytestmark = pytest.mark.server
_SECRET = "s3cret w@rd"


@pytest.fixture
def administer(database: str) -> Callable[..., None]:
    """Runs statements in the database, as its owner."""

    def run(*statements: str) -> None:
        engine = create_engine(database, isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            for statement in statements:
                connection.execute(text(statement))
        engine.dispose()

    return run


@pytest.fixture
def guarded(database: str, administer: Callable[..., None]) -> str:
    """Address of the database for one whose password is asked for and who may make no tables."""
    administer("DROP ROLE IF EXISTS guarded", f"CREATE ROLE guarded LOGIN PASSWORD '{_SECRET}'")
    return database.replace("://tester@", "://guarded:s3cret%20w%40rd@")


def _refusal(url: str) -> Refusal:
    with pytest.raises(Refusal) as refused:
        Store.open(url)
    assert "s3cret" not in str(refused.value)
    return refused.value


def test_a_password_opens_and_is_shown_nowhere(guarded: str, administer: Callable[..., None]) -> None:
    administer("GRANT CREATE ON SCHEMA public TO guarded")
    with Store.open(guarded) as store:
        assert store.uploads() == []
    address = address_of(guarded)
    assert address_of(address.url) == address
    for shown in (str(address), repr(address), repr(Database(address)), f"{Database(address).address}"):
        assert "s3cret" not in shown
        assert "host=" not in shown
    administer("DROP OWNED BY guarded", "DROP ROLE guarded")


def test_a_wrong_password_is_said_without_it(guarded: str) -> None:
    refusal = _refusal(guarded.replace("w%40rd", "wrong"))
    assert 'password authentication failed for user "guarded"' in refusal.problem
    assert "password" in refusal.repair


def test_no_rights(guarded: str) -> None:
    assert "You may not do this in the store postgresql://guarded:***@/" in _refusal(guarded).problem


def test_a_database_that_was_not_made(database: str) -> None:
    assert '_nowhere" does not exist' in _refusal(database.replace("?", "_nowhere?")).problem


def test_a_server_that_does_not_answer(tmp_path: Path) -> None:
    refusal = _refusal(f"postgresql://wear:s3cret@/wear?host={tmp_path}")
    assert refusal.problem.startswith("The server of the store postgresql://wear:***@/wear cannot be reached")
    assert refusal.status == 1


@pytest.mark.parametrize(
    "arguments", [["forecast"], ["calibrations", "--json"], ["serve", "--port", "0"], ["demo", "--no-serve", "--json"], ["nonsense"]]
)
def test_no_command_prints_the_password(arguments: list[str], tmp_path: Path) -> None:
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        assert main([*arguments, "--store", f"postgresql+psycopg://wear:s3cret@/wear?host={tmp_path}&sslpassword=s3cret"]) in (1, 2)
    assert out.getvalue() + err.getvalue()
    assert "s3cret" not in out.getvalue() + err.getvalue()


def test_a_driver_that_is_missing() -> None:
    program = (
        "import sys\nsys.modules['psycopg'] = None\nfrom wearfit.cli.main import main\n"
        "sys.exit(main(['forecast', '--store', 'postgresql+psycopg://wear:s3cret@/wear']))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "pip install 'wearfit[postgresql]'" in done.stderr
    assert "s3cret" not in done.stderr + done.stdout


def test_an_encoding_that_cannot_hold_every_name(database: str, administer: Callable[..., None]) -> None:
    name = database.split("/test_")[1].split("?", maxsplit=1)[0]
    administer(f"CREATE DATABASE latin_{name} ENCODING 'LATIN1' LOCALE_PROVIDER libc LOCALE 'C' TEMPLATE template0")
    try:
        assert "keeps its texts as LATIN1" in _refusal(database.replace("/test_", "/latin_")).problem
    finally:
        administer(f"DROP DATABASE latin_{name} WITH (FORCE)")


def test_another_programs_database_and_a_newer_store_are_left_as_they_are(database: str, administer: Callable[..., None]) -> None:
    administer("CREATE TABLE songs (title TEXT)")
    assert "tables of another program" in _refusal(database).problem
    administer("DROP TABLE songs")
    Store.open(database).close()
    administer("UPDATE alembic_version SET version_num = '9999'")
    assert "newer wearfit" in _refusal(database).problem


def test_a_writer_that_waits_too_long_says_so(database: str, monkeypatch: pytest.MonkeyPatch) -> None:
    Store.open(database).close()
    first = Database(address_of(database))
    monkeypatch.setattr(postgresql, "_PROMISES", postgresql._PROMISES.replace(str(postgresql.LOCK_TIMEOUT_MS), "50"))
    with first.writing(), Store.open(database) as store, pytest.raises(Refusal, match="locked for a minute"):
        store.set_setting("tolerance", "0.2")
    first.close()


def test_a_writer_waits_for_another(database: str) -> None:
    Store.open(database).close()
    first, began = Database(address_of(database)), threading.Event()

    def write() -> None:
        with Store.open(database) as store:
            began.set()
            store.set_setting("tolerance", "0.2")

    second = threading.Thread(target=write)
    with first.writing() as connection:
        second.start()
        began.wait()
        connection.execute(text("INSERT INTO setting_versions (name, value) VALUES ('tolerance', '0.1')"))
    second.join()
    first.close()
    with Store.open(database) as store:
        assert store.setting("tolerance") == "0.2"


def test_a_connection_that_the_server_ends_is_a_sentence_and_stores_nothing(
    database: str, administer: Callable[..., None], runs: Callable, upload_of: Callable
) -> None:
    all_others = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"

    def write() -> None:
        with writing.writing() as connection:
            connection.execute(text("UPDATE row_versions SET file_row = 99"))
            administer(all_others)
            connection.execute(text("UPDATE row_versions SET file_row = 98"))

    writing = Database(address_of(database))
    with Store.open(database) as store:
        store.add_upload(upload_of(runs([1])))
        with pytest.raises(Refusal, match=r"was stopped|cannot be reached"):
            write()
        # Connections that were ended meanwhile are made anew.
        assert [row.row for row in store.rows()] == [2]
    writing.close()


def test_a_client_killed_in_a_transaction_leaves_nothing_and_no_lock(database: str, runs: Callable) -> None:
    Store.open(database).close()
    program = (
        "import os, signal, sys\nfrom sqlalchemy import text\nfrom wearfit.store.address import address_of\n"
        "from wearfit.store.engine import Database\nwith Database(address_of(sys.argv[1])).writing() as connection:\n"
        "    connection.execute(text(\"INSERT INTO setting_versions (name, value) VALUES ('seed', '5')\"))\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    subprocess.run([sys.executable, "-c", program, database], check=False)
    with Store.open(database) as store:
        assert store.setting("seed") is None
        store.set_setting("seed", "6")
        assert store.setting("seed") == "6"
