"""Compiled kernels for a season: sampling, seas, response rows, roll.

Takes tables made by `waves` and `roll`; gives the same numbers as they do, quickly.
Nothing in physics imports it.
"""
