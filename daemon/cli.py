"""The command `clutchwarden`. Each command lives in a file of its own under `daemon/commands/`."""

import sys
from importlib.metadata import version
from typing import Annotated

import typer

from daemon.commands.late import LateGroup

app = typer.Typer(
    name="clutchwarden",
    cls=LateGroup,
    help="Watches shared incubators of reptile eggs. It tells; it is not a safety device: an independent "
    "over-temperature cut-out on the incubator protects.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)


def _show_version(wanted: bool) -> None:
    if wanted:
        print(f"clutchwarden {version('clutchwarden')}")
        raise typer.Exit


@app.callback()
def options(
    show_version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Hold what all commands share."""
    del show_version


_TOLD_APART = (
    ("config.errors", "ConfigError"),
    ("daemon.backups.errors", "BackupError"),
    ("daemon.clutches.errors", "RegisterError"),
    ("daemon.embedded", "EmbeddedBrokerError"),
    ("daemon.enrol_file", "EnrolError"),
    ("daemon.mirror.errors", "MirrorError"),
    ("daemon.only_one", "ServiceError"),
    ("daemon.storage.errors", "JournalError"),
    ("dashboards.server", "PageServerError"),
)
"""Errors that are told in a sentence, by name: no command loads the modules of all, and one not loaded raises none."""


def main() -> None:
    """Run a command; an error with a cause that a keeper can mend is a sentence and exit 2, not a traceback."""
    try:
        app()
    except Exception as error:
        known = tuple(getattr(sys.modules[module], name) for module, name in _TOLD_APART if module in sys.modules)
        if not isinstance(error, known):
            raise
        sys.exit(_say(error))


def _say(error: Exception) -> int:
    print(error, file=sys.stderr)
    return 2


if __name__ == "__main__":
    main()
