// Metres east and north about an origin, and back. Tangent plane with the radii of curvature of
// WGS84 (NIMA TR8350.2) at the origin: within 0.1 m at 1 km and 2 m at 5 km from it, to 70 degrees.

const A_M = 6378137;
const F = 1 / 298.257223563;
const E2 = F * (2 - F);
const RAD = Math.PI / 180;

export class Plane {
  constructor({ lat, lon }) {
    this.lat = lat;
    this.lon = lon;
    const sine = Math.sin(lat * RAD);
    const oneLess = 1 - E2 * sine * sine;
    this.northPerDeg = (RAD * A_M * (1 - E2)) / oneLess ** 1.5;
    this.eastPerDeg = ((RAD * A_M) / Math.sqrt(oneLess)) * Math.cos(lat * RAD);
    // A meridian is shorter towards the pole: the second-order term keeps a kilometre right.
    this.converge = (Math.tan(lat * RAD) * RAD) / 2;
  }

  toPlane(lat, lon) {
    const dLat = lat - this.lat;
    const dLon = ((lon - this.lon + 540) % 360) - 180;
    const east = dLon * this.eastPerDeg * (1 - 2 * this.converge * dLat);
    const north =
      dLat * this.northPerDeg + dLon * dLon * this.converge * this.eastPerDeg * Math.cos(this.lat * RAD);
    return { east, north };
  }

  toLatLon(east, north) {
    let lat = this.lat + north / this.northPerDeg;
    let dLon = east / this.eastPerDeg;
    for (let round = 0; round < 3; round += 1) {
      const there = this.toPlane(lat, this.lon + dLon);
      lat += (north - there.north) / this.northPerDeg;
      dLon += (east - there.east) / this.eastPerDeg;
    }
    return { lat, lon: ((this.lon + dLon + 540) % 360) - 180 };
  }
}

export function offset(bearingDeg, distanceM) {
  const bearing = bearingDeg * RAD;
  return { east: distanceM * Math.sin(bearing), north: distanceM * Math.cos(bearing) };
}

export function bearingOf(east, north) {
  return (Math.atan2(east, north) / RAD + 360) % 360;
}
