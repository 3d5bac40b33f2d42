"""Fuel-cost-versus-comfort passage planner for a fin-stabilised motor yacht."""

__version__ = "0.1.0"
