"""Text that may stand in an XML document."""

import re
from typing import Final

# Everything but the characters of XML 1.0, section 2.2.
_NOT_XML: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def xml_text(text: str) -> str:
    """Put the replacement character for each that XML cannot hold, escaped or not."""
    return _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", text)
