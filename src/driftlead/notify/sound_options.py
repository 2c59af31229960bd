"""What the owner may say about the sound."""

import shutil

from attrs import frozen

from driftlead.notify.options import Commands, Seconds

_APLAY = ("aplay", "-q")
_SPARES = (("pw-play",), ("paplay",))


@frozen(kw_only=True)
class SoundOptions:
    """The owner's options.

    ``device`` is the ALSA device aplay is to use (``aplay -L`` lists them); should it fail, the
    default device is tried, and then whatever else can play. ``players`` replaces all of these by
    other commands, tried in order.

    ``volume_control`` is the mixer control (``amixer scontrols`` lists them) that is set to
    ``volume_percent`` when an alarm or warning begins; ``volume_card`` its card, by default that of
    ``device``. ``loudest_at_once`` leaves out the softer steps that a sound begins with. ``voice``
    has espeak-ng say what it is between the sounds. ``all_well_every`` is how often, at most, a
    soft tick says that the watch is kept and all is well; by default never.
    """

    device: str | None = None
    players: Commands | None = None
    volume_control: str | None = None
    volume_card: str | None = None
    volume_percent: int = 100
    loudest_at_once: bool = False
    voice: bool = False
    all_well_every_s: Seconds | None = None
    self_test_every_s: Seconds = 3600.0
    settle_s: Seconds = 0.3
    overrun_s: Seconds = 3.0
    retry_s: Seconds = 5.0

    def problems(self) -> list[str]:
        """Say what contradicts itself."""
        found = []
        if self.device is not None and self.players is not None:
            found.append("option 'device' does nothing beside 'players': name the device in there.")
        if self.volume_card is not None and self.volume_control is None:
            found.append("option 'volume_card' does nothing without 'volume_control'.")
        if not 1 <= self.volume_percent <= 100:
            found.append(f"option 'volume_percent': {self.volume_percent} is not from 1 to 100.")
        return found

    @property
    def commands(self) -> tuple[tuple[str, ...], ...]:
        """The player commands the owner relies on, first choice first."""
        if self.players is not None:
            return self.players
        return (_APLAY,) if self.device is None else ((*_APLAY, "-D", self.device), _APLAY)

    @property
    def spares(self) -> tuple[tuple[str, ...], ...]:
        """Other commands of this machine, for when none of those works."""
        if self.players is not None:
            return ()
        return tuple(command for command in _SPARES if shutil.which(command[0]))
