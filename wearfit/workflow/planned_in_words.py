"""What hangs on whether planned renewals were wear-outs, in sentences."""

from collections.abc import Mapping
from typing import Any

from wearfit.workflow.wording import count, frequency, shots


def planned_sentences(document: Mapping[str, Any]) -> list[str]:
    """What changes if renewals that are written down as planned are taken for wear-outs; the first one is the answer."""
    n, before, after = document["renewals"], document["as_recorded"], document["as_wear"]
    if not n:
        return ["No renewal on record was planned, so nothing hangs on how planned renewals are taken."]
    planned = count(n, "planned renewal", "planned renewals")
    expected = (
        f"If {planned} were wear-outs, {after['expected_12_months']:.1f} tools would be expected to wear out in the next 12 months, "
        f"where {before['expected_12_months']:.1f} are as they are recorded."
    )
    said = [expected]
    if before["next_run"] is not None and after["next_run"] is not None:
        said.append(
            f"A usual next run would wear its tool out with a chance of {frequency(after['next_run'])} where it is "
            f"{frequency(before['next_run'])} (mean of {count(before['next_runs'], 'tool', 'tools')})."
        )
    lives = [f"{name}: {shots(life[1])} instead of {shots(before['class_lives'][name][1])}" for name, life in after["class_lives"].items()]
    said.append(f"Likely shots of a new tool by class: {'; '.join(lives)}.")
    said.append(
        "Tools that were renewed because they looked worn were near their end, those that were renewed because it suited were not: "
        "the truth lies between."
    )
    if not document["passed"]:
        said.append("The second calibration did not pass its gate, so that these numbers are rough.")
    return said
