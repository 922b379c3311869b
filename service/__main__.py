"""``python -m service``: serve, or answer one lookup in the terminal."""

from __future__ import annotations

import argparse
import logging
import sys
from collections.abc import Sequence

from waitress import create_server

from service import __version__
from service.web import create_app


def main(arguments: Sequence[str] | None = None) -> int:
    """Serve on an address, or answer one lookup without a server.

    Parameters
    ----------
    arguments : sequence of str, optional
        Command line; that of the process where none is given.

    Returns
    -------
    int
        Exit status: 0, or 1 where an asked question was refused.
    """
    given = _parser().parse_args(arguments)
    # in the terminal the answer stands alone; a server logs its requests
    level = logging.WARNING if given.command == "ask" else logging.INFO
    logging.basicConfig(level=level, format="%(levelname)s %(name)s: %(message)s", stream=sys.stderr)
    return ask(given.path) if given.command == "ask" else serve(given.host, given.port)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m service", description="Spark-gap and breakdown voltage reference.")
    parser.add_argument("--version", action="version", version=__version__)
    parser.add_argument("--host", default="127.0.0.1", help="address to serve on")
    parser.add_argument("--port", type=int, default=8000, help="port to serve on; 0 takes a free one")
    commands = parser.add_subparsers(dest="command")
    one = commands.add_parser("ask", help="answer one lookup in the terminal")
    one.add_argument("path", help="for example '/v1/breakdown?gap=8mm'")
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
    sys.stdout.buffer.write(response.data)
    sys.stdout.buffer.flush()
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
    server = create_server(
        app,
        host=host,
        port=port,
        threads=8,
        ident=None,
        max_request_body_size=64 * 1024 * 1024,
        # with trusted proxies the application judges forwarding headers; otherwise they never reach it
        clear_untrusted_proxy_headers=not app.extensions["workshop"].configuration.proxies,
    )
    bound = server.effective_port
    shown = f"[{host}]" if ":" in host else host
    print(f"ready: curl 'http://{shown}:{bound}/v1/breakdown?gap=8mm'", flush=True)  # noqa: T201  # the ready line
    try:
        server.run()
    except KeyboardInterrupt:
        server.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
