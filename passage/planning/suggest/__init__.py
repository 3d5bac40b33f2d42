"""Search for a route on a graph.

Takes start, end and objective; gives a route to appraise. Builds on `plan` and `compare`.
"""
