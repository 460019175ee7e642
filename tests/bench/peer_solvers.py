"""The core of a question given to general solvers, for the cheapest option only."""

from typing import Final

from clingo import Control, Model
from ortools.sat.python import cp_model

from tests.bench.core import Core

_PROGRAM: Final = """
1 { stacked(P) : on_stack(P, _, _, _); alone(P) : alone_fits(P, _) } 1.
{ laid(S, T) : plate(T, _, _, _) } 1 :- slot(S).
:- laid(S, _), S > 1, not laid(S - 1, _).
:- laid(S, T), laid(S - 1, U), U > T.
:- alone(_), laid(1, _).
:- stacked(_), not laid(1, _).
:- stacked(_), #sum { H, S : laid(S, T), plate(T, _, H, _); -L, P : stacked(P), on_stack(P, _, L, _) } < -base_high.
:- stacked(_), #sum { L, S : laid(S, T), plate(T, L, _, _); -H, P : stacked(P), on_stack(P, _, _, H) } > -base_low.
#minimize { C, stacked, P : stacked(P), on_stack(P, C, _, _); C, alone, P : alone(P), alone_fits(P, C);
            C, S, T : laid(S, T), plate(T, _, _, C) }.
"""


def cp_sat(core: Core, most: int) -> int | None:
    """The least cents by CP-SAT, the model made anew as for any other question; None where nothing fits."""
    model = cp_model.CpModel()
    windows = core.windows()
    stacking = [(place, low, high) for place, low, high in windows if place.stacks]
    alone = [place for place, low, high in windows if place.alone[1] >= low and place.alone[0] <= high]
    on_stack = [model.new_bool_var("") for _ in stacking]
    on_block = [model.new_bool_var("") for _ in alone]
    counts = [model.new_int_var(0, most, "") for _ in core.plates]
    model.add_exactly_one([*on_stack, *on_block])
    stacked = sum(on_stack)
    model.add(sum(counts) <= most * stacked)
    model.add(sum(counts) >= stacked)
    # One place is chosen, so the sum over all places of its window's end is that end.
    most_thick = sum(count * plate.high for count, plate in zip(counts, core.plates, strict=True))
    least_thick = sum(count * plate.low for count, plate in zip(counts, core.plates, strict=True))
    least = sum(chosen * (low - core.base[1]) for chosen, (_, low, _) in zip(on_stack, stacking, strict=True))
    greatest = sum(chosen * (high - core.base[0]) for chosen, (_, _, high) in zip(on_stack, stacking, strict=True))
    model.add(most_thick >= least)
    model.add(least_thick <= greatest)
    chosen_places = zip([*on_stack, *on_block], [*(place for place, _, _ in stacking), *alone], strict=True)
    of_places = sum(chosen * place.cents for chosen, place in chosen_places)
    of_plates = sum(count * plate.cents for count, plate in zip(counts, core.plates, strict=True))
    model.minimize(of_places + of_plates)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    if solver.solve(model) != cp_model.OPTIMAL:
        return None
    return round(solver.objective_value)


def clingo(core: Core, most: int) -> int | None:
    """The least cents by clingo, grounded anew as for any other question; None where nothing fits."""
    facts = [f"slot(1..{most})."]
    for at, (place, low, high) in enumerate(core.windows()):
        if place.stacks:
            facts.append(f"on_stack({at},{place.cents},{low},{high}).")
        if place.alone[1] >= low and place.alone[0] <= high:
            facts.append(f"alone_fits({at},{place.cents}).")
    facts += [f"plate({at},{plate.low},{plate.high},{plate.cents})." for at, plate in enumerate(core.plates)]
    control = Control(["-c", f"base_low={core.base[0]}", "-c", f"base_high={core.base[1]}"])
    control.add("base", [], _PROGRAM + "\n".join(facts))
    control.ground([("base", [])])
    found: list[int] = []

    def keep(model: Model) -> None:
        found.append(model.cost[0])

    control.solve(on_model=keep)
    return found[-1] if found else None
