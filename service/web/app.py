"""The application factory."""

from __future__ import annotations

import gc
import sys
from collections.abc import Mapping
from functools import cache

from flask import Flask
from werkzeug.middleware.proxy_fix import ProxyFix

from service.web import (
    asking,
    body_routes,
    catalogue_routes,
    embedding,
    health,
    log,
    lookup_routes,
    pages,
    problems,
    profile_page,
    responses,
)
from service.web.responses import Repeated
from service.web.workshop import Configuration, Workshop

BODY_LIMIT = 8 * 1024 * 1024
"""Largest body [bytes]; a batch of 100 000 points in several columns fits, and a sheet has less."""
SHORT_TURN = 3e-4
"""Time after which a thread that computes gives way to one that waits [s]: a small question asks for ten such turns."""


def create_app(config: Mapping[str, object] | None = None) -> Flask:
    """Return an application with its own reference data, lookups and cache.

    Parameters
    ----------
    config : mapping, optional
        ``SERVICE_`` settings, which win over the environment; any other key goes to Flask.

    Returns
    -------
    Flask

    Raises
    ------
    BadSetting
        For a setting that does not exist or cannot be used.
    """
    app = Flask("service.web", static_folder="static", template_folder="templates")
    app.json.sort_keys = False  # type: ignore[attr-defined]  # the default provider has it
    app.config["MAX_CONTENT_LENGTH"] = BODY_LIMIT
    app.config.update({key: value for key, value in (config or {}).items() if not key.startswith("SERVICE_")})
    configuration = Configuration.read({k: v for k, v in (config or {}).items() if k.startswith("SERVICE_")})
    workshop = app.extensions["workshop"] = Workshop(configuration)
    workshop.load()
    sys.setswitchinterval(SHORT_TURN)
    _settle()
    asking.prepare(app.url_map)
    problems.register(app, pages.for_people)
    responses.register(app)
    for module in (health, body_routes, catalogue_routes, lookup_routes, pages, profile_page, embedding):
        app.register_blueprint(module.blueprint)
    count = None
    if configuration.metrics:
        from service.web import metrics  # prometheus_client belongs to the extra "serve"

        count = metrics.count
        metrics.count_warnings()
    behind = problems.OneHost(Repeated(lookup_routes.Directly(problems.SoundBodies(app.wsgi_app), workshop)))
    app.wsgi_app = log.Observed(behind, names_of(app), configuration.log_queries, count)  # type: ignore[method-assign]  # WSGI, as Flask has it
    if configuration.proxies:
        proxies = configuration.proxies
        app.wsgi_app = ProxyFix(app.wsgi_app, proxies, proxies, proxies, 0, proxies)  # type: ignore[method-assign]  # WSGI, as Flask has it
    return app


@cache
def _settle() -> None:
    """Leave out of later collections what was loaded: each would look through all of it, and hold every thread, 40 ms.

    Once in a process: what a further application leaves behind is collected.
    """
    gc.collect()
    gc.freeze()


def names_of(app: Flask) -> frozenset[str]:
    """Return the names under which requests are logged and counted: lookups, and first segments of the other routes."""
    shop: Workshop = app.extensions["workshop"]
    segments = (rule.rule.strip("/").split("/") for rule in app.url_map.iter_rules())
    fixed = {parts[1] if parts[0] == "v1" and len(parts) > 1 else parts[0] for parts in segments}
    return frozenset(shop.lookups if shop.loaded is not None else ()) | {name for name in fixed if "<" not in name}
