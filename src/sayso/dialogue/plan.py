"""What can be known of a procedure's ways before it is run: how far it is to the end, what can be reached."""

from __future__ import annotations

from dataclasses import dataclass, field

from sayso.dialogue.step_questions import Question, questions_of
from sayso.procedure.model import END, Procedure, Step


@dataclass(frozen=True)
class Plan:
    """Made once per job, so that no step pays for the length of the procedure."""

    #: steps from this one to the end, itself included, on the longest way that turns back at most once
    remaining: tuple[int, ...]
    #: false where a branch or a condition ahead may make the way shorter
    certain: tuple[bool, ...]
    #: targets of each step by position
    targets: tuple[tuple[int, ...], ...]
    #: by position: what may be asked of a learner before the step is told
    questions: tuple[tuple[Question, ...], ...] = ()
    #: positions of steps after which the job may end
    ends: frozenset[int] = frozenset()
    _reached: dict[tuple[int, int], frozenset[int]] = field(default_factory=dict, compare=False, repr=False)

    def ahead(self, position: int, left: int) -> frozenset[int]:
        """Positions that are come to from this one, itself included, on a way that does not return to the
        step `left` just now: what lies behind a loop back to it is decided by another answer there. Where
        every way to the end returns to it (a repair, then measure again) that counts too."""
        without = self._reachable(position, left)
        return without if without & self.ends else self._reachable(position, -1)

    def _reachable(self, position: int, never: int) -> frozenset[int]:
        """Worked out when first asked. `never` is not gone through, unless it is where one begins."""
        known = self._reached.get((position, never))
        if known is None:
            found = {position}
            open_ends = [position]
            while open_ends:
                for target in self.targets[open_ends.pop()]:
                    if target not in found and target != never:
                        found.add(target)
                        open_ends.append(target)
            known = self._reached[position, never] = frozenset(found)
        return known


def plan_of(procedure: Procedure) -> Plan:
    count = len(procedure.steps)
    targets = tuple(_targets(procedure, i) for i in range(count))
    remaining = [1] * count
    certain = [True] * count
    for i in reversed(range(count)):
        ahead = [t for t in targets[i] if t > i]
        if ahead:
            remaining[i] = 1 + max(remaining[t] for t in ahead)
        step = procedure.steps[i]
        certain[i] = not step.when and not step.then.cases and all(certain[t] for t in ahead)
    for i in range(count):
        # A step that only leads back (a repair, then measure again) is as far from the end as where it leads.
        if targets[i] and not any(t > i for t in targets[i]):
            remaining[i] = 1 + max(remaining[t] for t in targets[i])
    ends = frozenset(i for i in range(count) if _may_end(procedure, i))
    return Plan(tuple(remaining), tuple(certain), targets, questions_of(procedure), ends)


def _targets(procedure: Procedure, position: int) -> tuple[int, ...]:
    step = procedure.steps[position]
    found = {_position(procedure, name) for name in _named(step)}
    runs_on = not step.ends and step.then.otherwise is None
    if runs_on or step.when:
        found.add(position + 1)
    return tuple(sorted(i for i in found if i is not None and 0 <= i < len(procedure.steps)))


def _may_end(procedure: Procedure, position: int) -> bool:
    step = procedure.steps[position]
    is_last = position == len(procedure.steps) - 1
    return (
        bool(step.ends)
        or END in _named(step)
        or (is_last and (step.then.otherwise is None or bool(step.when)))
    )


def _named(step: Step) -> list[str]:
    names = [case.target for case in step.then.cases]
    if step.then.otherwise is not None:
        names.append(step.then.otherwise)
    if step.out_of_limits:
        names.append(step.out_of_limits)
    return names


def _position(procedure: Procedure, name: str) -> int | None:
    return None if name == END else procedure.position(name)
