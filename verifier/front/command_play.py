"""``duskproof play``: the page to write, prove, try and learn on."""

from __future__ import annotations

import contextlib
import secrets
import webbrowser
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from verifier.front.console import Duration, say, tell, years_from_now

if TYPE_CHECKING:
    from socket import socket as Socket  # noqa: N812

    from verifier.front.folder import Reading
    from verifier.front.play.server import House


@click.command("play")
@click.argument("folder", required=False, metavar="[FOLDER]")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    help="Listen at this port (0: any free one; usually 3875 if it is free).",
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--classroom", is_flag=True, help="Let others in the local network open the page, too."
)
@click.option("--time-limit", type=Duration(), help="Longest time for one requirement.")
@click.option(
    "--lessons",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    metavar="DIR",
    help="Lessons of your own: a folder for each, with a lesson.md.",
)
def command(
    folder: str | None,
    port: int | None,
    no_browser: bool,
    classroom: bool,
    time_limit: Fraction | None,
    lessons: Path | None,
) -> int:
    """Open a page on which rules are written, proved and tried by hand.

    The page shows the job of the FOLDER (without one, a small first job). What is changed there
    stays in the page: no file of the FOLDER is written. Only this machine can open it, and nothing
    is fetched from elsewhere; with --classroom everybody in the local network who knows the
    address can, each with a text of their own. Ctrl-C ends it.

    \b
    duskproof play specs/boathouse
    """
    try:
        from verifier.front.play.serving import address_in_the_network, bound, usually_bound
    except ImportError as missing:
        say(_missing(missing))
        return 2
    from verifier.front.play.first import first_job

    reading = first_job() if folder is None else _read(folder)
    if reading.diagnostics:
        from verifier.pipeline import Result

        result = Result(reading.name, reading.sources, None, (), (), reading.diagnostics)
        return tell((result,), "text", False)
    try:
        listening = usually_bound(classroom) if port is None else bound(port, classroom)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        say(
            f"error: nothing can listen at port {port}: {why}  [port-not-free]\n"
            "  do: Give another one, or leave --port out: then any free one is taken."
        )
        return 2
    with listening:
        port = int(listening.getsockname()[1])
        network = address_in_the_network() if classroom else ""
        house = house_of(reading, port, network, classroom, time_limit, lessons)
        return _serve(house, listening, network, no_browser)


def _serve(house: House, listening: Socket, network: str, no_browser: bool) -> int:
    """Serves the page until it is interrupted."""
    from verifier.front.play.serving import server_of

    port = int(listening.getsockname()[1])
    own = f"http://127.0.0.1:{port}/{house.token}/"
    others = f"http://{network}:{port}/{house.token}/" if network else ""

    def begun() -> None:
        say(_open_at(own, others, house.classroom))
        if not no_browser:
            webbrowser.open(own)

    with contextlib.suppress(KeyboardInterrupt):
        server_of(house, begun).run(sockets=[listening])
    say("The page is closed.")
    return 0


def house_of(
    reading: Reading,
    port: int,
    network: str,
    classroom: bool,
    time_limit: Fraction | None,
    lessons: Path | None,
) -> House:
    """What is served for a job that was read."""
    from verifier.front.keeping import keeping
    from verifier.front.play.limits import ALONE, CLASSROOM
    from verifier.front.play.orders import Setup
    from verifier.front.play.server import House
    from verifier.front.play.serving import hosts
    from verifier.language.highlighting import words

    limits = CLASSROOM if classroom else ALONE
    if time_limit is not None:
        seconds = float(time_limit)
        limits = replace(limits, requirement_s=seconds, judged_s=max(limits.judged_s, 3 * seconds))
    return House(
        token=secrets.token_urlsafe(18),
        hosts=hosts(port, network),
        setup=Setup(
            reading.name,
            limits,
            years_from_now(),
            keeping(),
            "" if lessons is None else str(lessons.resolve()),
        ),
        files=tuple((file.name, file.text) for file in reading.sources.files),
        words=words(),
        classroom=classroom,
    )


def _read(folder: str) -> Reading:
    from verifier.front.folder import read_folder

    return read_folder(folder)


def _open_at(own: str, others: str, classroom: bool) -> str:
    """What is said when the page can be opened."""
    lines = [f"Open {own}"]
    if classroom and others:
        lines += [
            f"Learners open {others}",
            "Everybody in the local network who knows this address can open the page, and have this",
            "machine check and prove what they write; nothing is encrypted on the way. Each page is",
            "on its own. Use it in a network that you trust, and end it after the lesson.",
        ]
    elif classroom:
        lines.append("This machine is in no network: nobody else can open the page.")
    lines.append("Ctrl-C ends it.")
    return "\n".join(lines)


def _missing(missing: ImportError) -> str:
    return (
        f"error: the page needs a library that is not there: {missing.name}  [library-missing]\n"
        '  do: Install it with the tool: pip install "duskproof[play]" '
        '(in a clone: pip install -e ".[play]")'
    )
