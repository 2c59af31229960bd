"""Where alerts go: sound, pins, webhooks, the log, and anything a plug-in adds."""
