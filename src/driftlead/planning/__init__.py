"""Before letting go: how much rode, will it hold, is there room. Pure."""
