"""The registry: the reference tables in use, and the arrangements built from them."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from service import __version__
from service.answers.cautions import GASES
from service.electrodes import discover
from service.errors import BadReferenceData, UnknownName
from service.methods import Arrangement, Method
from service.reference import Reference, load

Kept = TypeVar("Kept")

MOST_KEPT = 512
"""Things of a kind that are kept, curves of a situation some 20 kB each; most questions are asked in the same few."""


@dataclass(frozen=True)
class Registry:
    """What every lookup answers from."""

    reference: Reference
    arrangements: Mapping[str, Arrangement] = field(repr=False)

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
        return cls.of(load(overlay))

    @classmethod
    def of(cls, reference: Reference) -> Registry:
        """Return a registry on reference data that were read.

        Raises
        ------
        BadReferenceData
            When no arrangement can be made from them, or a gas has a caution that is not there.
        """
        gases = reference.table("gases")
        for place, keys in enumerate(gases.text("cautions")):
            for key in keys.split():
                if key not in GASES:
                    reason = f"cautions has '{key}'; there are {', '.join(GASES)}"
                    raise BadReferenceData(gases.file, place + 2, reason, "cautions")
        return cls(reference, discover(reference))

    @cached_property
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
    def plates(self) -> Arrangement:
        """The arrangement whose field is uniform."""
        return next(one for one in self.arrangements.values() if one.uniform)

    @cached_property
    def shapeless(self) -> Arrangement:
        """The arrangement that stands for electrodes of any shape."""
        return next(one for one in self.arrangements.values() if one.shapeless)

    @cached_property
    def _kept(self) -> dict[str, dict[Hashable, Any]]:
        return {}

    def kept(self, kind: str, key: Hashable, make: Callable[[], Kept], most: int = MOST_KEPT) -> Kept:
        """Return what was made for a key of a kind, by this question or by an earlier one; of that kind so many."""
        found = self._kept.setdefault(kind, {})
        if key not in found:
            if len(found) >= most:
                found.clear()
            found[key] = make()
        made: Kept = found[key]
        return made

    def kept_curves(
        self, key: tuple[object, Hashable], make: Callable[[], Kept], kind: str = "curves", most: int = MOST_KEPT
    ) -> Kept:
        """Return the curves of a situation, which do not depend on the voltage that is asked for."""
        situation, only = key
        # the situation is held, so that its id stays its own
        return self.kept(kind, (id(situation), only), lambda: (situation, make()), most)[1]

    @cached_property
    def around(self) -> frozenset[str]:
        """Names of the parameters that make a situation."""
        air = "gas fraction conditioned pressure altitude sea_level_pressure temperature relative_humidity"
        air = f"{air} absolute_humidity dew_point"
        wave = "electrodes waveform polarity frequency repetition_frequency"
        return self.size_names | set(air.split()) | set(wave.split())

    def gas_cautions(self, gas: str) -> tuple[str, ...]:
        """Return the keys of what a gas adds to the cautions."""
        return tuple(self.gas_column("cautions")[gas].split())

    def gas_column(self, name: str) -> Mapping[str, str]:
        """Return a column of the table of gases by gas key."""

        def column() -> Mapping[str, str]:
            table = self.reference.table("gases")
            return dict(zip(table.text("key"), table.text(name), strict=True))

        return self.kept("gas columns", name, column)

    @cached_property
    def methods(self) -> Mapping[str, Method]:
        """Every method of every arrangement, by key."""
        return {method.key: method for item in self.arrangements.values() for method in item.methods}

    @cached_property
    def sizes_of_gap(self) -> tuple[tuple[str, ...], ...]:
        """Sets of sizes that leave a gap, of arrangements whose gap follows from them."""
        sized = (one for one in self.arrangements.values() if one.gap_from is not None)
        return tuple(dict.fromkeys(tuple(p.name for p in one.parameters if p.dimension == "length") for one in sized))

    @cached_property
    def size_names(self) -> frozenset[str]:
        """Names of every size and option of every arrangement."""
        return frozenset(p.name for item in self.arrangements.values() for p in item.parameters)
