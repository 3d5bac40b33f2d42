"""Heave, pitch and what people feel: accelerations, sickness, slamming, dangerous encounters.

Takes waves, hull and speed; gives responses and rates at a place.
Builds on `waves`, `hull` and `roll`.
"""
