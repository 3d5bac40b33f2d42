"""Motions and their effects: accelerations, sickness, slamming, dangerous encounters.

In: waves, hull and speed. Out: responses and rates at a place on board.
Imports `waves`, `hull` and `roll`.
"""
