"""The drill: a marked test alert through the whole chain, and what became of it on the way."""
