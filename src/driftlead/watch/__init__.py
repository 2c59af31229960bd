"""The watch itself: its states, the detector, and where the anchor is."""
