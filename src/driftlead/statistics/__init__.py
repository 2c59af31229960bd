"""Sequential tests and circle fits: pure arithmetic, without a word about anchors."""
