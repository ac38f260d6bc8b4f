"""The address of a store: a path, or the URL of a SQLite file."""

from pathlib import Path

from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError

from wearfit.errors import Refusal

_SQLITE = ("sqlite", "sqlite+pysqlite")
_NAME_ONE = "Give the path of a SQLite file, such as `--store wearfit.db` or `--store sqlite:///wearfit.db`."


def store_path(url: str) -> Path:
    """The file that an address names.

    Parameters
    ----------
    url : str
        `sqlite:///relative.db`, `sqlite:////absolute.db` or a bare path; `~` is the home folder.

    Returns
    -------
    pathlib.Path
        Absolute, so that a later change of the working folder does not move the store.

    Raises
    ------
    Refusal
        With status 2 for an address of another kind. The address is not repeated where it may hold a password.
    """
    scheme, separator, _ = url.partition("://")
    if not separator:
        if url.strip() in ("", ":memory:"):
            raise Refusal("The store's address names no file.", _NAME_ONE, 2)
        return Path(url).expanduser().absolute()
    if scheme.split("+")[0] in ("postgresql", "postgres"):
        raise Refusal("A store on PostgreSQL comes later.", _NAME_ONE, 2)
    if scheme not in _SQLITE:
        raise Refusal(f"A store cannot be kept at an address that starts with `{scheme}://`.", _NAME_ONE, 2)
    try:
        parsed = make_url(url)
    except ArgumentError:
        raise Refusal("The store's address cannot be read.", _NAME_ONE, 2) from None
    if parsed.host or parsed.query:
        raise Refusal("The address of a SQLite store has three slashes, a path and nothing else.", _NAME_ONE, 2)
    if parsed.database in (None, "", ":memory:"):
        raise Refusal("The store's address names no file.", _NAME_ONE, 2)
    return Path(parsed.database).expanduser().absolute()
