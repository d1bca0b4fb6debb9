"""Which steps a learner may be asked about before they are told: the rule that keeps what can hurt out of it.

What can hurt is always told, never left to a guess. So nothing is asked first at a step that carries a
caution of any level, at a hold point, or at a step whose answer is critical (it is read back). A torque is
read back too, but its target is always told between the guess and the wrench, so it may be asked. And
nothing is asked in a section in which a DANGER or WARNING is told, because its hazard may still be there:
only the procedure can say that it is over ("predict: true", or a question of its own).
"""

from __future__ import annotations

from collections.abc import Iterable

from sayso.procedure.model import AskTorque, AskWitness, Step


def why_never(step: Step) -> str:
    """Why this step may never be asked about first, whatever the procedure says; empty when it may."""
    if step.cautions:
        return "it carries a caution"
    if isinstance(step.ask, AskWitness):
        return "it is a hold point"
    if step.ask.read_back and not isinstance(step.ask, AskTorque):
        return "its answer is critical (it is read back)"
    return ""


def hazardous_sections(steps: Iterable[Step]) -> frozenset[str]:
    """Sections with a DANGER or WARNING in them. Steps without a section are one section, named ''."""
    return frozenset(
        step.section
        for step in steps
        if any(caution.level.needs_acknowledgement for caution in step.cautions)
    )


def may_be_asked_first(step: Step, hazardous: frozenset[str]) -> bool:
    """`hazardous`: the procedure's `hazardous_sections`."""
    if step.ask_first == "no" or why_never(step):
        return False
    return step.ask_first == "yes" or step.section not in hazardous
