"""`wearfit plants`: plants compared by tool life and humidity exposure."""

from collections.abc import Mapping
from typing import Any, Final

from rich.console import Console

from wearfit.cli.options import Common, Day
from wearfit.cli.output import Answer
from wearfit.cli.tables import print_line, print_table
from wearfit.workflow.wording import CAUTION, factor, frequency, shots

CLEAR: Final = 0.9  # chance from which a difference between two plants is listed


def plants(*, as_of: Day = None, common: Common = Common()) -> Answer:  # noqa: B008
    """Plants compared by tool life and humidity exposure.

    Parameters
    ----------
    as_of
        Not before the calibration's own day.
    common
        What every command takes.
    """
    from wearfit.workflow.answers import plants as compare

    document = compare(common.store_url, as_of)
    return Answer(document, lambda console: _show(console, document))


def _show(console: Console, document: Mapping[str, Any]) -> None:
    plants = document["plants"]
    parts = ("life_factor", "life_factor_climate", "life_factor_unexplained")
    factors = [(plant["plant_id"], *(factor(plant[part]) for part in parts)) for plant in plants]
    columns = ("Plant", "Life factor", "From the climate", "From the rest")
    print_table(console, f"How long tools last at each plant, as of {document['as_of']}", columns, factors)
    print_line(
        console,
        "Life factor 0.80: a tool lasts 0.80 times the shots that it would at the mean of the plants with runs; in brackets the range "
        "that holds it with a chance of 9 in 10.\n",
    )
    numbers = ("Lives", "Wear-outs", "Shots", "Mould\nsweats", "Wet hours\na year", "Corrosion\na year")
    print_table(console, "What the plants are like", ("Plant", *numbers), [_conditions(plant) for plant in plants], right=numbers)
    print_line(console, "Mould sweats: share of press hours. Corrosion: first-year loss of carbon steel (ISO 9223).\n")
    _show_contrasts(console, document["contrasts"])
    rows = [(e["meaning"], e["per"], factor(e["life_factor"]), factor(e["prior"])) for e in document["humidity_effect"]]
    print_table(console, "What humidity does to tool life", ("Measure", "For each", "Life factor", "Assumed before\nthe records"), rows)
    print_line(console, CAUTION)


def _conditions(plant: Mapping[str, Any]) -> tuple[str, ...]:
    def known(value: float | None, text: str) -> str:
        return "not known" if value is None else text.format(value)

    sweating = plant["sweating_share"]
    category = f" ({plant['corrosivity_category']})" if plant["corrosivity_category"] else ""
    corrosion = known(plant["corrosivity_um_per_year"], "{:.0f} µm") + category
    return (
        plant["plant_id"], f"{plant['lives']:,}", f"{plant['wear_outs']:,}", shots(plant["shots"]),
        known(sweating if sweating is None else 100 * sweating, "{:.0f} %"), known(plant["wet_hours_per_year"], "{:,.0f}"), corrosion,
    )  # fmt: skip


def _show_contrasts(console: Console, contrasts: list[Mapping[str, Any]]) -> None:
    pairs = []
    for c in contrasts:
        p = c["p_a_wears_faster"]
        faster, slower, chance = (c["plant_a"], c["plant_b"], p) if p >= 0.5 else (c["plant_b"], c["plant_a"], 1 - p)
        if chance >= CLEAR:
            pairs.append((chance, faster, slower))
    pairs.sort(key=lambda pair: (-pair[0], pair[1:]))
    rows = [(faster, slower, frequency(chance)) for chance, faster, slower in pairs]
    print_table(console, "Which plant wears tools faster", ("Faster", "Than", "The chance that it does"), rows)
    close = len(contrasts) - len(pairs)
    if close:
        print_line(console, f"{close} of {len(contrasts)} pairs are closer to call and not shown; `--json` lists them all.\n")
