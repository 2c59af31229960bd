"""Proving before the night that everything works: what ``driftlead check`` finds out."""
