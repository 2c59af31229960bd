"""The latest of everything that is not a position: head, wind, depth, variation."""

from typing import Final

from driftlead.nmea.observations import (
    DepthReport,
    HeadingReport,
    North,
    WaterSpeedReport,
    WindReference,
    WindReport,
)

HEADING_FRESH_S: Final = 5.0
WIND_FRESH_S: Final = 30.0
DEPTH_FRESH_S: Final = 60.0
HEADING_SIGMA_DEG: Final = 5.0
UNCORRECTED_SIGMA_DEG: Final = 20.0
"""A magnetic head with no variation known: most waters are within this of true."""
# To look a member up in its enumeration costs as much as five names, and every head asks for this.
_MAGNETIC: Final = North.MAGNETIC


class Instruments:
    """Holds the latest readings with the time each came; a reading too old is not given."""

    def __init__(self) -> None:
        self._heading: tuple[float, HeadingReport] | None = None
        self._wind: tuple[float, WindReport] | None = None
        self._depth: tuple[float, float] | None = None
        self._variation_deg: float | None = None

    def hear_variation(self, variation_deg: float) -> None:
        """Take magnetic variation, east positive."""
        self._variation_deg = variation_deg

    def hear_heading(self, mono_s: float, report: HeadingReport) -> None:
        """Take the ship's head; a true one is kept in preference to a fresh magnetic one."""
        if report.variation_deg is not None:
            self._variation_deg = report.variation_deg
        held = self._heading
        if (
            report.north is _MAGNETIC
            and held is not None
            and held[1].north is North.TRUE
            and mono_s - held[0] <= HEADING_FRESH_S
        ):
            return
        self._heading = (mono_s, report)

    def hear_wind(self, mono_s: float, report: WindReport) -> None:
        """Take the wind."""
        self._wind = (mono_s, report)

    def hear_depth(self, mono_s: float, report: DepthReport) -> None:
        """Take the depth; an offset to the waterline is added, one to the keel is not depth."""
        offset_m = report.offset_m if report.offset_m is not None and report.offset_m > 0 else 0.0
        self._depth = (mono_s, report.below_transducer_m + offset_m)

    def hear_water_speed(self, mono_s: float, report: WaterSpeedReport) -> None:
        """Take what VHW says about the head; the log's speed is not used at anchor."""
        if report.heading is not None:
            self.hear_heading(mono_s, report.heading)

    def heading(self, mono_s: float) -> tuple[float, float] | None:
        """True head and its standard error in degrees, None if there is none fresh enough."""
        if self._heading is None or mono_s - self._heading[0] > HEADING_FRESH_S:
            return None
        report = self._heading[1]
        if report.north is North.TRUE:
            return report.heading_deg, HEADING_SIGMA_DEG
        if self._variation_deg is None:
            return report.heading_deg, UNCORRECTED_SIGMA_DEG
        return (report.heading_deg + self._variation_deg) % 360.0, HEADING_SIGMA_DEG

    def wind_from(self, mono_s: float) -> tuple[float, float] | None:
        """Where the wind comes from (degrees true) and its speed in m/s, None if not known.

        At anchor the boat hardly moves, so apparent wind serves as the wind.
        """
        if self._wind is None or mono_s - self._wind[0] > WIND_FRESH_S:
            return None
        report = self._wind[1]
        if report.reference is WindReference.TRUE_NORTH:
            return report.direction_deg, report.speed_mps
        if report.reference is WindReference.MAGNETIC_NORTH:
            variation_deg = self._variation_deg or 0.0
            return (report.direction_deg + variation_deg) % 360.0, report.speed_mps
        heading = self.heading(mono_s)
        if heading is None:
            return None
        return (heading[0] + report.direction_deg) % 360.0, report.speed_mps

    def wind_mps(self, mono_s: float) -> float | None:
        """The wind's speed in m/s; a vane tells it even where no head gives a direction."""
        if self._wind is None or mono_s - self._wind[0] > WIND_FRESH_S:
            return None
        return self._wind[1].speed_mps

    def depth_m(self, mono_s: float) -> float | None:
        """Depth of water in metres, None if there is no fresh sounding."""
        if self._depth is None or mono_s - self._depth[0] > DEPTH_FRESH_S:
            return None
        return self._depth[1]
