"""What a file is, told by its first bytes and its parts, whatever it is named."""

import zipfile
from typing import Final, Literal

from wearfit.errors import Refusal
from wearfit.records.readers import zips

Form = Literal["text", "workbook", "open document", "archive"]

_SAVE_AS = "Save it as XLSX, or each sheet as 'CSV UTF-8'."

_OLE: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
# How forms begin that are sometimes handed over for tables. From the forms' own descriptions, from memory.
_FOREIGN: Final = (
    (b"%PDF-", "a PDF document"),
    (b"{\\rtf", "a text document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"\x1f\x8b", "a compressed file"),
    (b"BZh", "a compressed file"),
    (b"\xfd7zXZ", "a compressed file"),
    (b"7z\xbc\xaf\x27\x1c", "a compressed archive that is not a ZIP"),
    (b"Rar!", "a compressed archive that is not a ZIP"),
    (b"SQLite format 3\0", "a database"),
)
_WEB: Final = (b"<!doctype html", b"<html", b"<head", b"<body", b"<table", b"<meta")


def form_of(name: str, content: bytes) -> Form:
    """Form of a file by its content.

    Parameters
    ----------
    name : str
        For messages.
    content : bytes

    Returns
    -------
    Form
        "text" for whatever is none of the others.

    Raises
    ------
    Refusal
        Where it is of a form that is not read, or protected with a password.
    """
    if zips.is_zip(content):
        return _form_of_parts(name, zips.opened(name, content))
    if content.startswith(_OLE):
        raise _old_document(name, content)
    for start, what in _FOREIGN:
        if content.startswith(start):
            raise _foreign(name, what)
    head = content[:1024].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if head.startswith(_WEB):
        raise _foreign(name, "a web page")
    if head.startswith(b"<?xml"):
        raise _foreign(name, "an XML document")
    return "text"


def _form_of_parts(name: str, archive: zipfile.ZipFile) -> Form:
    parts = {part.lower() for part in archive.namelist()}
    if "encrypted-package" in parts:
        raise protected(name)
    if "xl/workbook.bin" in parts:
        raise _foreign(name, "a workbook of the binary form XLSB")
    if "[content_types].xml" in parts:
        if any(part.startswith("xl/") for part in parts):
            return "workbook"
        raise _foreign(name, "a document that is no workbook")
    if "mimetype" in parts and "content.xml" in parts:
        kind = b"".join(zips.pieces(archive, archive.getinfo("mimetype"), name, 1024)) if "mimetype" in archive.namelist() else b""
        if b"opendocument.spreadsheet" in kind:
            return "open document"
        raise _foreign(name, "a document that is no workbook")
    if "index/document.iwa" in parts or "index.zip" in parts:
        raise _foreign(name, "a document of a program whose own form is not read")
    return "archive"


def _old_document(name: str, content: bytes) -> Refusal:
    """Refusal of a compound file: a protected workbook lies in one, and so do the workbooks and documents of old."""
    if "EncryptedPackage".encode("utf-16-le") in content:
        return protected(name)
    if any(stream.encode("utf-16-le") in content for stream in ("Workbook", "Book")):
        return _foreign(name, "a workbook of the old form XLS")
    return _foreign(name, "a document of an old form")


def protected(name: str) -> Refusal:
    return Refusal(f"{name} is protected with a password and cannot be read.", "Save it without the password.")


def _foreign(name: str, what: str) -> Refusal:
    return Refusal(f"{name} is {what}, which is not read.", _SAVE_AS)
