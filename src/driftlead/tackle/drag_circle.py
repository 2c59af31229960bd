"""The circle round the anchor that a boat whose anchor holds cannot leave."""

from attrs import frozen

from driftlead.tackle.checked import not_negative
from driftlead.tackle.reach import bar_taut_reach_m


@frozen(kw_only=True)
class DragCircle:
    """The drag circle's radius about the anchor, in metres, and the parts it is the sum of.

    ``reach_m``: anchor to bow roller, rode bar-taut; ``antenna_aft_m``: bow roller to GNSS
    antenna; ``rode_slack_m``: what more the rode may reach than counted, stretch included;
    ``allowance_m``: for the error of fix and anchor.
    """

    reach_m: float
    antenna_aft_m: float
    rode_slack_m: float
    allowance_m: float

    @property
    def farthest_m(self) -> float:
        """How far from the anchor the antenna can lie, errors of fix and anchor apart."""
        return self.reach_m + self.antenna_aft_m + self.rode_slack_m

    @property
    def radius_m(self) -> float:
        """The sum of the parts: an antenna farther from the anchor than this means dragging."""
        return self.farthest_m + self.allowance_m


def drag_circle(
    *,
    rode_m: float,
    depth_m: float | None,
    bow_height_m: float,
    antenna_aft_m: float,
    rode_slack: float,
    sigma_m: float,
    sigmas: float,
) -> DragCircle:
    """Work out the drag circle.

    The form is the US Navy Quartermaster's (NAVEDTRA 14221, chapter 12): rode out plus hawse to
    the point that is fixed, about the anchor. To it we add ``rode_slack`` (a fraction of the
    rode) and ``sigmas`` times ``sigma_m``. Where the depth is known the rode counts by its
    bar-taut reach; give the least depth there may be, since less water gives more reach. A depth
    of None, or of zero, as from a sounder that has lost the bottom, is not known: the rode then
    counts whole.

    A rode that by these figures does not reach the bottom has no reach, so the circle shrinks to
    antenna and allowances: the caller should first question the figures. Raises UserInputError
    for a negative measure.
    """
    rode_m = not_negative("The rode in metres", rode_m)
    bow_height_m = not_negative("The height of the bow in metres", bow_height_m)
    rode_slack = not_negative("The rode's slack as a fraction", rode_slack)
    depth_m = not_negative("The depth in metres", depth_m or 0.0)
    drop_m = depth_m + bow_height_m if depth_m > 0.0 else 0.0
    reach_m = bar_taut_reach_m(rode_m, drop_m)
    return DragCircle(
        reach_m=reach_m,
        antenna_aft_m=not_negative("The antenna's distance from the bow in metres", antenna_aft_m),
        rode_slack_m=bar_taut_reach_m(rode_m * (1.0 + rode_slack), drop_m) - reach_m,
        allowance_m=not_negative("The number of standard errors", sigmas)
        * not_negative("The standard error in metres", sigma_m),
    )


def swinging_circle_m(rode_m: float, loa_m: float) -> float:
    """Return the radius in metres of the swinging circle, the room a boat needs at anchor.

    Rode plus length over all (NAVEDTRA 14221, chapter 12), about the anchor.
    """
    return not_negative("The rode in metres", rode_m) + not_negative(
        "The length over all in metres", loa_m
    )
