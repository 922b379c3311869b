"""The application factory."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from flask import Flask, current_app
from werkzeug.middleware.proxy_fix import ProxyFix

from service import lookups
from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.errors import BadReferenceData
from service.web import (
    asking,
    body_routes,
    catalogue_routes,
    health,
    log,
    lookup_routes,
    oembed,
    pages,
    problems,
    responses,
)
from service.web.cache import BytesCache, Finished
from service.web.configuration import Configuration

BODY_LIMIT = 32 * 1024 * 1024
"""Largest body [bytes]; a batch of 100 000 points in several columns fits."""


@dataclass
class Workshop:
    """What one application answers from: configuration, registry, lookups, and the cache of finished bytes.

    Parameters
    ----------
    configuration : Configuration
    """

    configuration: Configuration
    cache: BytesCache = field(default_factory=BytesCache)
    fault: BadReferenceData | None = None
    loaded: Registry | None = None

    def load(self) -> None:
        """Load the reference data; a fault is kept and answered with 503 until the process is started anew."""
        try:
            self.loaded = Registry.build(self.configuration.overlay)
        except BadReferenceData as error:
            self.fault = error
            logging.getLogger("service").error("reference data: %s", error.detail)

    @property
    def registry(self) -> Registry:
        """The registry.

        Raises
        ------
        BadReferenceData
            When the data did not load.
        """
        if self.loaded is None:
            assert self.fault is not None
            raise self.fault
        return self.loaded

    @cached_property
    def lookups(self) -> Mapping[str, Lookup]:
        """Every lookup by key."""
        return lookups.discover(self.registry)


def create_app(config: Mapping[str, Any] | None = None) -> Flask:
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
    UnknownName
        For a setting that does not exist.
    """
    app = Flask("service.web", static_folder="static", template_folder="templates")
    app.json.sort_keys = False  # type: ignore[attr-defined]  # the default provider has it
    app.config["MAX_CONTENT_LENGTH"] = BODY_LIMIT
    app.config.update({key: value for key, value in (config or {}).items() if not key.startswith("SERVICE_")})
    configuration = Configuration.read({k: v for k, v in (config or {}).items() if k.startswith("SERVICE_")})
    workshop = Workshop(configuration)
    workshop.load()
    app.extensions["workshop"] = workshop
    asking.prepare(app.url_map)
    problems.register(app)
    responses.register(app)
    for module in (health, body_routes, catalogue_routes, lookup_routes, pages, oembed):
        app.register_blueprint(module.blueprint)
    log.register(app, queries=configuration.log_queries)
    if configuration.metrics:
        from service.web import metrics  # prometheus_client belongs to the extra "serve"

        metrics.register(app)
    app.wsgi_app = Finished(app.wsgi_app)  # type: ignore[method-assign]
    if configuration.proxies:
        proxies = configuration.proxies
        app.wsgi_app = ProxyFix(app.wsgi_app, proxies, proxies, proxies, 0, proxies)  # type: ignore[method-assign]
    return app


def workshop() -> Workshop:
    """Return what the current application answers from."""
    found: Workshop = current_app.extensions["workshop"]
    return found
