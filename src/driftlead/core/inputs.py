"""Everything that may change the core's mind, besides the lines from the sources.

All of it is recorded in order, so that a recording replayed gives the identical decisions.
"""

from attrs import field, frozen

from driftlead.geodesy.position import Position


@frozen(kw_only=True)
class LetGo:
    """The anchor touches bottom now (or touched earlier: ``late`` or ``drop``).

    ``rode_m`` is the rode out, if known yet; ``depth_m`` the depth of water at the bow.
    ``drop`` is the anchor's position where the skipper knows it. ``late`` says that the boat is
    already lying back, so the anchor must be inferred and is *not* under the bow.
    """

    rode_m: float | None = None
    depth_m: float | None = None
    drop: Position | None = None
    late: bool = False


@frozen(kw_only=True)
class Veer:
    """The rode out is now ``rode_m`` in all (veered or shortened in to that length)."""

    rode_m: float
    depth_m: float | None = None


@frozen(kw_only=True)
class CorrectMark:
    """The anchor does not lie where it was thought to, but at ``position``; all else stands."""

    position: Position


@frozen(kw_only=True)
class Acknowledge:
    """Somebody has seen the alerts: all of them, or those called ``name``.

    ``by`` says who, ``where`` from which place, if that is to be known later.
    """

    name: str | None = None
    by: str | None = None
    where: str | None = None


@frozen(kw_only=True)
class Silence:
    """Quiet for half a minute: all alerts that sound, or those called ``name``. No answer yet."""

    name: str | None = None
    by: str | None = None
    where: str | None = None


@frozen(kw_only=True)
class Transfer:
    """The responsibility for all unanswered alerts, or those called ``name``, goes over to ``to``.

    ``to`` is the name of a member of the crew; whoever does not answer in time is relieved of it.
    """

    to: str
    name: str | None = None
    by: str | None = None
    where: str | None = None


@frozen(kw_only=True)
class Weigh:
    """The anchor is off the bottom and comes up; the watch ends on purpose."""


@frozen(kw_only=True)
class Slip:
    """The cable is slipped and buoyed: the anchor stays, and the watch ends on purpose."""


@frozen(kw_only=True)
class Drill:
    """A test alert is raised and goes every alert's way; ``over``: it ends."""

    over: bool = False


Command = LetGo | Veer | CorrectMark | Acknowledge | Silence | Transfer | Weigh | Slip | Drill


@frozen(kw_only=True)
class Fault:
    """Something of ours has failed, or works again; or there is something to remark.

    ``name`` is the alert it is (``notifier_failed``, ``source_silent``, ``journal_failed``...),
    ``instance`` which one; ``text`` says what failed, None that it works again.
    ``dragged_here_before`` is a remark: ``text`` says what is remembered of the place.
    """

    name: str
    instance: str = ""
    text: str | None = field(default=None)
