"""Tolerances that follow from how numbers are kept, not from what one machine happened to give.

Spectral tables are kept in single precision and summed by whatever kernel the processor's
matrix library chooses, so two tables that should agree differ by a few units in the last
place of a single. Only a season's own promise (the same run, the same bits) is stricter.
"""

#: Relative rounding of a single-precision number.
SINGLE = 2.0**-24
#: Two ways to the same sum over a table: some tens of roundings.
TABLES = 32 * SINGLE
#: The same for a share that falls off as exp(-x^2/2) of such a sum, x up to 5.
TAILS = 25 * TABLES
