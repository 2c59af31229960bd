"""The refusal of measures that cannot be."""

import math

from driftlead.errors import UserInputError


def not_negative(name: str, value: float) -> float:
    """Return the value; raise UserInputError if it is below zero or no number."""
    if not (math.isfinite(value) and value >= 0.0):
        raise UserInputError(f"{name} cannot be {value}.", remedy="Give zero or more.")
    return value


def positive(name: str, value: float) -> float:
    """Return the value; raise UserInputError if it is not above zero."""
    if not (math.isfinite(value) and value > 0.0):
        raise UserInputError(f"{name} cannot be {value}.", remedy="Give more than zero.")
    return value
