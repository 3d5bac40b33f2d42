"""A log compared with the plan of the same passage.

Takes a plan's JSON and a log; gives planned beside logged, by leg and whole, and the
causes of the miss. Builds on `voyage` and `plan`.
"""
