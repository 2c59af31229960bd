"""What must survive a power cut: the watch and its events, and the raw recordings."""
