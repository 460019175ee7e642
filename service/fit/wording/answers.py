"""What the answer says as a whole."""

from service.fit.answer import Answer, Challenged, Replaced, RuledOut
from service.fit.wording.checks import check_text, check_within
from service.fit.wording.conflicts import clash_text, remedy_text
from service.fit.wording.told_once import lead_text
from service.fit.wording.words import Units, length_text, listed, pump_named, window_text, words


def ruled_out_text(ruled_out: RuledOut, units: Units = "mm") -> str:
    """Why a pump has no option, and the thickness that would mend it."""
    text = check_text(ruled_out.check, units)
    if ruled_out.plates and ruled_out.check.reason not in ("excludes", "requires"):
        text = f"Its nearest try is on {listed(list(ruled_out.plates))}: {check_within(ruled_out.check, units)}"
    window = ruled_out.thickness_window
    if window is not None and ruled_out.short_by is not None:
        text += f" It would take {window_text(window, units)} of plates and gaskets in all."
    if ruled_out.measuring:
        text += " This rests on your own reading: measure it again before you give it up."
    elif ruled_out.short_by is not None:
        text += " Measuring cannot mend that."
    return text


def replaced_text(replaced: Replaced) -> str:
    """That a retired part was answered with its replacement."""
    return f"{replaced.asked} is retired; {replaced.answered} replaces it and is answered for."


def answer_text(answer: Answer, units: Units = "mm") -> str:
    """The answer in one sentence, led by readings that contradict, what was not checked, then what is not known."""
    lead = _challenged(answer, units) + lead_text(answer.build, answer.told)
    if not answer.decided:
        return f"{lead}The search reached its limit before every way was looked at, so this is not decided."
    if not answer.options:
        return lead + _blocked_text(answer, units)
    first = answer.options[0]
    how = "straight on the block"
    if any(line.kind == "remote_pump" for line in first.parts_list):
        how = "fed through an outlet plate on the block"
    elif first.plates:
        how = f"with {len(first.plates)} {'plate' if len(first.plates) == 1 else 'plates'} under it"
    many = answer.pumps_that_fit
    pumps = "One pump" if many == 1 else f"{many} pumps"
    pump = pump_named(first.pump, first.name)
    if answer.verdict == "measure_first":
        return f"{lead}{pumps} may fit once something is measured; the first to try is {pump} {how}."
    if not _all_fit(answer):
        return f"{lead}{pumps} fit or may fit once something is measured; the first, {pump} {how}, fits."
    return f"{lead}{pumps} fit{'s' if many == 1 else ''}; the first is {pump} {how}."


def _all_fit(answer: Answer) -> bool:
    """Whether every pump with an option is listed with one that is ok, so that all of them may be said to fit."""
    sure = {option.pump for option in answer.options if option.verdict == "ok"}
    return len(sure) == answer.pumps_that_fit


def challenged_text(challenged: Challenged, units: Units = "mm") -> str:
    """What a reading says and what the part has, which cannot both be so."""
    read, known = length_text(challenged.read, units), length_text(challenged.known, units)
    what = f"{words(challenged.measure)} of {challenged.name} ({challenged.part})"
    return f"You read {read} for the {what}, where this part has {known}: is it this part?"


def _challenged(answer: Answer, units: Units) -> str:
    """Readings that contradict their parts, before all else."""
    if not answer.challenged:
        return ""
    told = " ".join(challenged_text(each, units) for each in answer.challenged)
    return f"{told} Until that is settled the catalog's own measures count. "


def _blocked_text(answer: Answer, units: Units) -> str:
    if answer.ruled_out and (nearest := answer.ruled_out[0]).check.verdict == "not_asked":
        return f"No way is known to fit {pump_named(nearest.pump, nearest.name)}. {check_text(nearest.check, units)}"
    if answer.conflicts:
        text = f"Nothing fits: {clash_text(answer.build, answer.conflicts[0], units)}."
        more = len(answer.conflicts) - 1
        if more:
            text += f" {more} more {'conflict stands' if more == 1 else 'conflicts stand'} below."
        return f"{text} {remedy_text(answer.build, answer.remedies[0], units)}" if answer.remedies else text
    if not answer.ruled_out:
        if answer.build.pump_drive == "remote":
            return "Nothing fits: no outlet plate in this release leads from this engine to a pump elsewhere."
        return "Nothing fits: no pump in this release meets the pump face of this engine."
    nearest = answer.ruled_out[0]
    many = answer.ruled_out_total
    of = "the one pump" if many == 1 else f"none of the {many} pumps"
    fails = "does not pass" if many == 1 else "passes"
    return (
        f"Nothing fits: {of} that could go on this engine {fails} every check. "
        f"Nearest is {pump_named(nearest.pump, nearest.name)}: {check_within(nearest.check, units)}"
    )
