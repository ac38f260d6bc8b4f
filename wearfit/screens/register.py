"""The screens that there are, in the order of the menu."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Screen:
    """One screen.

    Parameters
    ----------
    title : str
        In the menu and above the page.
    file : str
        In this folder; without its ending, the page's address.
    answers : str
        The question that it answers, in the user's words.
    in_menu : bool
        Whether the menu lists it; else another screen leads there.
    """

    title: str
    file: str
    answers: str
    in_menu: bool = True

    @property
    def path(self) -> Path:
        return FOLDER / self.file

    @property
    def address(self) -> str:
        """The end of the page's address in the browser."""
        return self.path.stem.replace("_", "-")


SCREENS: Final = (
    Screen("Fleet", "fleet.py", "When is each tool done, and what needs a decision now?"),
    Screen("Tool", "tool.py", "What has this tool been through, and what is left of it?", in_menu=False),
    Screen("Next run", "next_run.py", "Run it? What is the chance that the tool wears out before the run is finished?"),
    Screen("Plants", "plants.py", "How much life does each plant cost, and how much of it is the air?"),
    Screen("Choices", "choices.py", "What is the best thing to do, how sure is that, and what does it hang on?"),
    Screen("Plan", "plan.py", "What will be renewed, when is it to be ordered, what will it cost, and where will it be short?"),
    Screen("Evidence", "evidence.py", "Can I believe this? Would it have warned, and what did the records change?"),
    Screen("Records", "records.py", "What do the records say, what was set aside, and what did they change?"),
)


def screen_of(title: str) -> Screen:
    """The screen with a title."""
    return next(screen for screen in SCREENS if screen.title == title)
