"""Why the operating system refused."""

import os


def os_reason(error: OSError) -> str:
    """Give the reason in the system's own words, without number and path."""
    return str(error) if error.errno is None else os.strerror(error.errno)
