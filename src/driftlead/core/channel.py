"""One source inside the core: its decoder, and a merger for each receiver heard on it."""

from typing import Final

from driftlead.nmea.decode import Decoder
from driftlead.nmea.epoch import SATELLITE, EpochMerger, receiver_group
from driftlead.track.receiver_choice import ReceiverChoice, ReceiverId

MAX_RECEIVERS: Final = 8
"""A wire full of invented talkers must not grow the memory."""
_THE_REST: Final = "others"
"""What talkers beyond these count as, all together."""


class Channel:
    """What is kept for one source."""

    def __init__(self, source: str, rank: int, *, require_checksum: bool) -> None:
        """``rank`` is the source's place in the order of trust, 0 first."""
        self.source = source
        self.rank = rank
        self.decoder = Decoder(require_checksum=require_checksum)
        self.last_mono_s = 0.0
        self._mergers: dict[str, tuple[EpochMerger, ReceiverId]] = {}
        self._by_group: dict[str, tuple[EpochMerger, ReceiverId]] = {}

    def receiver(self, talker: str, choice: ReceiverChoice) -> tuple[EpochMerger, ReceiverId]:
        """The merger for this talker, enrolled with ``choice`` when it is new."""
        found = self._mergers.get(talker)
        if found is not None:
            return found
        group = receiver_group(talker)
        if group != SATELLITE and len(self._by_group) >= MAX_RECEIVERS:
            group = group if group in self._by_group else _THE_REST
        found = self._by_group.get(group)
        if found is None:
            receiver = ReceiverId(self.source, group)
            found = self._by_group[group] = (EpochMerger(self.source), receiver)
            choice.enrol(receiver, self.rank)
        if len(self._mergers) < 4 * MAX_RECEIVERS:
            self._mergers[talker] = found
        return found
