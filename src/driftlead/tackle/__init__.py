"""Ground tackle: how far a boat can lie from her anchor, and the drag circle."""
