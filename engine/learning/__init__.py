"""Learning: what the record adds to the shipped knowledge."""

from lapwise.engine.learning.learner import Learned, fix_chances
from lapwise.engine.learning.model import CauseFactor, Chance, Told, WhatWorks, Works

__all__ = ["CauseFactor", "Chance", "Learned", "Told", "WhatWorks", "Works", "fix_chances"]
