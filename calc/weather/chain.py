"""A line's own chain of rail states, and which of them the weather's words mean.

No code knows a state by name: which state is meant by "damp" is the company's choice.
"""

from __future__ import annotations

from dataclasses import dataclass

#: What weather can make of a rail, in the words used here.
CONDITIONS = ("dry", "wet", "damp", "frost", "leaf")


@dataclass(frozen=True)
class Chain:
    """Rail states, best first.

    Attributes
    ----------
    keys : tuple of str
        The states of the line's pack.
    pickable : tuple of bool
        Whether a driver may set off in each; the last never is.
    means : tuple of (str, str)
        For each of `CONDITIONS` the key of the state it stands for.

    Raises
    ------
    ValueError
        If a condition has no state, or stands for one that must not be picked.
    """

    keys: tuple[str, ...]
    pickable: tuple[bool, ...]
    means: tuple[tuple[str, str], ...]

    def __post_init__(self) -> None:
        """Refuse a chain on which a suggestion could not stand."""
        if len(self.keys) < 2 or len(self.keys) != len(self.pickable):
            raise ValueError("a chain needs at least two states, each pickable or not")
        if len(set(self.keys)) != len(self.keys):
            raise ValueError("a rail state stands twice in the chain")
        if self.pickable[-1] or not any(self.pickable):
            raise ValueError("the last rail state must not be pickable, another must be")
        meant = dict(self.means)
        for condition in CONDITIONS:
            if meant.get(condition) not in self.keys:
                raise ValueError(f"no rail state of the chain is named for '{condition}'")
        if not self.pickable[self.index("dry")]:
            raise ValueError("the state for 'dry' must be pickable")

    def index(self, condition: str) -> int:
        """Return the place in the chain of the state a condition stands for."""
        return self.keys.index(dict(self.means)[condition])

    @property
    def worst_pickable(self) -> int:
        """Place of the worst state that may be picked."""
        return max(i for i, may in enumerate(self.pickable) if may)

    def picked(self, index: int) -> int:
        """Return the nearest state that may be picked, worse before better."""
        worse = [i for i in range(index, len(self.keys)) if self.pickable[i]]
        return worse[0] if worse else self.worst_pickable
