"""Thousands of departures over years of past data, in blocks that survive an interruption.

Takes a hindcast, routes and a vessel; gives odds by month. Builds on `plan`, `compare` and `heel`.
"""
