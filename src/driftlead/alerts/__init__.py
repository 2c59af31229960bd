"""Alerts in the words of IMO MSC.302(87): what is raised, in which state, and when it clears."""
