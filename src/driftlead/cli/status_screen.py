"""The status as a terminal shows it while it is followed."""

from rich.console import Group, RenderableType
from rich.panel import Panel
from rich.text import Text

from driftlead.cli.status_follow import Seen
from driftlead.cli.status_short import FIX_LIMIT_S
from driftlead.cli.words import status_lines

_HINT = "It assists and never replaces a look-out (COLREG Rule 5). Ctrl-C ends this view only."


def screen(seen: Seen) -> RenderableType:
    """One word, then everything that ``driftlead status`` says. Old news are dim and called so."""
    word, style = _word(seen)
    # Text, never markup: what a source or an alert says must not be read as colours.
    lines = [Text(f" {word} ", style=f"bold reverse {style}".strip()), Text("")]
    if seen.trouble is not None:
        lines.append(Text(seen.trouble, style="bold red"))
        if seen.status is not None:
            lines += [Text(""), Text("What follows is old:", style="bold")]
    if seen.status is not None:
        old = "" if seen.is_live else "dim strike"
        lines += [Text(line, style=old) for line in status_lines(seen.status)]
    return Panel(Group(*lines), title="driftlead", subtitle=_HINT)


def _word(seen: Seen) -> tuple[str, str]:
    status = seen.status
    if not seen.is_live:
        since = "" if seen.silent_s is None else f" FOR {seen.silent_s:.0f} s"
        return f"NO WORD FROM THE WATCH{since}", "red"
    if status is None or not status["on_watch"]:
        return "NO WATCH", ""
    if status["fix_age_s"] is None or status["fix_age_s"] >= FIX_LIMIT_S:
        return "BLIND", "red"
    if status["state"] == "dragging" or status["verdict"] == "dragging":
        return "DRAGGING", "red"
    if status["verdict"] == "holding":
        return "HOLDING", "green"
    return ("UNSURE" if status["verdict"] else "NOT JUDGED YET"), "yellow"
