"""Draw the life of an alert from its table: ``python -m driftlead.alerts.diagram``.

What comes out is a state diagram in Mermaid's language, as docs/alerts.md holds it.
"""

import sys
from collections.abc import Iterator

from driftlead.alerts.alert import AlertState
from driftlead.alerts.lifecycle import LIFECYCLE


def diagram() -> str:
    """The diagram, each line with its end."""
    return "".join(f"{line}\n" for line in _lines())


def _lines() -> Iterator[str]:
    yield "stateDiagram-v2"
    for state in LIFECYCLE:
        mark = " (sounds)" if state.sounds else ""
        yield f"    {state.value}: {_words(state.value)}{mark}"
    yield f"    [*] --> {AlertState.NORMAL.value}"
    for state, row in LIFECYCLE.items():
        # One arrow for all events between the same two states, or nobody could read it.
        for following in dict.fromkeys(row.values()):
            events = [_words(event.value) for event, to in row.items() if to is following]
            yield f"    {state.value} --> {following.value}: {', '.join(events)}"


def _words(name: str) -> str:
    return name.replace("_", " ")


if __name__ == "__main__":
    sys.stdout.write(diagram())
