"""What a command left, and the type of the fixture that runs one."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Said:
    """Exit status, standard output and standard error."""

    status: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        """The one JSON document; fails where there is anything beside it, or a number that is not finite."""

        def refuse(word: str) -> None:
            raise ValueError(f"{word} is no JSON")

        return json.loads(self.out, parse_constant=refuse)


Run = Callable[..., Said]
