"""Whether the watch is being kept: what the systemd watchdog is fed by."""


def is_judging(
    *, on_watch: bool, judged_a_fix: bool, loss_is_declared: bool, seconds_to_limit: float | None
) -> bool:
    """Say whether the core has done its duty since the last time it was asked.

    On watch it must have judged a fix, or have declared that there is none to judge
    (``loss_is_declared``), or that must not be due yet: ``seconds_to_limit`` is the time until
    the core's next limit runs out, None without one. A limit that is over and undeclared, or
    fixes that are not judged, mean that the core is stuck and wants a restart.
    """
    if not on_watch or judged_a_fix or loss_is_declared:
        return True
    return seconds_to_limit is not None and seconds_to_limit > 0.0
