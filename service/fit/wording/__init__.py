"""All sentences, rendered from the engine's data. Codes and numbers are the contract; the words may improve."""

from service.fit.wording.answers import answer_text, challenged_text, replaced_text, ruled_out_text
from service.fit.wording.changes import change_text, changes_text, retired_text
from service.fit.wording.checks import REASONS, check_text
from service.fit.wording.conflicts import (
    ask_again_text,
    conflict_text,
    obstacle_text,
    remedy_text,
    requirement_text,
)
from service.fit.wording.explained import (
    either_way_text,
    expected_text,
    looking_text,
    open_question_text,
    settling_text,
    taking_text,
)
from service.fit.wording.options import above_next_text, offer_text, why_text
from service.fit.wording.told_once import caution_text, lead_text, not_known_text, note_text, parts_text
from service.fit.wording.words import Units, length_text, window_text

__all__ = [
    "REASONS",
    "Units",
    "above_next_text",
    "answer_text",
    "ask_again_text",
    "caution_text",
    "challenged_text",
    "change_text",
    "changes_text",
    "check_text",
    "conflict_text",
    "either_way_text",
    "expected_text",
    "lead_text",
    "length_text",
    "looking_text",
    "not_known_text",
    "note_text",
    "obstacle_text",
    "offer_text",
    "open_question_text",
    "parts_text",
    "remedy_text",
    "replaced_text",
    "requirement_text",
    "retired_text",
    "ruled_out_text",
    "settling_text",
    "taking_text",
    "why_text",
    "window_text",
]
