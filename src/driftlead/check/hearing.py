"""What one source was heard to say during a check."""

from driftlead.nmea.decode import Decoder
from driftlead.nmea.observations import (
    CourseReport,
    DepthReport,
    DilutionReport,
    HeadingReport,
    Observation,
    PositionReport,
    WindReport,
)
from driftlead.sources.base import SourceHealth


class Hearing:
    """Takes the lines of one source and keeps the newest of everything that matters."""

    def __init__(self, health: SourceHealth, *, require_checksum: bool) -> None:
        self.health = health
        self.lines = 0
        self.decoder = Decoder(require_checksum=require_checksum)
        self.fixes = 0
        self.positions = 0
        self.place: PositionReport | None = None
        self.hdop: float | None = None
        self.satellites: int | None = None
        self.has_speed = False
        self.has_heading = False
        self.has_wind = False
        self.depth_m: float | None = None

    @property
    def name(self) -> str:
        """The name of the source."""
        return self.health.source

    def take(self, text: str) -> None:
        """Take one line."""
        self.lines += 1
        observation = self.decoder.decode(text)
        if observation is not None:
            self._note(observation)

    def _note(self, observation: Observation) -> None:
        match observation:
            case PositionReport():
                self._note_position(observation)
            case DilutionReport():
                self.hdop = observation.hdop if observation.hdop is not None else self.hdop
            case CourseReport():
                self.has_speed = self.has_speed or observation.sog_mps is not None
            case HeadingReport():
                self.has_heading = True
            case WindReport():
                self.has_wind = True
            case DepthReport():
                self.depth_m = observation.below_transducer_m
            case _:
                pass

    def _note_position(self, report: PositionReport) -> None:
        self.positions += 1
        if not report.usable:
            return
        self.fixes += 1
        self.place = report
        self.hdop = report.hdop if report.hdop is not None else self.hdop
        if report.satellites is not None:
            self.satellites = report.satellites
        self.has_speed = self.has_speed or report.sog_mps is not None
