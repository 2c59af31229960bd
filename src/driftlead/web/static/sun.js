// Whether the sun is down: the low-precision formulas for the sun of The Astronomical Almanac, good
// to 0.01 degree from 1950 to 2050.

const RAD = Math.PI / 180;
const J2000_MS = Date.UTC(2000, 0, 1, 12);

/** Elevation of the sun's centre in degrees, without refraction; `at` is a Date. */
export function sunElevationDeg(at, lat, lon) {
  const days = (at.getTime() - J2000_MS) / 86400e3;
  const anomaly = (357.528 + 0.9856003 * days) * RAD;
  const longitude =
    (280.46 + 0.9856474 * days + 1.915 * Math.sin(anomaly) + 0.02 * Math.sin(2 * anomaly)) * RAD;
  const tilt = (23.439 - 0.0000004 * days) * RAD;
  const declination = Math.asin(Math.sin(tilt) * Math.sin(longitude));
  const ascension = Math.atan2(Math.cos(tilt) * Math.sin(longitude), Math.cos(longitude));
  const sidereal = (280.46062 + 360.98564737 * days + lon) * RAD;
  const sine =
    Math.sin(lat * RAD) * Math.sin(declination) +
    Math.cos(lat * RAD) * Math.cos(declination) * Math.cos(sidereal - ascension);
  return Math.asin(Math.max(-1, Math.min(1, sine))) / RAD;
}

/** From sunset to sunrise: the upper limb, refraction included, is below a level horizon. */
export function isDark(at, lat, lon) {
  return sunElevationDeg(at, lat, lon) < -0.833;
}
