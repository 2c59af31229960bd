"""A page for the devices aboard: what they may see and do, served over the boat's own network."""
