"""The truth of a simulated fleet as one JSON document."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict

from wearfit.demo.career import Career
from wearfit.demo.noted import NotedDefect
from wearfit.demo.readings import feature_truth
from wearfit.demo.walk import Life, iso
from wearfit.demo.world import World

DIGITS = 6  # significant digits kept in the document


def truth_of(world: World, careers: Sequence[Career], noted: Sequence[NotedDefect] = ()) -> dict[str, object]:
    """All parameters, group and tool effects, lives and the state of each live tool at the as-of day.

    Wear, capacities and characteristic lives are in reference shots, effects on the natural log; `unstated_wear_share`
    is None where every renewal states its cause.
    """
    settings = world.settings
    lives = [life for career in careers for life in career.lives]
    unstated = [life for life in lives if not life.stated]
    document = {
        "as_of": settings.as_of.isoformat(),
        "seed": settings.seed,
        "law": settings.law,
        "tool_effect_tail": settings.tail,
        "parameters": asdict(settings.truth),
        "readings": feature_truth() if settings.readings_share > 0 else {},
        "effects": {
            "service_class": world.service_class,
            "design": world.design,
            "maker": world.maker,
            "plant": world.plant,
            "plant_sudden": world.plant_sudden,
            "resin": world.resin,
            "tool": {c.tool.tool_id: c.tool.effect for c in careers},
        },
        "plants": {
            plant_id: {
                "sweating_share": float(w.season.mean()),
                "log_corrosivity": w.log_corrosivity,
                "log_wear": world.plant[plant_id]
                + settings.truth.sweating * float(w.season.mean())
                + settings.truth.log_corrosivity * w.log_corrosivity,
            }
            for plant_id, w in world.weather.items()
        },
        "counts": {
            "tools": len(careers),
            "live": sum(not c.retired for c in careers),
            "lives": len(lives),
            "wear_outs": sum(life.ending == "wear" for life in lives),
            "sudden_stops": sum(life.ending == "damage" for life in lives),
            "planned": sum(life.ending == "planned" for life in lives),
        },
        "unstated_wear_share": sum(life.ending == "wear" for life in unstated) / len(unstated) if unstated else None,
        "tools": {c.tool.tool_id: _tool(c) for c in careers},
        "lives": [_life(life) for life in lives],
        "noted": [defect.as_dict() for defect in noted],
    }
    return {name: rounded(value) for name, value in document.items()}


def rounded(value: object) -> object:
    """`value` with every float in it cut to DIGITS significant digits, so that its text is the same on every machine."""
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}")
    if isinstance(value, Mapping):
        return {str(name): rounded(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(inner) for inner in value]
    return value


def _tool(career: Career) -> dict[str, object]:
    tool = career.tool
    always = {
        "service_class": tool.service_class,
        "steel": tool.steel,
        "coating": tool.coating,
        "log_life": tool.log_life,
        "opening_shots": tool.opening_shots,
        "opening_life_shots": tool.opening_life_shots,
    }
    if career.retired:
        return {**always, "status": "retired"}
    return {
        **always,
        "status": status(career),
        "plant_id": career.plant_id,
        "shots_this_life": career.life_shots,
        "refurbishments": career.refurbishments,
        "modifications": career.modifications,
        "spent": career.spent,
        "capacity": career.capacity,
        "left": max(0.0, career.capacity - career.spent),
    }


def status(career: Career) -> str:
    """What a live tool is at the as-of day: worn, held, stored or ready."""
    return "worn" if career.worn else "held" if career.held else "stored" if career.stored else "ready"


def _life(life: Life) -> dict[str, object]:
    return {
        "tool_id": life.tool_id,
        "opened_by": life.opened_by,
        "opened_on": iso(life.opened_on),
        "virtual_age": life.virtual_age,
        "capacity": life.capacity,
        "spent": life.spent,
        "shots": life.shots,
        "ending": life.ending,
        "cause_stated": life.stated,
    }
