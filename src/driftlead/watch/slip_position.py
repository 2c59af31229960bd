"""What must be known to find an anchor again whose cable was slipped."""

from attrs import frozen

from driftlead.geodesy.anchor_estimate import AnchorEstimate


@frozen(kw_only=True)
class SlipPosition:
    """Where the anchor is believed to lie, and where the bow was as the cable went over it.

    The buoy floats near the bow's place, at most the rode's length from the anchor. ``bow`` is
    None where no fix told it. ``rode_m`` is the rode that was out and is left down, ``depth_m``
    the depth of water, None where they are not known.
    """

    anchor: AnchorEstimate
    bow: AnchorEstimate | None = None
    rode_m: float | None = None
    depth_m: float | None = None
