"""The hull: weights, stability and free surface; her sections and their hydrostatics.

In: masses and lengths. Out: GM and heel, sections and hydrostatics.
Imports only `units`, `curves` and `special`.
"""
