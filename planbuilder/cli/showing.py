"""Commands that show plans to others: a site, a message, a server."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from planbuilder.cli.options import (
    FOLDER,
    Whole,
    json_option,
    moment,
    now_in,
    today_option,
)
from planbuilder.cli.terminal import (
    aside,
    open_block,
    say,
    tell_of_health,
    tell_of_nights,
    tell_of_what_is_passed_over,
)
from planbuilder.units import count_of

if TYPE_CHECKING:
    pass


@click.command()
@click.argument("block", type=FOLDER)
@click.option("--to", "site", type=FOLDER, required=True, help="Folder for the site.")
@click.option(
    "--base-url", required=True, help="Where that folder will stand, such as https://example.org/run."
)
@click.option(
    "--renew", multiple=True, metavar="NAME", help="Give this runner (or board, coach) a new address."
)
@json_option
@today_option
def publish(block: Path, site: Path, base_url: str, renew: tuple[str, ...], as_json: bool) -> None:
    """Write a site with a private address for each runner.

    It is a folder of files for any web host.
    """
    from planbuilder import delivery
    from planbuilder.outputs import json_files, terminal

    read = open_block(block)
    report = delivery.publish_block(
        read, site=site, base_url=base_url, now=now_in(read.settings.race.timezone), renew=renew
    )
    for warning in report.warnings:
        aside(warning)
    tell_of_nights(read)
    lines = [(address.name, address.page_url, address.feed_url) for address in report.addresses.values()]
    lines += [("the board", report.board_url, ""), ("the coach", report.coach_url, "")]
    if as_json:
        data = {"version": 1, "addresses": [{"name": n, "page": p, "feed": f} for n, p, f in lines]}
        say(json_files.to_text(data))
        return
    say(terminal.columns(("who", "page", "calendar"), lines))
    say(
        f"Wrote {count_of(len(report.written), 'file')} to {site}; "
        f"{count_of(len(report.changed), 'feed says', 'feeds say')} something new. "
        "Whoever knows an address can read what stands there."
    )


@click.command()
@click.argument("block", type=FOLDER)
@click.option("--why", "reason", default="", help="The reason in a few words, nothing about health.")
@click.option("--told", is_flag=True, help="Count what was sent so far as told: news begins here.")
@today_option
def changes(block: Path, reason: str, told: bool) -> None:
    """What changed since the last publish, as a message to paste.

    What `serve` has sent since then is news as well, until it is told.
    """
    from planbuilder import delivery

    read = open_block(block)
    why = {"": reason} if reason else {}
    tell_of_health(reason, "the whole squad reads it")
    say(delivery.changes_message(read, now=now_in(read.settings.race.timezone), why=why))
    tell_of_nights(read)
    if told:
        delivery.count_changes_as_told(read)


@click.command()
@click.argument("block", type=FOLDER)
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", type=Whole(1, 65535), default=8000, show_default=True, help="Port to listen on.")
@click.option("--base-url", default="", help="Public address of this server; by default host and port.")
@today_option
def serve(block: Path, host: str, port: int, base_url: str) -> None:
    """Serve the same site from here, made anew when the block changes."""
    from planbuilder import delivery

    tell_of_what_is_passed_over()
    fixed = click.get_current_context().meta.get("planbuilder.today")
    delivery.serve_block(
        block,
        host=host,
        port=port,
        base_url=base_url or f"http://{f'[{host}]' if ':' in host else host}:{port}",
        say=aside,
        clock=lambda: moment(fixed, "UTC"),
    )
