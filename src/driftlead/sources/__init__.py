"""Where lines come from: serial ports, UDP, TCP and recorded logs."""
