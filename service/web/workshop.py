"""What one application answers from: settings, refused at start where they cannot be used, data, and lookups."""

from __future__ import annotations

import logging
import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from pathlib import Path

from flask import current_app

from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.errors import BadReferenceData, BadSetting, did_you_mean, quoted
from service.lookups.examination import examined, offered, registered
from service.web.responses import BytesCache

TRUE = ("1", "true", "yes", "on")
FALSE = ("", "0", "false", "no", "off")
MOST_PROXIES = 8
LAST_PORT = 65535
ADDRESS = re.compile(
    r"(?i:https?)://(?:[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?|\[[0-9A-Fa-f:]+\])(?::([0-9]{1,5}))?(?:/[A-Za-z0-9._~/-]*)?"
)
"""Scheme, host and path, on one line."""
ORIGIN = re.compile(r"'self'|\*|https?:|(?:https?://)?(?:\*\.)?[A-Za-z0-9.-]+(?::(?:[0-9]{1,5}|\*))?")
"""A source of ``frame-ancestors``: an origin, a scheme, everyone, or the service itself."""


@dataclass(frozen=True)
class Configuration:
    """How a service runs; every field may be set by the environment variable of the same name.

    Parameters
    ----------
    SERVICE_REFERENCE_DATA : str
        Folder of data packages laid over the shipped ones; empty for none.
    SERVICE_PUBLIC_URL : str
        Scheme, host and path under which users reach the service; empty to take each request's own.
    SERVICE_FRAME_ANCESTORS : str
        Origins that may frame cards, separated by spaces; empty for none.
    SERVICE_METRICS : str
        ``on`` serves ``/metrics``.
    SERVICE_LOG_QUERIES : str
        ``on`` logs questions; off, only paths.
    SERVICE_TRUSTED_PROXIES : str
        Number of proxies whose forwarding headers are believed.
    """

    SERVICE_REFERENCE_DATA: str = ""
    SERVICE_PUBLIC_URL: str = ""
    SERVICE_FRAME_ANCESTORS: str = ""
    SERVICE_METRICS: str = ""
    SERVICE_LOG_QUERIES: str = ""
    SERVICE_TRUSTED_PROXIES: str = "0"

    @classmethod
    def read(cls, given: Mapping[str, object] | None = None) -> Configuration:
        """Return the configuration: given values first, then the environment, then the defaults.

        Parameters
        ----------
        given : mapping, optional
            Values by field name.

        Raises
        ------
        BadSetting
            For a ``SERVICE_`` name that does not exist, or a value that cannot be used.
        """
        names = [item.name for item in fields(cls)]
        chosen = {name: text for name, text in os.environ.items() if name.startswith("SERVICE_")}
        chosen |= {name: str(value) for name, value in (given or {}).items() if name.startswith("SERVICE_")}
        for name in chosen:
            if name not in names:
                known = f"{did_you_mean(name, names)}; there are {', '.join(names)}"
                raise BadSetting(f"There is no setting {quoted(name)}{known}.")
        for name, check in CHECKS.items():
            reason = check(chosen.get(name, ""))
            if reason:
                raise BadSetting(f"{name}='{quoted(chosen[name])}' {reason}.")
        return cls(**{name: text.strip() for name, text in chosen.items()})

    @property
    def overlay(self) -> Path | None:
        """The overlay folder, if there is one."""
        return Path(self.SERVICE_REFERENCE_DATA) if self.SERVICE_REFERENCE_DATA else None

    @property
    def public_url(self) -> str:
        """Scheme, host and path under which users reach the service, without a final slash; empty where not set."""
        return self.SERVICE_PUBLIC_URL.rstrip("/")

    @property
    def metrics(self) -> bool:
        """Whether metrics are served."""
        return self.SERVICE_METRICS.lower() in TRUE

    @property
    def log_queries(self) -> bool:
        """Whether questions are logged."""
        return self.SERVICE_LOG_QUERIES.lower() in TRUE

    @property
    def proxies(self) -> int:
        """Number of trusted proxies."""
        return int(self.SERVICE_TRUSTED_PROXIES or "0")

    @property
    def frame_ancestors(self) -> str:
        """Value for the ``frame-ancestors`` directive of what may be framed."""
        return " ".join(self.SERVICE_FRAME_ANCESTORS.split()) or "'none'"


def _switch(text: str) -> str:
    return "" if text.strip().lower() in TRUE + FALSE else "is neither on nor off"


def _address(text: str) -> str:
    found = ADDRESS.fullmatch(text.strip())
    sound = found is not None and int(found[1] or 0) <= LAST_PORT and ".." not in text
    return "" if not text.strip() or sound else "must be like https://hv.example.org or https://example.org/path"


def _origins(text: str) -> str:
    if text.split() == ["'none'"]:
        return ""
    wrong = [one for one in text.split() if not ORIGIN.fullmatch(one)]
    return f"holds '{quoted(wrong[0])}', which is no origin such as https://wiki.example.org" if wrong else ""


def _few(text: str) -> str:
    small = re.fullmatch(r"[0-9]?", text.strip(), re.ASCII) and int(text.strip() or "0") <= MOST_PROXIES
    return "" if small else f"must be a whole number from 0 to {MOST_PROXIES}"


CHECKS: Mapping[str, Callable[[str], str]] = {
    "SERVICE_PUBLIC_URL": _address,
    "SERVICE_FRAME_ANCESTORS": _origins,
    "SERVICE_METRICS": _switch,
    "SERVICE_LOG_QUERIES": _switch,
    "SERVICE_TRUSTED_PROXIES": _few,
}
"""What is wrong with the text of a setting; empty where it can be used."""


@dataclass
class Workshop:
    """What one application answers from: configuration, registry, lookups, and the cache of finished bytes."""

    configuration: Configuration
    cache: BytesCache = field(default_factory=BytesCache)
    fault: BadReferenceData | None = None
    loaded: Registry | None = None

    def load(self) -> None:
        """Load the reference data; a fault is kept and answered with 503 until the process is started anew.

        The shipped data were examined when they were made; what is laid over them is examined here.
        """
        overlay = self.configuration.overlay
        try:
            if overlay is None:
                self.loaded = registered()
                self.__dict__["lookups"] = offered(self.loaded)
            else:
                self.loaded, self.__dict__["lookups"] = examined(overlay)
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
        """Every lookup by key.

        Raises
        ------
        BadReferenceData
            When the data did not load, or a lookup cannot be made from them.
        """
        return offered(self.registry)


def workshop() -> Workshop:
    """Return what the current application answers from."""
    found: Workshop = current_app.extensions["workshop"]
    return found
