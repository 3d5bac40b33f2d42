"""One track sailed in time, and every quantity on it.

Takes a vessel, a route and a forecast; gives arrays over points.
Imports no other folder of planning.
"""
