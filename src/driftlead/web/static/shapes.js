// Outlines in metres: the boat to scale, and what lies round her.

const BEAM_OF_LENGTH = 1 / 3;

/** The boat's outline, bow at the origin, heading north: pointed, full from a third aft. */
export function hull(lengthM) {
  const half = (lengthM * BEAM_OF_LENGTH) / 2;
  return [
    [0, 0],
    [0.6 * half, -0.13 * lengthM],
    [half, -lengthM / 3],
    [half, -0.75 * lengthM],
    [0.8 * half, -lengthM],
    [-0.8 * half, -lengthM],
    [-half, -0.75 * lengthM],
    [-half, -lengthM / 3],
    [-0.6 * half, -0.13 * lengthM],
  ];
}

/** Turns an outline by a heading and lays it with its origin at (east, north). */
export function laid(outline, headingDeg, east, north) {
  const heading = (headingDeg * Math.PI) / 180;
  const [sine, cosine] = [Math.sin(heading), Math.cos(heading)];
  return outline.map(([x, y]) => [east + x * cosine + y * sine, north - x * sine + y * cosine]);
}

const BOATS = new Set(["chain", "rope", "mooring", "circle"]);

/**
 * Features of GeoJSON as the plot draws them: each `{name, kind, boat, rings, lines, points,
 * radiusM}` in metres of the plane. What is no shape is left out.
 */
export function around(collection, plane) {
  return (collection?.features ?? []).map((feature) => shape(feature, plane)).filter(Boolean);
}

function shape({ geometry, properties }, plane) {
  const said = properties ?? {};
  const found = { rings: [], lines: [], points: [] };
  collect(geometry, plane, found);
  if (!found.rings.length && !found.lines.length && !found.points.length) return null;
  const kind = typeof said.kind === "string" ? said.kind : "other";
  const name = typeof said.name === "string" ? said.name.slice(0, 40) : kind;
  const boat = BOATS.has(kind);
  if (!boat) return { ...found, name, kind, boat, radiusM: number(said.radius_m, 0) };
  return { ...found, name, kind, boat, ...berth(said, found.points[0]) };
}

/** A neighbour's swinging circle: bar-taut reach of her rode, and her length (NAVEDTRA 14221). */
function berth(said, at) {
  const lengthM = number(said.length_m, 10);
  const drop = number(said.depth_m, 0) + number(said.bow_height_m, 1);
  const rode = number(said.rode_m, 0);
  const reach = Math.sqrt(Math.max(0, rode * rode - drop * drop));
  const radiusM = number(said.circle_m, reach + lengthM);
  if (!Number.isFinite(said.heading_deg) || !at) return { radiusM };
  // The place is the boat's own; her anchor lies ahead of her.
  const heading = (said.heading_deg * Math.PI) / 180;
  const anchor = [at[0] + reach * Math.sin(heading), at[1] + reach * Math.cos(heading)];
  return { radiusM, points: [anchor], hull: laid(hull(lengthM), said.heading_deg, at[0], at[1]) };
}

const number = (value, otherwise) => (Number.isFinite(value) ? value : otherwise);

function collect(geometry, plane, found) {
  const place = ([lon, lat]) => {
    const { east, north } = plane.toPlane(lat, lon);
    return [east, north];
  };
  const at = geometry?.coordinates;
  switch (geometry?.type) {
    case "Point":
      found.points.push(place(at));
      break;
    case "MultiPoint":
      found.points.push(...at.map(place));
      break;
    case "LineString":
      found.lines.push(at.map(place));
      break;
    case "MultiLineString":
      found.lines.push(...at.map((line) => line.map(place)));
      break;
    case "Polygon":
      found.rings.push(...at.map((ring) => ring.map(place)));
      break;
    case "MultiPolygon":
      found.rings.push(...at.flatMap((polygon) => polygon.map((ring) => ring.map(place))));
      break;
    case "GeometryCollection":
      for (const each of geometry.geometries ?? []) collect(each, plane, found);
      break;
    default:
  }
}

/** Metres from a point to a shape, 0 within it, and the bearing's east and north. */
export function nearest(shape_, [x, y]) {
  let best = { distanceM: Infinity, east: 0, north: 0 };
  const offer = (px, py, less) => {
    const away = Math.max(0, Math.hypot(px - x, py - y) - less);
    if (away < best.distanceM) best = { distanceM: away, east: px - x, north: py - y };
  };
  for (const [px, py] of shape_.points) offer(px, py, shape_.radiusM);
  for (const path of [...shape_.lines, ...shape_.rings]) {
    for (let i = 1; i < path.length; i += 1) {
      const [ax, ay] = path[i - 1];
      const [dx, dy] = [path[i][0] - ax, path[i][1] - ay];
      const along = Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1)));
      offer(ax + along * dx, ay + along * dy, shape_.radiusM);
    }
  }
  if (shape_.rings.length && isWithin(shape_.rings, x, y)) best.distanceM = 0;
  return best;
}

function isWithin(rings, x, y) {
  let within = false;
  for (const ring of rings) {
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
      const [ax, ay] = ring[i];
      const [bx, by] = ring[j];
      if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) within = !within;
    }
  }
  return within;
}
