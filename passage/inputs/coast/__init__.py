"""The coastline in the package: land tests, distances, outlines.

Takes positions; gives answers on land and sea. Not for navigation.
"""
