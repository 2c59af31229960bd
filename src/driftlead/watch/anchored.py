"""What is known of the anchor that is down."""

from attrs import evolve, frozen

from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.tackle.drag_circle import DragCircle, drag_circle
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.settings import WatchSettings


@frozen(kw_only=True)
class Anchored:
    """The anchor, the rode that is out, and the depth at let go.

    ``drop`` is where it was let go, which only a correction of the mark changes.
    ``depth_utc_s`` is when the depth was so (Unix seconds, None: no UTC then): the tide runs on.
    """

    drop: Position
    place: AnchorInPlane
    method: AnchorMethod
    rode_m: float | None = None
    depth_m: float | None = None
    depth_utc_s: float | None = None

    def estimate(self, plane: LocalPlane) -> AnchorEstimate:
        """The anchor's place in degrees."""
        lat_deg, lon_deg = plane.to_lat_lon(self.place.east_m, self.place.north_m)
        return AnchorEstimate(lat_deg, lon_deg, self.place.sigma_m, self.method)

    def circle(self, settings: WatchSettings) -> tuple[DragCircle | None, bool]:
        """The drag circle without the fixes' error, and whether the whole rode had to serve."""
        tackle, boat = settings.tackle, settings.boat
        rode_m = self.rode_m if self.rode_m is not None else tackle.rode_aboard_m
        if rode_m is None:
            return None, False
        circle = drag_circle(
            rode_m=rode_m,
            depth_m=self.depth_m,
            bow_height_m=boat.bow_height_m,
            antenna_aft_m=boat.antenna_aft_m,
            rode_slack=tackle.rode_slack,
            sigma_m=0.0,
            sigmas=0.0,
        )
        return circle, self.rode_m is None

    def dragged_to(self, place: AnchorInPlane) -> "Anchored":
        """The anchor where a drag has put it."""
        return evolve(self, place=place, method=AnchorMethod.MOVED)
