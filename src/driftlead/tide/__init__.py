"""The height of the tide between the high and low waters of the user's own tables. Pure."""
