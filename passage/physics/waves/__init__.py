"""The sea at a point: dispersion and encounter, spectra, and tables of anything linear in them.

Takes heights, periods, directions and speeds; gives variances.
Knows only `units` and `physics.compiled`.
"""
