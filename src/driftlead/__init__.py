"""driftlead: an offline anchor watch that reads NMEA 0183 and wakes the crew when the anchor drags.

It assists and never replaces a look-out (COLREG Rule 5).
"""

__version__ = "0.1.0"
