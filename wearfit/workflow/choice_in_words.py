"""The answer of a decision calculator in words: the advice, each action's cost, and what would turn the choice."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from wearfit.decisions.choices import DECISIONS
from wearfit.decisions.decision import WEAR_LIFE, Decision
from wearfit.decisions.money import amount
from wearfit.workflow.subjects import MEANINGS
from wearfit.workflow.wording import capital, day_in_words

CAUTION_SIGN: Final = "Caution"  # begins a note of a calculator that cautions
MOST_TURNS: Final = 5  # that are told in words; the table has all


def on_page(text: str, decision: Decision[Any] | None = None) -> str:
    """A sentence of a calculator for the screen: options become fields, commands the questions of the page, days what one says."""
    labels = {item.option: item.label for item in (decision.inputs if decision else ())}
    labels |= {"--" + name.replace("_", "-"): name.replace("_", " ") for name in MEANINGS}
    questions = {each.name: each.question for each in DECISIONS}
    text = re.sub(r"\b\d{4}-\d{2}-\d{2}\b", lambda found: day_in_words(found[0]), text)
    text = re.sub(r" \(--[a-z0-9-]+\)", "", text)
    text = re.sub(r"`wearfit choose ([a-z-]+)`", lambda found: f"'{questions.get(found[1], found[1])}'", text)
    return re.sub(r"--[a-z0-9-]*[a-z0-9]", lambda found: f"'{labels[found[0]]}'" if found[0] in labels else found[0], text)


def least_words(action: Mapping[str, Any], document: Mapping[str, Any]) -> str:
    """Whether an action is the best, and in how many draws of a hundred it costs least; empty where there is no other."""
    if len(document["actions"]) < 2:
        return ""
    best = "best; " if action["action"] == document["best"] else ""
    return f"{best}costs least in {100 * action['p_best']:.0f} of 100 draws"


def headline(document: Mapping[str, Any]) -> str:
    """The best action; where an age is looked for, the best age itself and not the nearest one that is compared."""
    age = document.get("best_age_shots")
    return capital(on_page(document["best"])) if age is None else f"Replace at about {amount(age)} shots"


def lines_sentence(actions: Sequence[Mapping[str, Any]]) -> str:
    """What the lines and notches of the costs are."""
    said = "The thick line holds 8 in 10 futures, the thin one 9 in 10; the notch is the cost to expect, by which actions are compared."
    beyond = any(not a["cost"]["p10"] <= a["expected_cost"] <= a["cost"]["p90"] for a in actions)
    return f"{said} Where it lies beyond its line, a few dear futures make the difference." if beyond else said


def sure_sentence(document: Mapping[str, Any]) -> str:
    """What the shares of the actions mean, and how far they may be off; empty where there is nothing to choose between."""
    if len(document["actions"]) < 2:
        return ""
    off = max(1, round(100 * document["p_best_error"]))
    return (
        "Each draw is one way in which things may be, as far as the records tell. In so many draws of 100 an action costs least on "
        f"average: that is how sure the choice is. These numbers of draws may be off by {off}."
    )


def cost_words(action: Mapping[str, Any]) -> tuple[str, str]:
    """The cost to expect of an action, and in quieter words its range."""
    low, high = (amount(action["cost"][q]) for q in ("p10", "p90"))
    return f"{amount(action['expected_cost'])} to expect", f"8 in 10 from {low} to {high}"


def turns(document: Mapping[str, Any]) -> list[str]:
    """What else would turn the choice, beside what it hangs on most, the nearest first."""
    return [one["sentence"] for one in document["tried"][1:] if one["nearness"] is not None][:MOST_TURNS]


def notes_and_cautions(document: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """Notes of the answer without the one on kinds of life, which has a place of its own; and its cautions."""
    notes = [note for note in document["notes"] if note != WEAR_LIFE]
    return [n for n in notes if not n.startswith(CAUTION_SIGN)], [n for n in notes if n.startswith(CAUTION_SIGN)]
