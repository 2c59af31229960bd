"""Recorded nights through the same core, as fast as they can be read."""
