"""The watch's settings tried on the boat's own recorded nights."""
