"""What one application answers from, and how its routes reach it."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from flask import current_app

from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.errors import BadReferenceData
from service.lookups.examination import examined, offered, registered
from service.web.configuration import Configuration
from service.web.responses import BytesCache


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
