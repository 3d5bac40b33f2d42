"""The record of reviewed passages: in go its rows, out come bias, bands and forecast errors.

What a plan takes from it is the model's share alone; the forecast's belongs to the odds.
"""
