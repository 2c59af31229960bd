"""All's well: the sign of life from which the crew knows that quiet is not dead."""

from attrs import frozen


@frozen(kw_only=True)
class AllsWell:
    """The watch is being kept and no alarm waits for an answer.

    ``state`` is the state of the watch. ``sees``: a fresh fix has been judged; False: there is none
    and that has been told.
    """

    state: str
    sees: bool
    mono_s: float
    utc_s: float | None = None
