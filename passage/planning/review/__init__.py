"""A log held against the plan of the same passage.

Takes a plan's JSON and a log; gives planned beside logged, by leg and whole, and what
the miss is made of. Builds on `voyage` and `plan`.
"""
