"""The site folder is said in the same ways to every command, whoever wrote it.

`--site FOLDER` stands behind a command or behind the group that it is in; the nearer one counts. A command that is
about the whole site, and so takes no other words, takes the folder as its only word too.
"""

from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand, TyperGroup

HERE = Path()
SiteOption = Annotated[
    Path,
    typer.Option(
        "--site",
        help="The site folder, the one with site.toml in it.",
        envvar="CLUTCHWARDEN_SITE",
        show_default="this folder",
    ),
]
_GIVEN = "clutchwarden.site"


class SiteCommand(TyperCommand):
    """A command that may have a site folder."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Take the folder from wherever it was said."""
        option = _site_of(self)
        if option is None:
            return super().parse_args(ctx, args)
        words, is_said = _read(self, ctx, args)
        is_word = len(words) == 1 and not is_said and self._takes_word(option)
        if is_word:
            args = ["--site", words[0], *args]
        elif _GIVEN in ctx.meta and not is_said:
            args = ["--site", ctx.meta[_GIVEN], *args]
        ctx.allow_extra_args = is_word
        super().parse_args(ctx, args)
        ctx.args = []
        return []

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """Show the word in the line of usage."""
        option = _site_of(self)
        pieces: list[str] = super().collect_usage_pieces(ctx)
        return [*pieces, "[SITE]"] if option is not None and self._takes_word(option) else pieces

    def _takes_word(self, option: Any) -> bool:
        return option.name == "site" and all(each.param_type_name == "option" for each in self.params)


class SiteGroup(TyperGroup):
    """A group whose `--site` holds for the command that follows."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Keep the folder for the command; a group that does something by itself takes it as its only word too."""
        if _site_of(self) is None:
            return super().parse_args(ctx, args)
        words, is_said = _read(self, ctx, args)
        if self.invoke_without_command and not is_said and len(words) == 1 and self._is_folder(words[0]):
            args = [*args[:-1], "--site", args[-1]]
        rest: list[str] = super().parse_args(ctx, args)
        if is_said:
            ctx.meta[_GIVEN] = str(ctx.params["site"])
        return rest

    def _is_folder(self, word: str) -> bool:
        # No command has a / in its name: a folder that is not there is to be told as that.
        return word not in self.commands and ("/" in word or Path(word).is_dir() or word == "site.toml")


def everywhere(app: typer.Typer) -> None:
    """Let all commands and groups of this one take the site folder in these ways."""
    for command in app.registered_commands:
        if command.cls is TyperCommand:
            command.cls = SiteCommand
    for group in app.registered_groups:
        if group.typer_instance is not None:
            everywhere(group.typer_instance)
    if not isinstance(app.info.cls, type):
        app.info.cls = SiteGroup
        if app.registered_callback is None:
            app.callback()(_with_site)


def _with_site(site: SiteOption = HERE) -> None:
    del site


def _site_of(command: Any) -> Any | None:
    return next((each for each in command.params if "--site" in each.opts), None)


def _read(command: Any, ctx: Any, args: list[str]) -> tuple[list[str], bool]:
    """Give the words beside the options, and whether the folder is among the options; nothing is done by this."""
    _, words, order = command.make_parser(ctx).parse_args(args=list(args))
    return words, any("--site" in each.opts for each in order)
