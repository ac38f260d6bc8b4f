"""A file of plain text that the user names on the command line."""

from pathlib import Path

from wearfit.errors import Refusal


def read_text_file(path: Path, what: str, form: str) -> str:
    """The text of a file in UTF-8, without the mark that some editors put first.

    Parameters
    ----------
    path : Path
    what : str
        What the file is, as a sentence begins: "The file of runs".
    form : str
        What it must be: "CSV".

    Raises
    ------
    Refusal
        Status 2, where it cannot be opened or is not UTF-8.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise Refusal(f"{what} '{path}' cannot be opened: {error.strerror}.", f"Give the path of a {form} file.", 2) from error
    return text_of(content, f"{what} '{path}'", form)


def text_of(content: bytes, what: str, form: str) -> str:
    """The same of a file's bytes at hand, its lines ended as one ends them here."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refusal(f"{what} is not UTF-8 text.", f"Save it as {form} in UTF-8.", 2) from None
    return text.replace("\r\n", "\n").replace("\r", "\n")
