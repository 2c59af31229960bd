"""The deciding core: lines, commands and faults in; state changes and alerts out. No I/O."""
