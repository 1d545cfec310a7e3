"""Grit sizes, depth of damage, minutes to remove it: what the step before left and what it takes to be rid of it."""

from __future__ import annotations

from lapwise.engine.abrasion.damage import damage_depth
from lapwise.engine.abrasion.judgement import Verdict, verdict
from lapwise.engine.abrasion.ladder import Rung, check_ladder
from lapwise.engine.abrasion.price import Price, price_of, step_back_price

__all__ = ["Price", "Rung", "Verdict", "check_ladder", "damage_depth", "price_of", "step_back_price", "verdict"]
