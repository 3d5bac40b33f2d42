"""One track in time, and every quantity along it.

In: a vessel, a route and a forecast. Out: arrays over points.
Imports no other folder of planning.
"""
