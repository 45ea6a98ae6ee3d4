"""The command line: few commands, each with the trade's verb. Thin: it reads, calls one stage, prints.

A command's module is imported only when that command runs, so that `--help` answers at once.
"""

from __future__ import annotations

import gc
import importlib
import sys

import click

from passport import __version__

COMMANDS = {
    "start": "Make a new folder with a small example that publishes at once.",
    "receive": "Take goods in: a sack gets its number, its record, its weight now or later.",
    "check": "Read all records and say what is wrong or doubtful.",
    "correct": "Set a published record right, beside the old value.",
    "run": "Record a run: what was drawn, what came out, what was lost, whether it adds up.",
    "make": "Record a batch of things that will get a tag each.",
    "stock": "Show what is left of every lot, of what, since when, where, free or held.",
    "masses": "Show the balances: every run, every lot's stock, the whole shop.",
    "trace": "Follow a lot, an item or a tag back to its streams and forward to its tags.",
    "identify": "Say what a piece or a lot is made of, and which test would settle it.",
    "blend": "Propose masses for a blend from the stock on hand.",
    "tag": "Issue tag numbers for the things of an item batch.",
    "handback": "Take things back: a new lot that knows from their passports what it is.",
    "mend": "Record a repair: the new part in, the old one out as a lot.",
    "event": "Record what happened to things or lots, one by one or from a table.",
    "import": "Take records over from a spreadsheet, all of it or nothing.",
    "export": "Write the records as tables for spreadsheets.",
    "recall": "Call material back, from a lot or stream to its tags; or end a recall.",
    "labels": "Print sheets of labels for the tags that have none yet.",
    "schema": "Say what records may hold, for editors and other programs.",
    "publish": "Build the site: a page and a label for each tag, and the material log.",
    "preview": "Look at the built site in a browser on this machine.",
    "deposit": "Pack everything into one file for the decades, verify such a file, take one over.",
}
"""Command → its line in the list. The module of the same name holds it, but for those below."""
MODULES = {"import": "importing", "export": "exporting"}
"""Commands whose name no module can have, or goes with one that has none."""


class _Later(click.Group):
    """A group that knows its commands by name and imports one when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"passport.commands.{MODULES.get(cmd_name, cmd_name)}")
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does, with the nearest command as a hint."""
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as slip:
            from passport.problems import did_you_mean  # noqa: PLC0415

            hint = did_you_mean(args[0], COMMANDS)
            raise click.UsageError(f"{slip.message} {hint}".strip(), ctx) from None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=_Later, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="passport")
def passport() -> None:
    """Passports for things made of reclaimed plastic.

    Weighed records in content/ become a page and a QR tag for each thing in site/. Stand in the
    workshop's folder, or name it with --folder.

    \b
    A first evening:
      passport start demo && cd demo
      passport check
      passport publish && passport preview
    """


def run() -> None:
    """Run the command line; records with problems end with 1, wrong usage with 2."""
    for stream in (sys.stdout, sys.stderr):
        # the words hold ±, – and ≥: a terminal with a poorer alphabet shows "?" instead of failing
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure:
            reconfigure(errors="replace")
    # records and what follows from them stay until the end: looking through them for garbage costs a fifth of the time
    gc.set_threshold(50_000, 20, 100)
    passport(prog_name="passport")
