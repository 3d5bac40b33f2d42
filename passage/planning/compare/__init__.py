"""Many combinations of route, departure, speed and fin use, and the choice among them.

Takes plans to make; gives a `Comparison`. Builds on `plan`.
"""
