"""Kinds of answer: the grammar of each, spoken words -> value, limits, how a value is said back.
Pure functions only. What this folder offers to others is what is imported here."""

from sayso.answers.answer import Answer as Answer
from sayso.answers.answer import Completeness as Completeness
from sayso.answers.answer import NotUnderstood as NotUnderstood
from sayso.answers.confirmation import Confirmation as Confirmation
from sayso.answers.confirmation import confirm as confirm
from sayso.answers.confirmation import confirmation_completeness as confirmation_completeness
from sayso.answers.confirmation import confirmation_phrases as confirmation_phrases
from sayso.answers.corrections import PHRASES as CORRECTION_PHRASES
from sayso.answers.corrections import begins_with_correction as begins_with_correction
from sayso.answers.corrections import is_correction as is_correction
from sayso.answers.corrections import is_unsure_correction as is_unsure_correction
from sayso.answers.corrections import split_correction as split_correction
from sayso.answers.kinds import choices as choices
from sayso.answers.kinds import completeness as completeness
from sayso.answers.kinds import confusable as confusable
from sayso.answers.kinds import deviation as deviation
from sayso.answers.kinds import echo as echo
from sayso.answers.kinds import offer as offer
from sayso.answers.kinds import phrases as phrases
from sayso.answers.kinds import read_back as read_back
from sayso.answers.kinds import spoken_value as spoken_value
from sayso.answers.kinds import understand as understand
from sayso.answers.torque import in_wrench_unit as torque_in_wrench_unit
from sayso.answers.torque import target as torque_target
from sayso.answers.torque import target_and_limits as torque_target_and_limits
from sayso.answers.vocabulary import vocabulary as vocabulary
from sayso.answers.yes_no import NO as NO_PHRASES
from sayso.answers.yes_no import YES as YES_PHRASES
from sayso.answers.yes_no import is_plain_yes as is_plain_yes
from sayso.answers.yes_no import yes_or_no as yes_or_no

__all__ = [
    "CORRECTION_PHRASES",
    "NO_PHRASES",
    "YES_PHRASES",
    "Answer",
    "Completeness",
    "Confirmation",
    "NotUnderstood",
    "begins_with_correction",
    "choices",
    "completeness",
    "confirm",
    "confirmation_completeness",
    "confirmation_phrases",
    "confusable",
    "deviation",
    "echo",
    "is_correction",
    "is_plain_yes",
    "is_unsure_correction",
    "offer",
    "phrases",
    "read_back",
    "split_correction",
    "spoken_value",
    "torque_in_wrench_unit",
    "torque_target",
    "torque_target_and_limits",
    "understand",
    "vocabulary",
    "yes_or_no",
]
