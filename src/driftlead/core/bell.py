"""When it is time to say that all is well: the watch's own bell."""

import math


class Bell:
    """Due every ``every_s`` seconds while a watch is on, counted from its beginning; 0: never."""

    def __init__(self, every_s: float) -> None:
        self._every_s = every_s
        self.due_s = math.inf
        """When it is next due (monotonic seconds); infinity: not at all."""

    def watch_is(self, on_watch: bool, mono_s: float) -> None:
        """Say at ``mono_s`` whether a watch is on."""
        if not on_watch or self._every_s <= 0.0:
            self.due_s = math.inf
        elif self.due_s == math.inf:
            self.due_s = mono_s + self._every_s

    def struck(self) -> None:
        """It has been due; whether anything was said makes no difference to the next time."""
        self.due_s += self._every_s
