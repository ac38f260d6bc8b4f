"""A decision: what it asks, what it is told, how its actions are costed; and what comes of asking it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, Literal, Protocol, Self

import numpy as np

from wearfit.decisions.costs import Costs
from wearfit.decisions.hangs_on import Lever, what_it_hangs_on
from wearfit.decisions.inputs import Input, Values, fill
from wearfit.decisions.outcome import Outcome, outcome_of

Array = np.ndarray

Subject = Literal[
    "tool", "kind", "tool or kind", "classes", "life", "stored tool", "tool at plants", "tool to modify"
]  # entries of `workflow.subjects`
SCOUTS: Final = 250  # draws with which inputs are tried


class Ahead(Protocol):
    """Draws that a forecast hands over."""

    @property
    def on_record(self) -> Mapping[str, float]: ...

    @property
    def samples(self) -> int: ...

    def thinned(self, keep: Array) -> Self: ...


@dataclass(frozen=True)
class Decision[A: Ahead]:
    """One calculator.

    Parameters
    ----------
    name : str
        Of the sub-command: `wearfit choose NAME`.
    question : str
        As a heading: "Replace when?"
    help : str
        One sentence for `--help` and the screen.
    subject : str
        What the draws are of, so that whoever asks knows which forecast makes them.
    inputs : tuple of Input
    costs : callable
        (draws, values) to costs. Pure: all luck is in the draws.
    levers : callable
        Draw by draw, what is believed and not told: each is a way in which the answer may turn.
    cautions : tuple of str
        Said with every answer.
    """

    name: str
    question: str
    help: str
    subject: Subject
    inputs: tuple[Input, ...]
    costs: Callable[[A, Values], Costs]
    levers: Callable[[A], tuple[Lever, ...]]
    cautions: tuple[str, ...] = ()


WEAR_LIFE: Final = (
    "Life here is wear life: shots until the cavities are worn out. Book life (write-off) and tax life are other figures and change "
    "nothing here, for money is counted when it is paid."
)


def decide[A: Ahead](decision: Decision[A], ahead: A, given: Mapping[str, float]) -> Outcome:
    """Ask a decision.

    Parameters
    ----------
    ahead : draws
        As the decision's subject wants them.
    given : mapping of str to float
        Inputs that the user sets, by name.

    Raises
    ------
    Refusal
        Where an input is missing or impossible.
    """
    values = fill(decision.inputs, ahead.on_record, given)
    costs = decision.costs(ahead, values)
    keep = np.unique(np.linspace(0, ahead.samples - 1, min(SCOUTS, ahead.samples)).round().astype(np.int64))
    scouts = ahead.thinned(keep)
    hangs = what_it_hangs_on(costs, decision.levers(ahead), values, lambda tried: decision.costs(scouts, tried))
    return outcome_of(decision.name, decision.question, values, costs, hangs, (WEAR_LIFE, *decision.cautions))
