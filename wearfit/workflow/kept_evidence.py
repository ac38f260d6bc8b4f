"""Looks at a calibration that take a while: the store keeps the whole answer, so that a page can show it at once."""

import json
from collections.abc import Mapping
from typing import Any

from wearfit.store.evidence import EvidenceEntry
from wearfit.store.store import Store


def keep(store_url: str, kind: str, calibration: int, document: Mapping[str, Any]) -> None:
    """Keep an answer about a calibration; earlier ones stay."""
    with Store.open(store_url, must_exist=True) as store:
        keep_in(store, kind, calibration, document)


def keep_in(store: Store, kind: str, calibration: int, document: Mapping[str, Any]) -> None:
    """The same, in an open store."""
    store.add_evidence(EvidenceEntry(kind, calibration, json.dumps(document, allow_nan=False)))


def kept(store_url: str, kind: str, calibration: int) -> dict[str, Any] | None:
    """The last answer of a kind about a calibration that the store keeps, None where nobody asked."""
    with Store.open(store_url, must_exist=True) as store:
        entry = store.last_evidence(kind, calibration)
    return None if entry is None else dict(json.loads(entry.content))
