"""What the boat's instruments say about the truth, as stamped NMEA 0183 lines."""

import datetime as dt
import math
from collections.abc import Iterator

from driftlead.geodesy.plane import LocalPlane
from driftlead.lines import StampedLine
from driftlead.simulate import nmea_writer as write
from driftlead.simulate.measure import Measuring, Reading
from driftlead.simulate.receiver import Fix, PositionError
from driftlead.simulate.scenario import Scenario
from driftlead.simulate.truth import TruthSample

GPS = "gps"
INSTRUMENTS = "instruments"
GPS_KINDS = ("RMC", "GGA", "GLL", "VTG", "GSA", "ZDA")
INSTRUMENT_KINDS = ("HDT", "MWV", "MWD", "DPT")

# A receiver needs a moment to work out a fix; the others say at once what they measure.
_DELAY_S = {INSTRUMENTS: 0.005, GPS: 0.04}
_BITS_PER_CHARACTER = 10


class Talk:
    """The receiver, compass, wind instrument and sounder of one night."""

    def __init__(self, scenario: Scenario, *, error: PositionError | None = None) -> None:
        unknown = set(scenario.talk) - {*GPS_KINDS, *INSTRUMENT_KINDS}
        if unknown:
            message = f"nobody aboard says {', '.join(sorted(unknown))}"
            raise ValueError(message)
        self._scenario = scenario
        self._plane = LocalPlane(scenario.drop)
        self._measuring = Measuring(scenario, error=error)
        self._every = {
            kind: max(1, round(every_s / scenario.fix_interval_s))
            for kind, every_s in scenario.talk.items()
        }
        self._last_s = 0.0

    def say(self, tick: int, truth: TruthSample) -> Iterator[StampedLine]:
        """Every line of one fix interval, in the order they arrive; call it for every interval."""
        reading = self._measuring.step(truth)
        said = [
            self._instrument(kind, reading, truth) for kind in self._due(tick, INSTRUMENT_KINDS)
        ]
        yield from self._stamped(truth.t_s, INSTRUMENTS, said)
        fix = reading.fix
        if fix is not None:
            utc = self._scenario.start_utc + dt.timedelta(seconds=truth.t_s)
            place = self._plane.to_lat_lon(fix.e_m, fix.n_m)
            said = [self._gps(kind, utc, place, fix) for kind in self._due(tick, GPS_KINDS)]
            yield from self._stamped(truth.t_s, GPS, said)

    def _due(self, tick: int, kinds: tuple[str, ...]) -> Iterator[str]:
        return (kind for kind in kinds if kind in self._every and tick % self._every[kind] == 0)

    def _stamped(self, t_s: float, source: str, said: list[str]) -> Iterator[StampedLine]:
        """Space the lines out as they come down a serial line."""
        at_s = t_s + _DELAY_S[source]
        for text in said:
            at_s += (len(text) + 2) * _BITS_PER_CHARACTER / self._scenario.baud
            self._last_s = max(round(at_s, 6), self._last_s)
            yield StampedLine(self._last_s, source, text)

    def _gps(self, kind: str, utc: dt.datetime, place: tuple[float, float], fix: Fix) -> str:
        lat_deg, lon_deg = place
        decimals = self._scenario.minute_decimals
        match kind:
            case "RMC":
                return write.rmc(
                    utc=utc,
                    lat_deg=lat_deg,
                    lon_deg=lon_deg,
                    sog_mps=fix.sog_mps,
                    cog_deg=fix.cog_deg,
                    valid=fix.valid,
                    decimals=decimals,
                )
            case "GGA":
                return write.gga(
                    utc=utc,
                    lat_deg=lat_deg,
                    lon_deg=lon_deg,
                    satellites=fix.satellites,
                    hdop=fix.hdop,
                    valid=fix.valid,
                    decimals=decimals,
                )
            case "GLL":
                return write.gll(
                    utc=utc, lat_deg=lat_deg, lon_deg=lon_deg, valid=fix.valid, decimals=decimals
                )
            case "VTG":
                return write.vtg(sog_mps=fix.sog_mps, cog_deg=fix.cog_deg, valid=fix.valid)
            case "GSA":
                return write.gsa(satellites=fix.satellites, hdop=fix.hdop, valid=fix.valid)
            case _:
                return write.zda(utc=utc)

    def _instrument(self, kind: str, reading: Reading, truth: TruthSample) -> str:
        wind = reading.wind
        match kind:
            case "HDT":
                return write.hdt(heading_deg=reading.heading_deg)
            case "MWV":
                # What the masthead feels: the wind less the boat's own motion.
                from_rad = math.radians(wind.from_deg)
                east = wind.speed_mps * math.sin(from_rad) + truth.bow_v_mps[0]
                north = wind.speed_mps * math.cos(from_rad) + truth.bow_v_mps[1]
                off_deg = math.degrees(math.atan2(east, north)) - reading.heading_deg
                return write.mwv(off_bow_deg=off_deg, speed_mps=math.hypot(east, north))
            case "MWD":
                return write.mwd(from_deg=wind.from_deg, speed_mps=wind.speed_mps)
            case _:
                below_water_m = self._scenario.instruments.transducer_below_water_m
                return write.dpt(
                    below_transducer_m=reading.depth_m - below_water_m,
                    transducer_below_water_m=below_water_m,
                )
