"""From fixes to a track that can be trusted: gating and filtering."""
