"""What is said of what nobody states, or was not given."""

from typing import TYPE_CHECKING

from catalog.vocabulary import measure_word
from service.fit.wording import lines
from service.fit.wording.words import FIELDS, listed, measure_text, words

if TYPE_CHECKING:
    from service.fit.wording.checks import _Say


def not_known(say: "_Say") -> str:
    """What a check lacks, and how to find it out."""
    lacks = say.check.facts["lacks"]
    if any(lack.fact.split(".")[0] in lines.LACKS for lack in lacks):
        return lines.not_known(say)
    measured = [measure_word(lack.fact) is not None for lack in lacks]
    how = "measure" if all(measured) else "measure and look" if any(measured) else "look"
    return f"It is not known {_few([measure_text(lack.fact, lack.name) for lack in lacks])}, so {how} first."


def _few(told: list[str]) -> str:
    """Two things as they are; of more the first, and the others counted."""
    return listed(told) if len(told) < 3 else f"{told[0]}, nor {len(told) - 1} things more"


def nobody_states(say: "_Say") -> str:
    """What no part of a kind in the release states."""
    facts = [measure_text(fact, f"any {words(kind)}") for kind, fact in say.check.facts["nobody"]]
    return f"Not checked, as in this release it is not known {_few(facts)}."


def requires_left_out(say: "_Say") -> str:
    """What a rule wants of a field that was left out."""
    needs = [f"{need['part']} needs {need['other']}" for need in say.fact("needs")]
    fields = list(dict.fromkeys(FIELDS[need["field"]] for need in say.fact("needs")))
    return f"{listed(needs)}; not checked, as no {' and no '.join(fields)} was given."
