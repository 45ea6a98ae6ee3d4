"""`preview`: the built site in a browser on this machine, for this machine alone."""

from __future__ import annotations

from pathlib import Path

import click

from passport.office import desk
from passport.problems import Place, Problem


@click.command()
@click.option("--port", type=click.IntRange(1, 65535), default=8017, show_default=True, help="Where to listen.")
@desk.folder_option
def command(port: int, folder: Path) -> None:
    """Serve site/ on this machine alone, until you press Ctrl-C.

    \b
    Example:
      passport preview
      passport preview --port 9000
    """
    from passport.preview import serve  # noqa: PLC0415

    site = folder.resolve() / "site"
    if not site.is_dir():
        hint = "build it first: passport publish"
        desk.stop([Problem(code="no-site", message="met no built site, wanted site/", place=Place("site"), hint=hint)])
    with desk.refusals():
        desk.say(f"http://localhost:{port}/   (Ctrl-C ends it)")
        try:
            serve(site, port)
        except KeyboardInterrupt:
            desk.say("")
