"""What a lamp shows of the alerts, in flashes. Pure.

After IMO MSC.302(87): unacknowledged alerts flash and acknowledged ones burn steadily until they
are over. The more urgent, the quicker; alarm and warning can be told apart without counting.
"""

from typing import Final

from driftlead.alerts.alert import Alert, AlertState, Priority

Code = tuple[tuple[float, float], ...]
"""Flashes, each as seconds of light and seconds of dark, repeated without end."""

DARK: Final[Code] = ()
STEADY: Final[Code] = ((1.0, 0.0),)
ALARM: Final[Code] = ((0.2, 0.2),)
WARNING: Final[Code] = ((0.2, 0.2), (0.2, 1.4))
OVER: Final[Code] = ((1.0, 1.0),)

_ANSWERED = frozenset({AlertState.ACTIVE_ACKNOWLEDGED, AlertState.RESPONSIBILITY_TRANSFERRED})


class Lamp:
    """Every alert that is up, and the code that tells of the most urgent."""

    def __init__(self) -> None:
        self._codes: dict[tuple[str, str], tuple[int, Code]] = {}
        self._serious: set[tuple[str, str]] = set()

    def update(self, alert: Alert, *, wanted: bool) -> None:
        """Take in a change; one that is not ``wanted`` here is not shown."""
        self._codes.pop(alert.key, None)
        self._serious.discard(alert.key)
        if alert.state is AlertState.NORMAL or not wanted:
            return
        self._codes[alert.key] = _code(alert)
        if alert.priority is not Priority.CAUTION:
            self._serious.add(alert.key)

    @property
    def code(self) -> Code:
        """What to show."""
        return max(self._codes.values(), default=(0, DARK))[1]

    @property
    def all_is_well(self) -> bool:
        """Whether no alarm and no warning is up, answered or not."""
        return not self._serious


def _code(alert: Alert) -> tuple[int, Code]:
    if alert.priority is Priority.CAUTION or alert.state in _ANSWERED:
        return 1, STEADY
    if alert.state is AlertState.RECTIFIED_UNACKNOWLEDGED:
        return 2, OVER
    return (4, ALARM) if alert.priority is Priority.ALARM else (3, WARNING)
