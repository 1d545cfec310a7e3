"""The next setting: where the whole facet is likeliest to come bright, given all that is known of its slopes."""

from __future__ import annotations

from lapwise.engine.contact.posterior import UM_PER_MM_DEGREE, Posterior, median

_ROUNDS = 12


def best_slopes(found: Posterior) -> tuple[float, float]:
    """The slopes at the first setting to correct for, degrees (across, along).

    They minimise the expected square root of how far the facet will then stand off, in units of the damage depth. The
    root makes a likely good hit worth more than a fair result everywhere, and yet halves what is left where no hit is
    likely. Each round replaces the root by its tangent, which leaves a weighted median for each axis; so the result
    only improves, and a mirrored posterior gives the mirrored answer.
    """
    import numpy as np

    x, y = found.x, found.y
    size = found.geometry
    scale = UM_PER_MM_DEGREE / found.depth
    centre = (found.median(0), found.median(1))
    for _ in range(_ROUNDS):
        stand = np.abs(x - centre[0])[:, None] * size.across + np.abs(y - centre[1])[None, :] * size.along
        weight = (found.weight * scale * (1.0 + stand[:, :, None] * scale) ** -1.5).sum(axis=2)
        new = (median(x, weight.sum(axis=1)), median(y, weight.sum(axis=0)))
        if max(abs(new[0] - centre[0]), abs(new[1] - centre[1])) < 1e-6:
            break
        centre = new
    return centre
