"""Drawings of our own, made by code with fixed seeds: troubles under the loupe, what looks show, motions, laps."""
