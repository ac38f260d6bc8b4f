"""`wearfit serve`: the app, on this machine alone, or to others who sign in."""

import errno
import os
import signal
import socket
import subprocess
import sys
import threading
import time
import tomllib
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Final

from cyclopts import Parameter
from rich.console import Console
from rich.text import Text

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.errors import Refusal
from wearfit.records.readers.text_file import read_text_file
from wearfit.workflow.team import OPEN, OPEN_WORDS, TEAM, TEAM_FILE, read_team

if TYPE_CHECKING:
    from wearfit.store.address import Address

PORT: Final = 8501
LOOPBACK: Final = "127.0.0.1"
HERE: Final = (LOOPBACK, "localhost", "::1")
EVERYWHERE: Final = ("0.0.0.0", "::")
ENDS: Final = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
LOOK_EVERY_SECONDS: Final = 0.1
LONGEST_END_SECONDS: Final = 10.0  # that the app is given to end by itself


def serve(
    *,
    port: Annotated[int, Parameter(env_var="WEARFIT_PORT", metavar="N")] = PORT,
    address: Annotated[str, Parameter(metavar="ADDRESS")] = LOOPBACK,
    sign_in: Annotated[Path | None, Parameter(metavar="SECRETS.toml")] = None,
    team: Annotated[Path | None, Parameter(env_var="WEARFIT_TEAM", metavar="TEAM.toml")] = None,
    open_to_all: bool = False,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """Open the app in the browser; Ctrl-C ends it.

    Parameters
    ----------
    port
        Where it listens. By default 8501.
    address
        By default 127.0.0.1, this machine alone, which needs no sign-in. Any other needs `--sign-in`.
    sign_in
        A file whose section [auth] names your OpenID Connect provider, as Streamlit reads it; then everybody signs in.
    team
        The e-mail addresses of `keepers`, who may change what is stored, and `readers`. By default wearfit-team.toml here.
    open_to_all
        Serve another address without sign-in all the same: whoever reaches it can read and change everything. It is logged.
    common
        What every command takes.
    """
    from wearfit.store.address import address_of
    from wearfit.store.folder import folder_caution

    store = address_of(common.store_url)
    opened = Opened(address, port, sign_in, team, open_to_all)
    check_opened(opened)
    check_port(port, address)
    if store.path is not None and (said := folder_caution(store.path)):
        print(said, file=sys.stderr)
    app = RunningApp(store, opened)
    document = {"as_of": None, "calibration": None, "fingerprint": None, "url": url_of(port, address), "store": str(store)}
    return Answer(document, lambda console: show_opening(console, opened, store), after=app.wait)


@dataclass(frozen=True)
class Opened:
    """To whom the app is opened: at an address, with or without sign-in."""

    address: str = LOOPBACK
    port: int = PORT
    sign_in: Path | None = None
    team: Path | None = None
    to_all: bool = False


def check_opened(opened: Opened) -> None:
    """Refuse what would show the app to others who did not sign in, and files that cannot be used.

    Raises
    ------
    Refusal
        Status 2.
    """
    if opened.sign_in is not None:
        text = read_text_file(opened.sign_in, "The file of the sign-in", "TOML")
        try:
            named = "auth" in tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise Refusal(f"The file of the sign-in '{opened.sign_in}' is not TOML: {error}.", "Correct it.", 2) from None
        if not named:
            repair = "Write redirect_uri, cookie_secret, client_id, client_secret and server_metadata_url under [auth]."
            raise Refusal(f"The file of the sign-in '{opened.sign_in}' has no section [auth].", repair, 2)
        read_team(opened.team or Path(TEAM_FILE))
    elif opened.address not in HERE and not opened.to_all:
        raise Refusal(
            f"At '{opened.address}' others than this machine could reach the app, and nobody would have to sign in.",
            f"Name your provider with `--sign-in secrets.toml`, or leave out `--address` to serve {LOOPBACK} alone.",
            2,
        )


def url_of(port: int, address: str = LOOPBACK) -> str:
    """Where the browser finds the app."""
    host = LOOPBACK if address in (*HERE, *EVERYWHERE) else f"[{address}]" if ":" in address else address
    return f"http://{host}:{port}"


def show_opening(console: Console, opened: Opened, store: "Address") -> None:
    """Print where the app is, and for whom."""
    if opened.sign_in is not None:
        whom = "Everybody signs in."
    elif opened.address in HERE:
        whom = "Nothing leaves this machine."
    else:
        whom = f"WARNING: whoever reaches {opened.address} can read and change everything, without sign-in."
    text = f"wearfit is at {url_of(opened.port, opened.address)} with the store {store}. {whom} Ctrl-C ends it."
    console.print(Text(text), soft_wrap=True)  # a long path stays in one piece


def check_port(port: int, address: str = LOOPBACK) -> None:
    """Refuse a port that is none or is in use, and an address that is not of this machine."""
    if not 1 <= port <= 65535:
        raise Refusal(f"{port} is not a port.", f"Give one from 1024 to 65535, such as --port {PORT}.", 2)
    try:
        family = socket.AF_INET6 if ":" in address else socket.AF_INET
        socket.create_server((address, port), family=family).close()
    except OSError as error:
        if isinstance(error, socket.gaierror) or error.errno == errno.EADDRNOTAVAIL:
            raise Refusal(f"'{address}' is no address of this machine.", "Give one that it has, or 0.0.0.0 for all of them.", 2) from None
        reason = "is in use by another program" if not isinstance(error, PermissionError) else "may not be used by you"
        raise Refusal(
            f"Port {port} {reason}.", f"End that program, perhaps another `wearfit serve`, or give another one, such as --port {port + 1}."
        ) from None


class RunningApp:
    """The app in a process of its own, which ends with this one or when this one is stopped.

    Parameters
    ----------
    store : Address
        That it shows.
    opened : Opened

    Raises
    ------
    Refusal
        Where it does not come up.

    Notes
    -----
    What the app loads for days should not rest on what a command has loaded before; hence the process. It has a session of its own,
    so that Ctrl-C reaches this process alone, which ends the app in order wherever it has got to.
    """

    def __init__(self, store: "Address", opened: Opened) -> None:
        held = (f"--{name}={value}" for name, value in _held(opened))
        command = [sys.executable, "-m", "streamlit", "run", str(_app()), *held]
        self._stopped = False
        self._process = subprocess.Popen(command, env=_environment(store, opened), stdout=subprocess.DEVNULL, start_new_session=True)
        for name in ENDS:
            signal.signal(name, self._stop)
        while self._process.poll() is None and not _answers(opened):
            time.sleep(LOOK_EVERY_SECONDS)

    def wait(self) -> int:
        """Wait until it is stopped; returns the exit status, 0 where somebody stopped it.

        Raises
        ------
        Refusal
            Where it ended by itself.
        """
        status = self._process.wait()
        for name in ENDS:
            signal.signal(name, signal.SIG_DFL if name != signal.SIGINT else signal.default_int_handler)
        if status != 0 and not self._stopped:
            raise Refusal(f"The app ended by itself with status {status}.", "The lines above say why; try another `--port`.")
        return 0

    def _stop(self, number: int, frame: FrameType | None) -> None:
        self._stopped = True
        self._process.terminate()
        last = threading.Timer(LONGEST_END_SECONDS, self._process.kill)
        last.daemon = True
        last.start()


def _answers(opened: Opened) -> bool:
    host = {"0.0.0.0": LOOPBACK, "::": "::1"}.get(opened.address, opened.address)
    try:
        socket.create_connection((host, opened.port), timeout=1.0).close()
    except OSError:
        return False
    return True


def _environment(store: "Address", opened: Opened) -> dict[str, str]:
    """What the app is told of its store and its users; what it finds there decides, whatever an environment said before."""
    told = {name: value for name, value in os.environ.items() if name not in (OPEN, TEAM)} | {"WEARFIT_STORE": store.url}
    if opened.to_all and opened.sign_in is None:
        told[OPEN] = OPEN_WORDS
    if opened.sign_in is not None:
        told[TEAM] = str((opened.team or Path(TEAM_FILE)).absolute())
    return told


def _held(opened: Opened) -> list[tuple[str, str]]:
    """What no file or environment of the user's may change; the rest stands in the settings beside the app."""
    held = [
        ("server.address", opened.address),
        ("server.port", str(opened.port)),
        ("browser.gatherUsageStats", "false"),
        ("server.showEmailPrompt", "false"),
        ("logger.hideWelcomeMessage", "true"),
        ("logger.level", "warning"),
        # Without a file of its own, none: the secrets of another program on this machine are not ours.
        ("secrets.files", str(_app().with_name("no-secrets.toml") if opened.sign_in is None else opened.sign_in.absolute())),
    ]
    if opened.address not in HERE or opened.sign_in is not None:
        # By which name others reach it, a proxy before it too, is not known here.
        held.append(("server.allowedHosts", "*"))
    return held


def _app() -> Path:
    """The app with its settings beside it: of the installed package, or of the checkout that it is run from."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "screens", package.parent):
        if (folder / ".streamlit" / "config.toml").is_file() and (folder / "app.py").is_file():
            return folder / "app.py"
    raise Refusal("The app is not part of this installation.", "Install wearfit again.")
