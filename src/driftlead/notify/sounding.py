"""Which alerts are to be heard now. Pure."""

from driftlead.alerts.alert import Alert, Priority


class Sounding:
    """The alerts that nobody has answered; a caution among them only until it was heard once."""

    def __init__(self) -> None:
        self._alerts: dict[tuple[str, str], Alert] = {}
        self._heard: dict[tuple[str, str], int] = {}

    def update(self, alert: Alert, *, wanted: bool) -> None:
        """Take in a change; one that is not ``wanted`` here makes no sound."""
        key = alert.key
        self._alerts.pop(key, None)
        if not alert.state.sounds or not wanted:
            self._heard.pop(key, None)
        elif alert.priority is not Priority.CAUTION or self._heard.get(key) != alert.number:
            self._alerts[key] = alert

    @property
    def most_urgent(self) -> Priority | None:
        """The priority to be sounded, None for silence."""
        return max(
            (alert.priority for alert in self._alerts.values()),
            key=lambda priority: priority.rank,
            default=None,
        )

    def cautions_were_heard(self) -> None:
        """Let every caution fall silent."""
        for key, alert in list(self._alerts.items()):
            if alert.priority is Priority.CAUTION:
                self._heard[key] = alert.number
                del self._alerts[key]
