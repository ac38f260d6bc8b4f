"""The one error that reaches a person: what is wrong, and what would repair it."""


class Refusal(Exception):
    """A request that cannot be answered, said in one sentence with its repair.

    Parameters
    ----------
    problem : str
        What is wrong, a plain sentence with a full stop.
    repair : str
        What would put it right, a plain sentence with a full stop.
    status : int
        Exit status of the command: 1, the records or the calibration do not allow an answer; 2, wrong use.
    """

    def __init__(self, problem: str, repair: str, status: int = 1) -> None:
        super().__init__(f"{problem} {repair}")
        self.problem = problem
        self.repair = repair
        self.status = status

    def __reduce__(self) -> tuple[type["Refusal"], tuple[str, str, int]]:
        return type(self), (self.problem, self.repair, self.status)
