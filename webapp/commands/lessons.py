"""``step-in-hand lessons``: the two approaches and the two brakes, worked out again."""

from __future__ import annotations

import click

from webapp.pages.lessons import kept, show, work


@click.command("lessons")
@click.option("--write", is_flag=True, help="Keep the figures for the page of the server.")
def lessons_command(write: bool) -> None:
    """Work out the two lessons and the two brakes and print them as tables."""
    found = work.run()
    for line in show.lines(found):
        click.echo(line)
    if write:
        kept.write(found)
        click.echo(f"Written to {kept.STORED}.")
