"""What a part raises that meets an open port: its own other ports, each to be led on, closed or filled."""

from collections.abc import Iterator
from typing import NamedTuple

from catalog.domain import Part, Port, Role
from service.fit.bore import Bore
from service.fit.circuit import FLEXIBLE, LINES, Goal, LineSide, Pointing, Spot, points_behind
from service.fit.spots import Spots


class Raised(NamedTuple):
    """What a part raises on a spot that it meets."""

    spots: tuple[Spot, ...]
    open: tuple[Port, ...] = ()
    """Ports that the build does not ask about."""
    crosses: bool = False
    unsure: bool = False
    """Whether it hangs on a size that nobody states."""


class Raises(Spots):
    """What the parts of a question raise."""

    def _raises(self, spot: Spot, part: Part, port: Port) -> Iterator[Raised]:
        """What a part raises when it meets the spot by this port: once for each port that can carry the line on."""
        others = [other for other in part.ports if other is not port]
        if spot.goal == "closed":
            if part.kind in ("plug", "cap", "fitting") and port.role in ("mount", "line"):
                yield Raised(tuple(self.spot(part, other, "closed") for other in others))
        elif spot.goal in ("housing", "housing_with_return"):
            yield from self._raises_of_housing(spot, part, port, others)
        elif spot.goal == "thermostat":
            if part.kind == "thermostat" and port.role == "mount" and not others:
                yield Raised(())
        elif spot.goal == "fan":
            yield from self._raises_of_fan(part, port, others)
        elif spot.goal in LINES:
            yield from self._raises_of_line(spot, part, port, others)

    def _raises_of_line(self, spot: Spot, part: Part, port: Port, others: list[Port]) -> Iterator[Raised]:
        if part.kind == "remote_pump":
            yield from self._raises_of_remote(spot, part, port, others)
            return
        in_line = part.kind == "thermostat_housing" and spot.goal == "upper_by_thermostat"
        crosses = part.attributes.get("crosses") is True
        if (part.kind not in ("fitting", "hose") and not in_line) or port.role not in ("line", "mount"):
            return
        target = self._far_end(spot, part)
        if target is None or (crosses and spot.side == "centre" and "sides" not in spot.slack):
            return
        goal: Goal = "upper" if in_line else spot.goal
        side = _other_side(spot.side) if crosses else spot.side
        for carrier in others:
            wide = self._wide(spot, spot.bores, carrier)
            if carrier.role in ("line", "mount") and wide != "fails":
                led_on = self.spot(
                    part,
                    carrier,
                    goal,
                    after=spot,
                    side=side,
                    target=target,
                    bores=spot.bores,
                    points=self._points(spot, carrier),
                    slack=spot.slack,
                )
                inside = [other for other in others if other.role == "thermostat"]
                closed = [other for other in others if other is not carrier and other not in inside]
                raised = (
                    *(self.spot(part, other, "thermostat") for other in inside),
                    led_on,
                    *(self.spot(part, other, "closed") for other in closed),
                )
                yield Raised(raised, crosses=crosses, unsure=wide == "not_known")

    def _points(self, spot: Spot, carrier: Port) -> Pointing | None:
        """Where the outlet points behind a part by the port that carries it on; None where it bends as it likes."""
        connection = self.graph.connection(spot.connection)
        if spot.points is None or connection.sort in FLEXIBLE:
            return None
        return points_behind(connection, spot.points, carrier)

    def _raises_of_remote(self, spot: Spot, part: Part, port: Port, others: list[Port]) -> Iterator[Raised]:
        """The remote pump ends its own line, and another leads on to the radiator's lower port."""
        if spot.goal == "pumped" and port.role == "coolant_out" and spot.remote == part.number:
            inlets = [other.connection for other in others if other.role == "coolant_in"]
            bores = (self.bore("lower", inlets),)
            goals: dict[Role, Goal] = {"coolant_in": "lower"}
            yield Raised(
                tuple(
                    self.spot(part, other, goals.get(other.role, "closed"), side="any", bores=bores, slack=spot.slack)
                    for other in others
                    if other.role != "mount"
                )
            )

    def _far_end(self, spot: Spot, part: Part) -> str | None:
        """The part that a molded hose must meet next; empty for any; None where the hose does not belong here."""
        ends = molded_ends(part)
        if not ends:
            return ""
        return ends[1 - ends.index(spot.owner)] if spot.owner in ends else None

    def _raises_of_housing(self, spot: Spot, part: Part, port: Port, others: list[Port]) -> Iterator[Raised]:
        roles = {other.role for other in others}
        if part.kind != "thermostat_housing" or port.role != "mount":
            return
        if "thermostat" not in roles and part.attributes.get("thermostat_included") is not True:
            return
        wants_return = spot.goal == "housing_with_return"
        if wants_return and "heater_return" not in roles:
            return
        bores: dict[Role, tuple[Bore, ...]] = {"coolant_in": spot.bores[:1], "heater_return": spot.bores[1:]}
        goals: dict[Role, Goal] = {"coolant_in": "lower", "thermostat": "thermostat"}
        if wants_return:
            goals["heater_return"] = "heater_return"
        raised, still_open, widths = [], [], []
        for other in sorted(others, key=lambda other: other.role != "thermostat"):  # it goes in before the hoses go on
            if other.role == "heater_return" and not wants_return and self.asked.heater is None:
                still_open.append(other)
                continue
            goal, of_line = goals.get(other.role, "closed"), bores.get(other.role, ())
            if goal in LINES:
                widths.append(self._wide(spot, of_line, other))
            raised.append(self.spot(part, other, goal, bores=of_line, slack=spot.slack))
        if "fails" not in widths:
            yield Raised(tuple(raised), tuple(still_open), unsure="not_known" in widths)

    def _raises_of_fan(self, part: Part, port: Port, others: list[Port]) -> Iterator[Raised]:
        named = self.question.slots.get("fan")
        if port.role != "mount":
            return
        if part.kind == "fan" and part.attributes.get("driven_by") == "engine" and not others:
            if named is None or named.number == part.number:
                yield Raised(())
        elif part.kind == "fan_adapter":
            yield Raised(tuple(self.spot(part, other, "fan") for other in others if other.role == "fan"))


def molded_ends(part: Part) -> tuple[str, ...]:
    """Numbers of the two parts between which a molded hose is made to run; nothing for any other part."""
    if part.attributes.get("shape") != "molded":
        return ()
    return str(part.attributes.get("molded_from", "")), str(part.attributes.get("molded_to", ""))


def renews(spot: Spot, part: Part) -> bool:
    """Whether the way from port to end is counted anew behind this part: a housing, or a remote pump."""
    return spot.goal in ("housing", "housing_with_return") or part.kind == "remote_pump"


def _other_side(side: LineSide) -> LineSide:
    return {"left": "right", "right": "left"}.get(side or "", side)  # type: ignore[return-value]
