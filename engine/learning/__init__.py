"""Learning: what the record adds to the shipped knowledge."""

from lapwise.engine.learning.learner import Learned, fix_chances, learned_of, members
from lapwise.engine.learning.model import CauseFactor, Chance, Estimate, WhatWorks, Works

__all__ = ["CauseFactor", "Chance", "Estimate", "Learned", "WhatWorks", "Works", "fix_chances", "learned_of", "members"]
