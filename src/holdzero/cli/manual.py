"""`holdzero manual`: the manual in a browser, out of the package."""

import webbrowser
from pathlib import Path

import click


@click.command("manual")
@click.argument("topic", required=False)
@click.option(
    "--folder",
    type=click.Path(path_type=Path, file_okay=False),
    help="Where its pages are written; by default beside the settings.",
)
@click.option("--no-browser", is_flag=True, help="Write the pages and print where they are; open nothing.")
@click.option("--list", "listed", is_flag=True, help="List the topics.")
def command(topic: str | None, folder: Path | None, no_browser: bool, listed: bool) -> None:
    """Open the manual in a browser; no server and no network is needed.

    TOPIC is a page of it, e.g. how-to, wiring, keys or glossary; --list names them all.
    """
    from holdzero import __version__
    from holdzero.cli import kept
    from holdzero.manual import topic_named, topics, written

    if listed:
        widest = max(len(page.slug) for page in topics())
        for page in topics():
            click.echo(f"{page.slug.ljust(widest)}  {page.title}")
        return
    page = topic_named(topic or "index")
    place = written(folder or kept.settings_file().parent / f"manual-{__version__}") / page.file
    click.echo(f"{page.title}: {place}")
    if not no_browser:
        webbrowser.open(place.resolve().as_uri())
