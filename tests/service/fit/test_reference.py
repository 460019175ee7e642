"""The reference page: every code has a heading, the committed page is that of the code, and every sentence is judged.

`sentences.txt` holds every example in millimetres and, where it differs, in inches. After a change that is meant,
write both anew with `python -m tests.service.fit.test_reference`, and read each changed sentence aloud.
"""

import re
from pathlib import Path

from service.fit.answer import Check
from service.fit.wording import REASONS, told_once
from service.fit.wording.checks import NOT_KNOWN
from service.fit.wording.options import CODES
from service.fit.wording.reference import PAGE, SECTIONS, markdown, sentence

SENTENCES = Path(__file__).parent / "sentences.txt"
CHECKS, OTHERS = SECTIONS[:-5], SECTIONS[-5:]
UNKNOWN = re.compile("not known|has no price|was given")


def sentences() -> str:
    lines = []
    for section in SECTIONS:
        lines.append(f"\n{section.title}\n")
        for entry in section.entries:
            for example in entry.examples:
                metric, inches = sentence(example), sentence(example, "in")
                lines.append(f"{entry.code}: {metric}")
                lines += [f"    {inches}"] if inches != metric else []
    return "\n".join(lines).lstrip() + "\n"


def test_every_reason_of_a_check_has_a_heading() -> None:
    entries = [entry for section in CHECKS for entry in section.entries]
    assert sorted(entry.code for entry in entries) == list(REASONS)
    for entry in entries:
        assert {example.reason for example in entry.examples} == {entry.code}


def test_every_other_code_has_a_heading() -> None:
    for section, codes in zip(OTHERS, {**told_once.CODES, **CODES}.values(), strict=True):
        assert sorted(entry.code for entry in section.entries) == sorted(codes)


def test_the_committed_page_is_that_of_the_code() -> None:
    assert PAGE.read_text(encoding="utf-8") == markdown(), "run `python -m service.fit.wording.reference`"


def test_every_sentence_is_as_it_was_judged() -> None:
    assert SENTENCES.read_text(encoding="utf-8") == sentences(), "read the changed sentences, then write them anew"


def test_a_sentence_says_that_something_is_not_known_just_where_its_reason_does() -> None:
    for section in CHECKS:
        for entry in section.entries:
            for example in entry.examples:
                unknown = bool(UNKNOWN.search(sentence(example)))
                # A passing face may add what else is not known; a gap is told for a fan that nobody names.
                if entry.code not in ("faces_meet", "fan_of_unknown_depth"):
                    assert unknown == (entry.code in NOT_KNOWN), sentence(example)
                if example.verdict == "not_asked":
                    assert entry.code in NOT_KNOWN


def test_sentences_are_plain() -> None:
    for section in SECTIONS:
        for entry in section.entries:
            for example in entry.examples:
                for units in ("mm", "in"):
                    said = sentence(example, units)
                    assert said.endswith(".")
                    assert said[0].isupper() or said[0].isdigit()
                    assert not re.search(r"_|[{}\[\]]|None|\bwe\b|previously reported|  ", said), said
                    if isinstance(example, Check):
                        assert not re.search(r"\bis is\b|\bare are\b|\bis are\b", said), said


if __name__ == "__main__":
    PAGE.write_text(markdown(), encoding="utf-8")
    SENTENCES.write_text(sentences(), encoding="utf-8")
