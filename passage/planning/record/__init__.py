"""The record of reviewed passages: bias, bands and forecast errors from its rows.

A plan takes only the model's share from it; the forecast's share belongs to the odds.
"""
