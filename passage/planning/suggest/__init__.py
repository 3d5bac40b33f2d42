"""A route searched on a graph.

Takes two ends and a purpose; gives a route to appraise. Builds on `plan` and `compare`.
"""
