"""Where independent jobs are done: here, in processes of this machine, or on a cluster."""

import os
from dataclasses import dataclass

from wearfit.errors import Refusal


@dataclass(frozen=True)
class Here:
    """One job after another in this process."""


@dataclass(frozen=True)
class Processes:
    """Jobs in processes of this machine, so many at a time."""

    number: int


@dataclass(frozen=True)
class Cluster:
    """Jobs on the workers of a Dask scheduler at an address."""

    address: str


Way = Here | Processes | Cluster


def way(cluster: str | None = None, processes: int | None = None) -> Way:
    """How to spread jobs: over a cluster where one is named, else over as many processes as asked, by default one a core.

    Raises
    ------
    Refusal
        Status 2 where both are asked for, or no process.
    """
    if cluster is not None and processes is not None:
        raise Refusal("Work is spread over a cluster or over processes.", "Leave out `--cluster` or `--processes`.", 2)
    if processes is not None and processes < 1:
        raise Refusal("At least one process is needed.", "Give a number, such as --processes 2.", 2)
    return Cluster(cluster) if cluster is not None else Processes(processes or os.cpu_count() or 1)
