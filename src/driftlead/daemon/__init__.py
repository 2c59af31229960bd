"""The daemon aboard: sources, core, journal, notifiers and the control socket together."""
