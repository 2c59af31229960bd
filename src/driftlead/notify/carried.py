"""What each lasting notifier has carried, so that nothing is carried twice over a restart. Pure."""

import json
from collections.abc import Mapping
from typing import Self

from driftlead.alerts.alert import Alert, AlertState

_Carried = dict[str, dict[str, list[int | str]]]


class Carried:
    """For each notifier, how each alert stood that it carried last; ended ones are forgotten."""

    def __init__(self, carried: Mapping[str, Mapping[str, list[int | str]]] | None = None) -> None:
        self._carried: _Carried = {name: dict(alerts) for name, alerts in (carried or {}).items()}

    def note(self, outlet: str, alert: Alert) -> None:
        """``outlet`` has carried ``alert`` as it stands."""
        alerts = self._carried.setdefault(outlet, {})
        if alert.state is AlertState.NORMAL:
            alerts.pop(_key(alert), None)
        else:
            alerts[_key(alert)] = _mark(alert)

    def has(self, outlet: str, alert: Alert) -> bool:
        """Whether ``outlet`` has carried ``alert`` as it stands."""
        return self._carried.get(outlet, {}).get(_key(alert)) == _mark(alert)

    def to_json(self) -> str:
        """One line of JSON."""
        return json.dumps(self._carried, sort_keys=True, separators=(",", ":"))

    @classmethod
    def from_json(cls, text: str | None) -> Self:
        """Undo ``to_json``; what cannot be read is nothing carried, so it is carried once more."""
        try:
            carried = json.loads(text or "{}")
            return cls({str(name): dict(alerts) for name, alerts in carried.items()})
        except (ValueError, TypeError, AttributeError, RecursionError):
            return cls()


def _key(alert: Alert) -> str:
    return f"{alert.name}/{alert.instance}"


def _mark(alert: Alert) -> list[int | str]:
    return [alert.number, alert.priority.value, alert.state.value]
