"""The asker's own limits on a whole option: the hardest step of its work, and its price."""

import msgspec
from msgspec import UNSET

from catalog.vocabulary import WORK
from service.fit.answer import Check, Facts
from service.fit.bill import Bill
from service.fit.options import Assessed, open_ports
from service.fit.parts_list import hardest_work
from service.fit.question import Question
from service.fit.whole import Settlement


def held_to(settlement: Settlement, option: Assessed) -> Assessed:
    """The option held to the limits of the build."""
    found = limits(settlement.question, settlement.graph.snapshot.currency, option.work, option.bill)
    if not found:
        return option
    return option.limited(
        tuple(_of_port(settlement, option, check) if check.code == "work" else check for check in found)
    )


def _of_port(settlement: Settlement, option: Assessed, check: Check) -> Check:
    """The check of the work, by the open port that takes it where no part of the list does."""
    parts = settlement.graph.snapshot.parts
    if option.work == hardest_work(parts, option.lines):
        return check
    left = open_ports(settlement.graph, option.mounting, option.trees)
    port = next(port for port in left if port.work == option.work_name)
    of = parts[port.part].name if port.part in parts else port.part
    return msgspec.structs.replace(
        check, reason="work_of_open_port", facts={**check.facts, "port": port.port, "of": of}
    )


def limits(question: Question, currency: str, work: int, bill: Bill) -> list[Check]:
    """The asker's own limits on the whole option."""
    must, checks = question.build.must, []
    if must.work_at_most is not UNSET:
        good = work <= WORK.index(must.work_at_most)
        facts: Facts = {"work": WORK[work], "limit": must.work_at_most}
        checks.append(Check("work", "ok" if good else "fails", "work", facts))
    if question.price_at_most is not None:
        limit = question.price_at_most
        if bill.unpriced:
            checks.append(Check("price", "fails", "no_price", {"limit": limit}))
        else:
            facts = {"price": bill.known, "limit": limit, "currency": currency}
            checks.append(Check("price", "ok" if bill.known <= limit else "fails", "price", facts))
    return checks
