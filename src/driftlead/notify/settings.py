"""How the owner asks for a notifier."""

from collections.abc import Mapping
from typing import Any

from attrs import field, frozen

from driftlead.alerts.alert import Priority


@frozen(kw_only=True)
class NotifierSettings:
    """One notifier: what kind, what it is called here, from which priority, and its options.

    ``options`` are the notifier's own affair and are checked when it is built.
    """

    kind: str
    name: str
    at_least: Priority = Priority.CAUTION
    options: Mapping[str, Any] = field(factory=dict)
