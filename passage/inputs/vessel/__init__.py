"""Vessel particulars: the TOML file, its checks and the estimates that fill gaps."""
