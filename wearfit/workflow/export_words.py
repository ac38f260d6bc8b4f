"""What an exported folder says of itself."""

from collections.abc import Mapping
from typing import Any

from wearfit.workflow.laws_in_words import by_law


def about_folder(about: Mapping[str, Any]) -> str:
    """The folder's README."""
    terms = "" if about["calibration"] is None else f"on the records up to {about['as_of']}, {by_law(about['law'])}, seed {about['seed']}"
    answers = (
        f"Calibration {about['calibration']} answered, {terms}.\nFingerprint of those records: {about['fingerprint']}\n"
        if about["calibration"] is not None
        else "No calibration answered.\n"
    )
    lost = "".join(f"- {problem}\n" for problem in about["damaged"])
    return f"""# Everything in a wearfit store

{answers}
Written by wearfit {about["wearfit"]}. `wearfit recalibrate THIS_FOLDER --store new.db` on a new store gives the same answers back: it takes
the law, the seed, the priors and the day from `manifest.json`.

| what | where |
|---|---|
| the records in force, in the columns of the template (others are in `store/row_versions.csv`) | `*.csv` here |
| decisions that these records need | `choices.toml` |
| the files as they were handed over | `uploads/NUMBER.zip`; they are as their senders wrote them, formulas too |
| calibrations and the priors that they began with | `calibrations/NUMBER.nc` (NetCDF4), `calibrations/NUMBER-priors.toml` |
| every table of the store: all versions of each row, findings, choices, judgements, evidence, who did what when | `store/*.csv` |
| SHA-256 of every file | `manifest.json` |

In the CSV files an apostrophe stands before text that a spreadsheet would take for a formula; wearfit takes it off again.
{
        f'''
Damaged in the store, and so not here:

{lost}'''
        if lost
        else ""
    }"""
