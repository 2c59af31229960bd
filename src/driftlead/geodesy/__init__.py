"""Places on the WGS84 ellipsoid, and a metric plane around one of them."""
