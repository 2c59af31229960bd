"""The plain-text format in which runs are recorded and replayed."""
