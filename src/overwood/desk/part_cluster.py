"""The tasks of many stands on a Dask cluster: one started on this machine, or one whose scheduler is named."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from overwood.ground.errors import Misuse, OverwoodError

LOCAL = "local"
INSTALL = 'Install the extra part: pip install "overwood[cluster]".'
# How often a part is begun anew where its worker ended, before it is given up.
_TRIES = 3


def worked(tasks: Sequence[Any], do: Callable[[Any], str], scheduler: str, workers: int) -> Iterator[str]:
    """Do the tasks and yield what each returns, in any order.

    ``scheduler`` is :data:`LOCAL`, for so many workers that end with the run and are reached from this machine alone,
    or the address of a scheduler, such as ``tcp://host:8786``, whose workers see the same folders and have the same
    version of the program.

    Raises Misuse when the extra part is missing, or the scheduler is not reached; OverwoodError when the workers of a
    part ended again and again; what is done lies there, and the same command goes on.
    """
    try:
        from distributed import KilledWorker, as_completed
    except ImportError as fault:
        raise Misuse("the part that works on a cluster is missing.", remedy=INSTALL) from fault
    with _client(scheduler, workers) as client:
        try:
            for future in as_completed([client.submit(do, task, pure=False, retries=_TRIES) for task in tasks]):
                yield future.result()
        except KilledWorker as fault:
            raise OverwoodError(
                f"workers ended again and again: {fault}", remedy="Run the same command again: it goes on."
            ) from fault


def _client(scheduler: str, workers: int) -> Any:
    from distributed import Client, LocalCluster

    if scheduler != LOCAL:
        try:
            return Client(scheduler, timeout="10s")
        except (OSError, ValueError) as fault:
            raise Misuse(
                f"no scheduler is reached at {scheduler!r}.", remedy="Give its address, such as tcp://host:8786."
            ) from fault
    # No page of its own, and nothing that another machine could reach.
    cluster = LocalCluster(n_workers=workers, threads_per_worker=1, host="127.0.0.1", dashboard_address=None)
    return _Closing(Client(cluster), cluster)


class _Closing:
    """A client of workers started here, which end with it."""

    def __init__(self, client: Any, cluster: Any) -> None:
        self.client, self.cluster = client, cluster

    def __enter__(self) -> Any:
        return self.client

    def __exit__(self, *fault: object) -> None:
        self.client.close()
        self.cluster.close()
