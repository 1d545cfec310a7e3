"""Belief: from evidence to P(cause | everything so far), with the sums shown."""

from lapwise.engine.belief.done import Observation, looked, tried
from lapwise.engine.belief.posterior import Belief, posterior
from lapwise.engine.belief.tables import look_row, look_table, priors

__all__ = ["Belief", "Observation", "look_row", "look_table", "looked", "posterior", "priors", "tried"]
