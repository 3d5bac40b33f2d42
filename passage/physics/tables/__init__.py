"""Compiled loops for a season: sampling, seas, response rows, roll.

In: tables of `waves` and `roll`. Out: the results that those modules give, faster.
No other folder of physics imports it.
"""
