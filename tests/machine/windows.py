"""What befalls the tablet's windows, whatever a machine is about: opened, killed, held up."""

from __future__ import annotations

from typing import Any, ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule

from tests.machine.depot import Answer
from tests.machine.tablet import Tablet

pick = st.integers(0, 1_000)


class WindowsMachine(RuleBasedStateMachine):
    """Give `tablet` in a subclass; `seen` counts what the rules came upon."""

    tablet: ClassVar[Tablet]
    seen: ClassVar[dict[str, int]]
    state: dict[str, Any]
    count: int

    def tell(self, cmd: str, **how: Any) -> None:
        """Have the tablet do one thing, and look at how all stands then."""
        raise NotImplementedError

    @rule(tab=pick, after=st.integers(1, 14), what=st.sampled_from(["kill", "hold", "fail"]))
    def plan(self, tab: int, after: int, what: str) -> None:
        """At the nth step from now the window dies, stands still, or its storage fails."""
        self.tell("plan", tab=self.a_tab(tab), what=what, after=after)

    @rule(tab=pick)
    def kill_tab(self, tab: int) -> None:
        self.tell("kill", tab=self.a_tab(tab))

    @rule()
    def open_tab(self) -> None:
        if len(self.state["tabs"]) < 3:
            self.new_tab()

    @precondition(lambda self: self.state.get("held"))
    @rule(which=pick)
    def release(self, which: int) -> None:
        held = self.state["held"]
        self.tell("release", tab=held[which % len(held)])

    # How the rules do it

    def tag(self) -> str:
        self.count += 1
        return f"tag {self.count}"

    def a_tab(self, which: int) -> int:
        """A window that can do something; a held one is asked too, and waits."""
        tabs: list[int] = self.state["tabs"]
        return tabs[which % len(tabs)] if tabs else self.new_tab()

    def new_tab(self) -> int:
        self.count += 1
        self.tell("open", tab=self.count)
        return self.count

    def waiting(self) -> list[int]:
        waiting: list[int] = self.state.get("waiting", [])
        return waiting

    def give(self, n: int, answer: Answer | None, error: str = "dead") -> None:
        self.tell("answer", n=n, answer=answer, error=error)

    def note(self, what: str) -> None:
        self.seen[what] = self.seen.get(what, 0) + 1
