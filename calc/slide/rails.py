"""What the rail gives under each wheelset."""

from __future__ import annotations

import numpy as np

from .model import Floats, Ints, Rail, SlideTrain


class RailReader:
    """Reads the adhesion under wheelsets, one batch of runs at a time."""

    def __init__(self, train: SlideTrain, rail: Rail) -> None:
        self.train = train
        self.rail = rail
        self.cells = rail.adhesion.shape[1]
        self._flat = np.ascontiguousarray(rail.adhesion).ravel()
        self._kept = np.power(1.0 - train.cleaning, np.arange(train.wheelsets))
        self._row = (rail.row * self.cells)[:, None]

    def take(self, where: Ints) -> RailReader:
        """Return a reader of some of the runs."""
        return RailReader(self.train, self.rail.take(where))

    def adhesion(self, front: Floats, speed: Floats) -> Floats:
        """Return the adhesion under each wheelset, sand left out. [-].

        One column serves all wheelsets where the rail is even.
        """
        factor = self._factors(speed)
        places = front[:, None] - self.train.offsets
        mu = self._cells(places) * factor[self.rail.shape, np.arange(front.size)][:, None]
        for part in self.rail.patches:
            own = part.adhesion * factor[part.shape, np.arange(front.size)]
            if not np.any((places[:, -1] < part.end) & (places[:, 0] >= part.begin)):
                continue
            on = (places >= part.begin[:, None]) & (places < part.end[:, None])
            mu = np.where(on, np.minimum(mu, own[:, None]), mu)
        if self.train.cleaning > 0:
            clean = np.maximum(self.train.clean_adhesion, mu)
            mu = clean - (clean - mu) * self._kept
        return np.asarray(mu)

    def _cells(self, places: Floats) -> Floats:
        if self.cells == 1:
            return np.asarray(self._flat[self._row])
        scaled = (places - self.rail.origin) * (1.0 / self.rail.spacing)
        np.clip(scaled, 0.0, self.cells - 1, out=scaled)
        index = scaled.astype(np.intp)
        index += self._row
        return np.asarray(self._flat.take(index))

    def _factors(self, speed: Floats) -> Floats:
        """Return the factor by speed of every shape, (shapes, runs)."""
        return np.stack([np.interp(speed, at, factor) for at, factor in self.rail.shapes])
