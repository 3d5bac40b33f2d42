"""Records from on board: logs, roll decays, response functions.

Takes files; gives checked arrays with units.
"""
