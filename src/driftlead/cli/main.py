"""The command line: ``driftlead VERB``. Each verb is loaded only when it is asked for."""

import importlib
from typing import Any, Final

import click

from driftlead import __version__
from driftlead.errors import ConfigError, DriftleadError, UserInputError

VERBS: Final[dict[str, tuple[str, str]]] = {
    "plan": ("driftlead.cli.plan:plan", "Before letting go: how much rode, and will it hold."),
    "room": ("driftlead.cli.room:room", "Before letting go: will we fit among the others."),
    "let-go": ("driftlead.cli.let_go:let_go", "The anchor touches bottom: mark it, begin a watch."),
    "veer": ("driftlead.cli.veer:veer", "Say how much rode is out now, in all."),
    "correct-mark": ("driftlead.cli.correct_mark:correct_mark", "Say where the anchor really is."),
    "acknowledge": ("driftlead.cli.acknowledge:acknowledge", "Answer alerts: the sound stops."),
    "silence": ("driftlead.cli.silence:silence", "Quiet for half a minute, without an answer."),
    "transfer": ("driftlead.cli.transfer:transfer", "Hand alerts over to another of the crew."),
    "weigh": ("driftlead.cli.weigh:weigh", "The anchor is off the bottom: end the watch."),
    "slip": ("driftlead.cli.slip:slip", "Cable slipped and buoyed: end the watch, keep the place."),
    "status": ("driftlead.cli.status:status", "Show how she lies, and what is wrong."),
    "pair": ("driftlead.cli.pair:pair", "Let one more device see the watch and give commands."),
    "devices": ("driftlead.cli.devices:devices", "List the paired devices, or unpair one."),
    "watch": ("driftlead.cli.watch:watch", "Keep the watch: this is the daemon itself."),
    "anchorages": ("driftlead.cli.anchorages:anchorages", "Where she lay before, and how it went."),
    "check": ("driftlead.cli.check:check", "Prove, before the night, that everything works."),
    "drill": ("driftlead.cli.drill:drill", "Wake everybody by a test alarm; see what arrives."),
    "record": ("driftlead.cli.record:record", "Record what the sources say, without a watch."),
    "replay": ("driftlead.cli.replay:replay", "Keep the watch of a recorded night again."),
    "simulate": ("driftlead.cli.simulate:simulate", "Make a synthetic night, its truth known."),
    "tune": ("driftlead.cli.tune:tune", "Try settings on your own recorded nights."),
}


class ShownError(click.ClickException):
    """An error of ours as the person at the terminal sees it: what is wrong, then the remedy."""

    exit_code = 1

    def __init__(self, error: DriftleadError) -> None:
        super().__init__(error.message)
        self._error = error

    def show(self, file: Any = None) -> None:
        """Write it to the standard error."""
        error = self._error
        problems = error.problems if isinstance(error, ConfigError) else ()
        # Each problem of a configuration brings its own remedy.
        lines = problems or (error.message, *([error.remedy] if error.remedy else ()))
        for line in lines:
            click.echo(line, err=file is None, file=file)


class ShownInputError(ShownError):
    """The same for what was typed or written wrongly, with the exit code click has for that."""

    exit_code = 2


class Verbs(click.Group):
    """The group that knows its verbs without loading them."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Give the verbs in the order of a night at anchor."""
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Load a verb."""
        if cmd_name not in VERBS:
            return None
        module, _, name = VERBS[cmd_name][0].partition(":")
        command: click.Command = getattr(importlib.import_module(module), name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List them without loading any."""
        with formatter.section("Verbs"):
            formatter.write_dl([(verb, text) for verb, (_, text) in VERBS.items()])

    def invoke(self, ctx: click.Context) -> Any:
        """Run a verb, and show an error of ours as a person should see it."""
        try:
            return super().invoke(ctx)
        except (UserInputError, ConfigError) as error:
            raise ShownInputError(error) from error
        except DriftleadError as error:
            raise ShownError(error) from error


@click.group(
    cls=Verbs,
    context_settings={"help_option_names": ["-h", "--help"]},
    subcommand_metavar="VERB ...",
)
@click.version_option(__version__, message="driftlead %(version)s")
def main() -> None:
    """An anchor watch that needs no network.

    Say let-go when the anchor touches bottom, veer when the rode is out, and weigh when it comes
    up. In between driftlead watches the anchor and wakes you when it drags, or when it can no
    longer tell.

    It assists and never replaces a look-out (COLREG Rule 5). The skipper decides.
    """


if __name__ == "__main__":
    main()
