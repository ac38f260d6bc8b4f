"""`wearfit serve`: the app, on this machine alone."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Final

from cyclopts import Parameter
from rich.console import Console
from rich.text import Text

from wearfit.cli.options import Common
from wearfit.cli.output import Answer
from wearfit.errors import Refusal

if TYPE_CHECKING:
    from wearfit.store.address import Address

PORT: Final = 8501
LOOPBACK: Final = "127.0.0.1"
HERE: Final = (LOOPBACK, "localhost")
ENDS: Final = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
LOOK_EVERY_SECONDS: Final = 0.1
LONGEST_END_SECONDS: Final = 10.0  # that the app is given to end by itself


def serve(
    *,
    port: Annotated[int, Parameter(env_var="WEARFIT_PORT", metavar="N")] = PORT,
    address: Annotated[str, Parameter(metavar="ADDRESS")] = LOOPBACK,
    common: Common = Common(),  # noqa: B008
) -> Answer:
    """Open the app in the browser; Ctrl-C ends it.

    Parameters
    ----------
    port
        Where it listens. By default 8501.
    address
        This machine alone, 127.0.0.1; others are not built yet.
    common
        What every command takes.
    """
    from wearfit.store.address import address_of

    if address not in HERE:
        raise Refusal(
            f"Serving at '{address}', to others than this machine, is not built yet: the app knows no sign-in.",
            f"Leave out `--address`, or give {LOOPBACK}.",
            2,
        )
    from wearfit.store.folder import folder_caution

    store = address_of(common.store_url)
    if store.path is not None and (said := folder_caution(store.path)):
        print(said, file=sys.stderr)
    check_port(port)
    app = RunningApp(store, port)
    document = {"as_of": None, "calibration": None, "fingerprint": None, "url": url_of(port), "store": str(store)}
    return Answer(document, lambda console: show_opening(console, port, store), after=app.wait)


def url_of(port: int) -> str:
    """Where the browser finds the app."""
    return f"http://{LOOPBACK}:{port}"


def show_opening(console: Console, port: int, store: "Address") -> None:
    """Print where the app is."""
    text = f"wearfit is at {url_of(port)} with the store {store}. Nothing leaves this machine; Ctrl-C ends it."
    console.print(Text(text), soft_wrap=True)  # a long path stays in one piece


def check_port(port: int) -> None:
    """Refuse a port that is none or is in use."""
    if not 1 <= port <= 65535:
        raise Refusal(f"{port} is not a port.", f"Give one from 1024 to 65535, such as --port {PORT}.", 2)
    try:
        socket.create_server((LOOPBACK, port)).close()
    except OSError as error:
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
    port : int

    Raises
    ------
    Refusal
        Where it does not come up.

    Notes
    -----
    What the app loads for days should not rest on what a command has loaded before; hence the process. It has a session of its own,
    so that Ctrl-C reaches this process alone, which ends the app in order wherever it has got to.
    """

    def __init__(self, store: "Address", port: int) -> None:
        held = (f"--{name}={value}" for name, value in _held(port).items())
        command = [sys.executable, "-m", "streamlit", "run", str(_app()), *held]
        self._stopped = False
        self._process = subprocess.Popen(
            command, env=os.environ | {"WEARFIT_STORE": store.url}, stdout=subprocess.DEVNULL, start_new_session=True
        )
        for name in ENDS:
            signal.signal(name, self._stop)
        while self._process.poll() is None and not _answers(port):
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


def _answers(port: int) -> bool:
    try:
        socket.create_connection((LOOPBACK, port), timeout=1.0).close()
    except OSError:
        return False
    return True


def _held(port: int) -> dict[str, str]:
    """What no file or environment of the user's may change; the rest stands in the settings beside the app."""
    return {
        "server.address": LOOPBACK,
        "server.port": str(port),
        "browser.gatherUsageStats": "false",
        "server.showEmailPrompt": "false",
        "logger.hideWelcomeMessage": "true",
        "logger.level": "warning",
    }


def _app() -> Path:
    """The app with its settings beside it: of the installed package, or of the checkout that it is run from."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "screens", package.parent):
        if (folder / ".streamlit" / "config.toml").is_file() and (folder / "app.py").is_file():
            return folder / "app.py"
    raise Refusal("The app is not part of this installation.", "Install wearfit again.")
