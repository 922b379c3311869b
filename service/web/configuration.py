"""Configuration from the environment or from a mapping; unknown keys are refused."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from service.errors import UnknownName

TRUE = ("1", "true", "yes", "on")
FALSE = ("", "0", "false", "no", "off")


@dataclass(frozen=True)
class Configuration:
    """How a service runs; every field may be set by the environment variable of the same name.

    Parameters
    ----------
    SERVICE_REFERENCE_DATA : str
        Folder of data packages laid over the shipped ones; empty for none.
    SERVICE_PUBLIC_URL : str
        Scheme, host and path under which users reach the service, without a final slash; empty to take each
        request's own.
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
    def read(cls, given: Mapping[str, Any] | None = None) -> Configuration:
        """Return the configuration: given values first, then the environment, then the defaults.

        Parameters
        ----------
        given : mapping, optional
            Values by field name.

        Raises
        ------
        UnknownName
            For a ``SERVICE_`` name that does not exist.
        """
        names = [item.name for item in fields(cls)]
        chosen = {name: os.environ[name] for name in names if name in os.environ}
        for name, value in (given or {}).items():
            if name in names:
                chosen[name] = str(value)
            elif name.startswith("SERVICE_"):
                raise UnknownName.among("configuration", name, names)
        return cls(**chosen)

    @property
    def overlay(self) -> Path | None:
        """The overlay folder, if there is one."""
        return Path(self.SERVICE_REFERENCE_DATA) if self.SERVICE_REFERENCE_DATA else None

    @property
    def metrics(self) -> bool:
        """Whether metrics are served."""
        return switched_on("SERVICE_METRICS", self.SERVICE_METRICS)

    @property
    def log_queries(self) -> bool:
        """Whether questions are logged."""
        return switched_on("SERVICE_LOG_QUERIES", self.SERVICE_LOG_QUERIES)

    @property
    def proxies(self) -> int:
        """Number of trusted proxies."""
        return int(self.SERVICE_TRUSTED_PROXIES)

    @property
    def frame_ancestors(self) -> str:
        """Value for the ``frame-ancestors`` directive of what may be framed."""
        return self.SERVICE_FRAME_ANCESTORS.strip() or "'none'"


def switched_on(name: str, text: str) -> bool:
    """Return whether a switch is on.

    Raises
    ------
    UnknownName
        When the text is neither on nor off.
    """
    word = text.strip().lower()
    if word not in TRUE + FALSE:
        raise UnknownName.among(name, text, TRUE + FALSE)
    return word in TRUE
