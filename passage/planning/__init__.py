"""The only place that joins inputs and physics: plan, compare, heel, season."""
