"""Who is on the list, whatever the letters of an address."""

from pathlib import Path

import pytest

from wearfit.workflow.team import EXAMPLE, read_team


@pytest.fixture
def listed(tmp_path: Path) -> Path:
    path = tmp_path / "team.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("email", "role"),
    [
        ("ines@example.org", "keeper"),
        (" Ines@Example.ORG ", "keeper"),
        ("otto@example.org", "reader"),
        ("ines@example.org.evil.net", None),
        ("xines@example.org", None),
        ("", None),
        ("*", None),
    ],
)
def test_an_address_has_the_role_of_its_list(listed: Path, email: str, role: str | None) -> None:
    assert read_team(listed).role_of(email) == role


def test_who_is_on_both_lists_is_a_keeper(tmp_path: Path) -> None:
    path = tmp_path / "team.toml"
    path.write_text('readers = ["a@b.c"]\nkeepers = ["A@b.c"]\n', encoding="utf-8")
    assert read_team(path).role_of("a@b.c") == "keeper"
