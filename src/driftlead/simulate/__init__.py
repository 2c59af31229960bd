"""Synthetic nights with known truth, in the demo scenario."""
