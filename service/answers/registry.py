"""The registry: the reference tables in use, and the arrangements built from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from service import __version__
from service.electrodes import Arrangement, Method, discover
from service.errors import UnknownName
from service.reference import Reference, load


@dataclass(frozen=True)
class Registry:
    """What every lookup answers from.

    Parameters
    ----------
    reference : Reference
        Tables in use.
    arrangements : mapping of str to Arrangement
        By key.
    """

    reference: Reference
    arrangements: Mapping[str, Arrangement]

    @classmethod
    def build(cls, overlay: Path | None = None) -> Registry:
        """Return a registry from the shipped data and an optional overlay folder.

        Parameters
        ----------
        overlay : Path, optional
            Folder of data packages laid over the shipped ones.

        Raises
        ------
        BadReferenceData
            When a package does not load.
        """
        reference = load(overlay)
        return cls(reference, discover(reference))

    @property
    def versions(self) -> dict[str, str]:
        """Versions of the service and of the data in use."""
        return {"service_version": __version__, "data_version": self.reference.version}

    def arrangement(self, key: str) -> Arrangement:
        """Return an arrangement by key.

        Raises
        ------
        UnknownName
            When there is none.
        """
        if key not in self.arrangements:
            raise UnknownName.among("electrodes", key, self.arrangements)
        return self.arrangements[key]

    @cached_property
    def methods(self) -> Mapping[str, Method]:
        """Every method of every arrangement, by key."""
        return {method.key: method for item in self.arrangements.values() for method in item.methods}

    @cached_property
    def size_names(self) -> frozenset[str]:
        """Names of every size and option of every arrangement."""
        return frozenset(p.name for item in self.arrangements.values() for p in item.parameters)
