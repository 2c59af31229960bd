"""A position in letters five lines high, to be read from across the saloon."""

from typing import Final

_ROWS: Final = 5
_GLYPHS: Final = {
    "0": " ### |#   #|#   #|#   #| ### ",
    "1": "  #  | ##  |  #  |  #  | ### ",
    "2": "#### |    #| ### |#    |#####",
    "3": "#### |    #| ### |    #|#### ",
    "4": "#  # |#  # |#####|   # |   # ",
    "5": "#####|#    |#### |    #|#### ",
    "6": " ### |#    |#### |#   #| ### ",
    "7": "#####|   # |  #  | #   | #   ",
    "8": " ### |#   #| ### |#   #| ### ",
    "9": " ### |#   #| ####|    #| ### ",
    "N": "#   #|##  #|# # #|#  ##|#   #",
    "S": " ####|#    | ### |    #|#### ",
    "E": "#####|#    |###  |#    |#####",
    "W": "#   #|#   #|# # #|## ##|#   #",
    ".": " | | | |#",
    "'": "#|#| | | ",
    "°": "##|##|  |  |  ",
}


def large(text: str) -> list[str]:
    """Five lines for one; ``text`` is a latitude or a longitude as ``format_position`` has it."""
    glyphs = [_GLYPHS[letter].split("|") for letter in text]
    return ["  ".join(glyph[row] for glyph in glyphs).rstrip() for row in range(_ROWS)]
