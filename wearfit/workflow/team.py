"""Who may use the app: a list of e-mail addresses that the owner edits, in two roles."""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from wearfit.errors import Refusal
from wearfit.records.readers.text_file import read_text_file

Role = Literal["reader", "keeper"]
TEAM: Final = "WEARFIT_TEAM"  # the environment's word for the list of the team
TEAM_FILE: Final = "wearfit-team.toml"
OPEN: Final = "WEARFIT_OPEN_TO_ALL"  # set to OPEN_WORDS, whoever reaches the app is a keeper
OPEN_WORDS: Final = "without sign-in"
EXAMPLE: Final = 'keepers = ["ines@example.org"]\nreaders = ["otto@example.org"]\n'


@dataclass(frozen=True)
class Team:
    """E-mail addresses in small letters: keepers hand over records, recalibrate, go back and judge; readers see all and change nothing."""

    keepers: frozenset[str]
    readers: frozenset[str]

    def role_of(self, email: str) -> Role | None:
        """What an address may do; None for one that is on neither list."""
        known = email.strip().casefold()
        return "keeper" if known in self.keepers else "reader" if known in self.readers else None


def read_team(path: Path) -> Team:
    """The team that a file names.

    Raises
    ------
    Refusal
        Status 2, where it cannot be read, says anything else, or names no keeper.
    """
    repair = f"Write two lists of e-mail addresses into {path.name}, such as {' and '.join(EXAMPLE.splitlines())}."
    text = read_text_file(path, "The list of the team", "TOML")
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Refusal(f"The list of the team '{path}' is not TOML: {error}.", repair, 2) from None
    if set(said) - {"keepers", "readers"} or not all(_is_list(addresses) for addresses in said.values()):
        raise Refusal(f"The list of the team '{path}' says something else than keepers and readers.", repair, 2)
    keepers, readers = (frozenset(address.strip().casefold() for address in said.get(role, [])) for role in ("keepers", "readers"))
    if not keepers:
        raise Refusal(f"The list of the team '{path}' names no keeper, so that nobody could hand over records.", repair, 2)
    return Team(keepers, readers)


def _is_list(addresses: object) -> bool:
    return isinstance(addresses, list) and all(isinstance(address, str) and "@" in address for address in addresses)
