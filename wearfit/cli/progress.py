"""Progress of long work on standard error: a bar on a terminal, a line now and then elsewhere."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bar

from wearfit.workflow.progress import Progress, Report


def left_in_words(progress: Progress) -> str:
    """What is left of a stage, as far as that is known."""
    if progress.share is None:
        return ""
    done = f"{100 * progress.share:.0f} % done"
    if progress.seconds_left is None or progress.seconds_left < 0.5:
        return done
    return f"{done}, about {progress.seconds_left:.0f} s left"


@contextmanager
def shown_progress() -> Iterator[Report]:
    """A report that shows what it is told until the block ends."""
    console = Console(file=sys.stderr, highlight=False)
    if not console.is_terminal:
        yield _Lines(console)
        return
    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}"),
        BarColumn(bar_width=24),
        TextColumn("{task.fields[left]}"),
        TimeElapsedColumn(),
    )
    with Bar(*columns, console=console, transient=True) as bar:
        task = bar.add_task("starting", total=None, left="")

        def report(progress: Progress) -> None:
            bar.update(
                task,
                description=progress.sentence,
                total=None if progress.share is None else 1.0,
                completed=progress.share or 0.0,
                left=left_in_words(progress),
            )

        yield report


class _Lines:
    """Prints a line where a stage begins, and at every quarter of one that tells its share."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._said: tuple[str, int] = ("", 0)

    def __call__(self, progress: Progress) -> None:
        quarter = int(4 * (progress.share or 0.0))
        if self._said == (progress.sentence, quarter):
            return
        self._said = (progress.sentence, quarter)
        left = left_in_words(progress) if quarter else ""
        self._console.print(f"{progress.sentence}: {left}" if left else progress.sentence, markup=False, soft_wrap=True)
