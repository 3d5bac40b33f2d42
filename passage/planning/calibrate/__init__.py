"""A log of past passages to vessel numbers with bands.

Takes a log and a forecast; gives proposed values. Builds on `voyage`.
"""
