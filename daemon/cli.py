"""The command `clutchwarden`. Each command lives in a file of its own under `daemon/commands/`."""

import sys
from importlib.metadata import version
from typing import Annotated

import typer

from daemon.commands import (
    alarms,
    calibrate,
    check,
    clutch,
    contacts,
    demo,
    dew_point,
    duty,
    hatch,
    heat,
    import_,
    new,
    rounds,
    run,
    simulate,
    species,
    watch,
)

app = typer.Typer(
    name="clutchwarden",
    help="Watches shared incubators of reptile eggs. It tells; it is not a safety device: an independent "
    "over-temperature cut-out on the incubator protects.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)
app.command()(new.new)
app.command()(check.check)
app.command()(run.run)
app.command()(demo.demo)
app.command()(simulate.simulate)
app.command("dew-point")(dew_point.dew_point)
app.command()(heat.heat)
app.command()(hatch.hatch)
app.command()(watch.watch)
app.command("import")(import_.import_record)
app.add_typer(clutch.app, name="clutch")
app.add_typer(alarms.app, name="alarms")
app.add_typer(rounds.app, name="round")
app.add_typer(contacts.app, name="contacts")
app.add_typer(duty.app, name="duty")
app.add_typer(calibrate.app, name="calibrate")
app.add_typer(species.app, name="species")


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


def main() -> None:
    """Run a command; an error with a cause that a keeper can mend is a sentence and exit 2, not a traceback."""
    from config.errors import ConfigError
    from daemon.clutches.register import RegisterError
    from daemon.embedded import EmbeddedBrokerError
    from daemon.service import ServiceError
    from daemon.storage.journal import JournalError
    from dashboards.server import PageServerError

    known = (ConfigError, RegisterError, JournalError, EmbeddedBrokerError, ServiceError, PageServerError)
    try:
        app()
    except known as error:
        sys.exit(_say(error))


def _say(error: Exception) -> int:
    print(error, file=sys.stderr)
    return 2


if __name__ == "__main__":
    main()
