"""NMEA 0183: text in, typed observations and merged fixes out."""
