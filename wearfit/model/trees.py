"""Draws by trees: the no-U-turn sampler of a package, which finds how long its trajectories are."""

from typing import Any

import nutpie

from wearfit.model.trajectories import TELL_EVERY_SECONDS, Progress


def trees(model: Any, chains: int, seed: int, draws: int, tune: int, target_accept: float, cores: int | None, tell: Progress) -> Any:
    """What the package gives for a model on a history. What `tell` raises, of the share done in 0..1, ends the chains."""
    total, done = chains * (draws + tune), [0.0]

    def finished(told: list[Any]) -> None:
        done[0] = min(1.0, sum(chain.finished_draws for chain in told) / total)

    sampling = nutpie.sample(
        model,
        draws=draws,
        tune=tune,
        chains=chains,
        cores=cores,
        target_accept=target_accept,
        seed=seed,
        save_warmup=False,
        progress_bar=False,
        progress_callback=finished,
        progress_rate=int(1000 * TELL_EVERY_SECONDS),
        blocking=False,
    )
    try:
        while True:
            try:
                return sampling.wait(timeout=TELL_EVERY_SECONDS)
            except TimeoutError:
                tell(done[0])
    except BaseException:
        sampling.cancel()
        raise
