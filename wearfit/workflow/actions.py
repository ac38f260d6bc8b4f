"""Who did what with a store."""

from wearfit.store.actions import Action
from wearfit.store.store import Store


def actions_done(store_url: str, most: int) -> list[Action]:
    """What was done, newest first."""
    with Store.open(store_url, must_exist=True) as store:
        return store.actions(most)
