"""Values of the vessel file, with bands, from a log or a record of past passages.

In: a log and a forecast, or a record. Out: proposed values. Imports `voyage` and `record`.
"""
