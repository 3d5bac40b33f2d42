"""The only place that joins inputs and physics.

Takes what `inputs` read; gives plans, comparisons and decisions. Knows nothing of reports.
"""
