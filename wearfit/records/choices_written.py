"""Choices written as their TOML file says them."""

import json
from collections.abc import Mapping
from dataclasses import asdict

from wearfit.records.choices import SECTIONS, Choices


def choices_text(choices: Choices) -> str:
    """The inverse of `read_choices`."""
    lines: list[str] = []
    said = asdict(choices)
    for section in SECTIONS:
        held = said[section]
        if section == "counts":
            for entry in held:
                lines += ["[[counts]]", *(_line(name, word) for name, word in entry.items() if word), ""]
        elif section in ("tables", "encodings"):
            lines += _section(f"[{section}]", held)
        else:
            for where, words in held.items():
                lines += _section(f"[{section}.{_quoted(where)}]", words)
    return "\n".join(lines)


def _section(head: str, words: Mapping[str, str]) -> list[str]:
    return [head, *(_line(name, word) for name, word in words.items()), ""] if words else []


def _line(name: str, word: str) -> str:
    return f"{_quoted(name)} = {_quoted(word)}"


def _quoted(text: str) -> str:
    """A TOML basic string: JSON's, with the one control sign that JSON leaves as it is."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
