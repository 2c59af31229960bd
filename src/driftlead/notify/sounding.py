"""Which alerts are to be heard now. Pure."""

from driftlead.alerts.alert import Alert, AlertState, Priority


class Sounding:
    """The alerts that nobody has answered; a caution among them only until it was heard once."""

    def __init__(self) -> None:
        self._alerts: dict[tuple[str, str], Alert] = {}
        self._loudness: dict[tuple[str, str], int] = {}
        self._heard: dict[tuple[str, str], int] = {}
        self._serious: set[tuple[str, str]] = set()

    def update(self, alert: Alert, *, wanted: bool, loudness: int = 0) -> None:
        """Take in a change; one that is not ``wanted`` here makes no sound."""
        key = alert.key
        self._loudness[key] = loudness
        self._alerts.pop(key, None)
        if not alert.state.sounds or not wanted:
            self._heard.pop(key, None)
        elif alert.priority is not Priority.CAUTION or self._heard.get(key) != alert.number:
            self._alerts[key] = alert
        if key not in self._alerts:
            del self._loudness[key]
        if alert.state is AlertState.NORMAL or alert.priority is Priority.CAUTION:
            self._serious.discard(key)
        else:
            self._serious.add(key)

    @property
    def most_urgent(self) -> Priority | None:
        """The priority to be sounded, None for silence."""
        foremost = self.foremost
        return None if foremost is None else foremost.priority

    @property
    def loudness(self) -> int:
        """How loudly the most urgent is to sound, 0 or more: as loudly as any of them asks for."""
        urgent = self.most_urgent
        return max(
            (self._loudness[key] for key, a in self._alerts.items() if a.priority is urgent),
            default=0,
        )

    @property
    def foremost(self) -> Alert | None:
        """The alert to be named: the most urgent, among these the newest, a drill after all."""
        return max(
            self._alerts.values(),
            key=lambda alert: (alert.priority.rank, alert.name != "drill", alert.number),
            default=None,
        )

    @property
    def all_is_well(self) -> bool:
        """Whether no alarm and no warning is up, answered or not."""
        return not self._serious

    def cautions_were_heard(self) -> None:
        """Let every caution fall silent."""
        for key, alert in list(self._alerts.items()):
            if alert.priority is Priority.CAUTION:
                self._heard[key] = alert.number
                del self._alerts[key]
