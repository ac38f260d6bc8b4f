"""A clock that is set back, to stand in for the store's."""

import datetime


class SetBack(datetime.datetime):
    """A clock that loses a year each time it is asked; to be used through a class of the test's own, which begins with its `year_told`."""

    year_told = 2026

    @classmethod
    def now(cls, tz: datetime.tzinfo | None = None) -> datetime.datetime:
        cls.year_told -= 1
        return datetime.datetime(cls.year_told, 1, 1, tzinfo=tz)
