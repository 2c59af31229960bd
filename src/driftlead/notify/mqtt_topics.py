"""Under which topics a broker holds what the boat says. Pure.

``<base>/status`` is ``online`` or ``offline``; ``<base>/alerts/<name>`` and, where an alert can be
up more than once, ``<base>/alerts/<name>/<instance>`` hold the newest state of each alert;
``<base>/alls_well`` holds the latest sign of life; ``<base>/check`` gets test messages.
"""

import re
import unicodedata
from urllib.parse import quote

from attrs import frozen

_LONGEST = 200


def word_of(boat: str) -> str:
    """Make of the boat's name what can stand in a topic; ``boat`` if nothing is left of it."""
    plain = unicodedata.normalize("NFKD", boat).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:_LONGEST].strip("-") or "boat"


def topic_problem(base: str) -> str | None:
    """Say what keeps ``base`` from being a topic to publish under (MQTT 3.1.1, 4.7)."""
    if any(char in "+#" or not char.isprintable() for char in base):
        return "wildcards (+, #) and control characters cannot stand in it"
    if base.startswith("$"):
        return "topics that begin with $ belong to the broker"
    if "" in base.split("/"):
        return "every level between slashes needs a name"
    if len(base.encode()) > _LONGEST:
        return f"it has more than {_LONGEST} bytes"
    return None


@frozen
class Topics:
    """The topics under ``base``."""

    base: str

    @property
    def status(self) -> str:
        """Whether the boat is there."""
        return f"{self.base}/status"

    @property
    def alls_well(self) -> str:
        """The sign of life."""
        return f"{self.base}/alls_well"

    @property
    def check(self) -> str:
        """Test messages."""
        return f"{self.base}/check"

    def alert(self, name: str, instance: str) -> str:
        """The topic of one alert. Names are percent-encoded: no two alerts share a topic."""
        levels = [self.base, "alerts", quote(name, safe="")]
        if instance:
            levels.append(quote(instance, safe=""))
        return "/".join(levels)
