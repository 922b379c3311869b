"""``python -m service``: serve, or answer one lookup in the terminal."""

from __future__ import annotations

import argparse
import logging
import signal
import sys
from collections.abc import Sequence
from contextlib import suppress

from waitress import create_server

from service import __version__
from service.errors import BadSetting, quoted
from service.web import create_app
from service.web.arrow_body import LARGEST
from service.web.log import to_stderr

BUFFER = 64 * 1024 * 1024
"""Bytes of a body or an answer that the server holds in memory; the application's own limits lie below."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Serve on an address, or answer one lookup without a server.

    Parameters
    ----------
    arguments : sequence of str, optional
        Command line; that of the process where none is given.

    Returns
    -------
    int
        Exit status: 0, 1 where an asked question was refused, or 2 where the service cannot start.
    """
    given = _parser().parse_args(arguments)
    # in the terminal the answer stands alone; a server logs its requests
    to_stderr(logging.WARNING if given.command == "ask" else logging.INFO)
    try:
        return ask(given.path) if given.command == "ask" else serve(given.host, given.port)
    except BadSetting as error:
        return _stopped(error.detail)


def _stopped(why: str) -> int:
    print(f"service: {why}", file=sys.stderr)  # noqa: T201  # one line in place of a traceback
    return 2


def _port(text: str) -> int:
    if not (text.isascii() and text.isdecimal()) or not 0 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"'{text[:32]}' is no port; it is a whole number from 0 to 65535")
    return int(text)


def _path(text: str) -> str:
    if not text.startswith(("/", "v1/", "http://", "https://")) or not text.isprintable():
        raise argparse.ArgumentTypeError("it begins with '/' and is one line, for example '/v1/breakdown?gap=8mm'")
    return text


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m service", description="Spark-gap and breakdown voltage reference.")
    parser.add_argument("--version", action="version", version=__version__)
    parser.add_argument("--host", default="127.0.0.1", help="address to serve on")
    parser.add_argument("--port", type=_port, default=8000, help="port to serve on; 0 takes a free one")
    commands = parser.add_subparsers(dest="command")
    one = commands.add_parser("ask", help="answer one lookup in the terminal")
    one.add_argument("path", type=_path, help="for example '/v1/breakdown?gap=8mm'")
    return parser


def ask(path: str) -> int:
    """Print the answer to one lookup: text, or the format of its suffix.

    Parameters
    ----------
    path : str
        Path and query, as in a URL.

    Returns
    -------
    int
        0 where it was answered, 1 where it was refused.
    """
    client = create_app().test_client()
    response = client.get(path, headers={"Accept": "text/plain, */*;q=0.5"})
    try:
        sys.stdout.buffer.write(response.data)
        sys.stdout.buffer.flush()
    except OSError as error:
        raise BadSetting(f"The answer cannot be written: {error.strerror or error}.") from error
    return 0 if response.status_code < 400 else 1


def serve(host: str, port: int) -> int:
    """Serve until interrupted; print one ready line with a request to copy.

    Parameters
    ----------
    host : str
        Address.
    port : int
        Port; 0 takes a free one.

    Returns
    -------
    int
        0 after an interrupt.
    """
    app = create_app()
    try:
        server = create_server(
            app,
            **listening(host, port),
            threads=8,
            ident=None,
            # idle connections are many (a wiki page holds several a reader) and must not keep others waiting
            connection_limit=1000,
            channel_timeout=15,
            cleanup_interval=5,
            max_request_body_size=LARGEST,
            # bodies and answers stay in memory: no folder for temporary files is needed but for long Arrow streams
            inbuf_overflow=BUFFER,
            outbuf_overflow=BUFFER,
            # with trusted proxies the application judges forwarding headers; otherwise they never reach it
            clear_untrusted_proxy_headers=not app.extensions["workshop"].configuration.proxies,
        )
    except ValueError as error:  # what waitress says of a name or an address that is none
        raise BadSetting(f"Cannot serve on '{quoted(host)}': it is no address of this machine.") from error
    except OSError as error:
        raise BadSetting(f"Cannot serve on {quoted(host)}, port {port}: {error.strerror or error}.") from error
    bound = getattr(server, "effective_port", None) or server.effective_listen[0][1]
    shown = "127.0.0.1" if host in ("*", "0.0.0.0") else f"[{'::1' if host == '::' else host}]" if ":" in host else host
    for ended in (signal.SIGTERM, signal.SIGHUP):  # a terminal that is closed drops nothing that is in flight either
        if signal.getsignal(ended) is not signal.SIG_IGN:  # nohup
            signal.signal(ended, _terminate)
    with suppress(OSError):  # whoever reads it may be gone already
        print(f"ready: curl 'http://{shown}:{bound}/v1/breakdown?gap=8mm'", flush=True)  # noqa: T201  # the ready line
    try:
        # leaves its loop at SystemExit or KeyboardInterrupt and lets its threads finish what is in flight
        server.run()
    finally:
        server.close()
    return 0


def listening(host: str, port: int) -> dict[str, object]:
    """Return where to listen: one address, or every address of the machine for ``*``."""
    return {"listen": f"*:{port}"} if host == "*" else {"host": host, "port": port}


def _terminate(*_: object) -> None:
    raise SystemExit(0)


if __name__ == "__main__":
    raise SystemExit(main())
