"""What is kept of every anchoring: where, on what, in what wind, and how it went."""
