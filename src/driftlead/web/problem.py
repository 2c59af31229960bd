"""A refusal, as every client gets it: ``Problem`` in openapi.json."""

from typing import Any

from aiohttp import web

_TEXTS = {
    404: ("unknown", "There is no such thing here.", "See docs/api.md for what there is."),
    405: ("not_allowed", "That cannot be done to it.", "See docs/api.md for what can be done."),
    413: ("too_large", "The request is too large.", "Send 16 kB at the most."),
    501: ("not_there", "This is not there.", ""),
}


class ProblemError(Exception):
    """Ends a request with a refusal: the status of HTTP, a word for programs, two for people."""

    def __init__(
        self,
        status: int,
        code: str,
        text: str,
        remedy: str = "",
        *,
        retry_after_s: float | None = None,
        **more: Any,
    ) -> None:
        super().__init__(text)
        self.status = status
        self.code = code
        self.text = text
        self.remedy = remedy
        self.retry_after_s = retry_after_s
        self.more = more

    def response(self) -> web.Response:
        """Say it."""
        response = web.json_response(
            {"code": self.code, "text": self.text, "remedy": self.remedy, **self.more},
            status=self.status,
        )
        if self.retry_after_s is not None:
            response.headers["Retry-After"] = f"{max(1.0, self.retry_after_s):.0f}"
        return response


def problem_of(error: web.HTTPException) -> ProblemError:
    """Put what the framework refuses into the same words."""
    code, text, remedy = _TEXTS.get(
        error.status, ("bad_request", f"The request is refused: {error.reason}.", "")
    )
    return ProblemError(error.status, code, text, remedy)
