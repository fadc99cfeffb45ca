"""From the planted truth to what the crew wrote down."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from demo_fleet import openings as o
from demo_fleet import world as w
from demo_fleet.shells import Chance, Shell

UM = 1000.0


@dataclass(frozen=True)
class Reading:
    """One reading as written, with what was true.

    Attributes
    ----------
    row : dict of str to str
        The row of the readings table.
    true_mm : float
        The true size of what was measured [mm].
    true_position : int
        Where it was measured; differs from the row in an opening written from the wrong end.
    error_mm : float
        Written less true [mm], the warmth of a diameter and the over-reading of story H taken off.
    flat_anvil_um : float
        That over-reading [µm].
    """

    row: dict[str, str]
    true_mm: float
    true_position: int
    error_mm: float
    flat_anvil_um: float


@dataclass(frozen=True)
class Crew:
    """Everything needed to measure one vessel, or one bearing of it.

    Attributes
    ----------
    shells : tuple of Shell
        The shells that lie there.
    chance : Chance
        For what all bearings share: gauges, people, saddles.
    own : Chance
        For what belongs to one bearing.
    """

    vessel: w.Vessel
    shells: tuple[Shell, ...]
    chance: Chance
    own: Chance

    def readings_at(self, bearing: str, position: int) -> list[Reading]:
        """Walls, clearances and journal diameters of one bearing."""
        found: list[Reading] = []
        for opening in o.OPENINGS[self.vessel.name]:
            if position not in (opening.mains if bearing == "main" else opening.big_ends):
                continue
            found += self._walls_and_clearance(opening, bearing, position)
            if opening.journals and bearing == "main":
                found += self._journal(opening, position)
        return found

    def readings_of_the_shaft(self) -> list[Reading]:
        """Axial clearance and web deflections, taken when all is closed up."""
        found: list[Reading] = []
        for opening in o.OPENINGS[self.vessel.name]:
            if opening.mains:
                found.append(self._axial(opening))
            if opening.deflections:
                found += self._deflections(opening)
        return found

    # what is true ---------------------------------------------------------------------------------------

    def shell(self, place: o.Place, opening: o.Opening, left: bool) -> Shell:
        """The shell that lies in a place as found or as left at an opening."""
        return next(
            shell
            for shell in self.shells
            if (shell.bearing, shell.position, shell.half) == place
            and (shell.fitted_h <= opening.total_h if left else shell.fitted_h < opening.total_h)
            and (shell.removed_h is None or opening.total_h <= shell.removed_h)
            and not (left and shell.removed_h == opening.total_h)
        )

    def journal_mm(self, position: int, opening: o.Opening, left: bool) -> float:
        """True diameter of a main journal at 20 °C, mean of its planes."""
        name = self.vessel.name
        size = o.journal_size(name, position, opening.date, left)
        since = (
            next(x.total_h for x in o.OPENINGS[name] if x.date == o.REGRIND[1]) if size != w.STANDARD else 0
        )
        off = self.own.normal(1.5, "journal", name, position, size)
        return w.JOURNAL_MM[size] + (off - w.JOURNAL_RATE * (opening.total_h - since) / 1000) / UM

    def clearance_mm(self, bearing: str, position: int, opening: o.Opening, left: bool) -> float:
        """True clearance: c = H − d − t_upper − t_lower."""
        walls = sum(
            self.shell((bearing, position, half), opening, left).wall_mm(opening.total_h) for half in w.HALVES
        )
        bore_off = self.own.normal(2.0, "bore", self.vessel.name, bearing, position) / UM
        if bearing == "main":
            return w.HOUSING_BORE_MM + bore_off - self.journal_mm(position, opening, left) - walls
        pin = w.CRANKPIN_MM - w.JOURNAL_RATE * opening.total_h / 1000 / UM
        return w.ROD_BORE_MM + bore_off - pin - walls

    def height_um(self, position: int, opening: o.Opening) -> float:
        """Height of the shaft in one main as left, above the line of nominal shells [µm]."""
        name = self.vessel.name
        high = (name, position) == (w.OVERLOADED_PLACE[0], w.OVERLOADED_PLACE[2])
        saddle = w.HIGH_SADDLE_UM if high else self.chance.normal(4.0, "saddle", name, position)
        lower = self.shell(("main", position, "lower"), opening, left=True)
        size = o.journal_size(name, position, opening.date, left=True)
        step_mm = w.UNDERSIZE_WALL_STEP_MM if size == w.UNDERSIZE else 0.0
        return saddle + UM * (lower.wall_mm(opening.total_h) - step_mm - sum(w.NEW_WALL_MM["main"]) / 2)

    def bend_um(self, throw: int, opening: o.Opening) -> float:
        """Bend of the shaft across a throw [µm]: below zero where one of its two mains stands high."""
        y = {main: self.height_um(main, opening) for main in w.MAINS}
        y[0], y[8] = 2 * y[1] - y[2], 2 * y[7] - y[6]  # the ends of the shaft hang free
        return (y[throw - 1] - y[throw] - y[throw + 1] + y[throw + 2]) / 2

    # what is written ------------------------------------------------------------------------------------

    def _walls_and_clearance(self, opening: o.Opening, bearing: str, position: int) -> Iterator[Reading]:
        new = [half for half in w.HALVES if (bearing, position, half) in opening.new_shells]
        for left in (False, True) if new else (False,):
            for half in new if left else self._halves_read(bearing, bool(new)):
                place = (bearing, position, half)
                for point in self._points(*place):
                    true = self.shell(place, opening, left).wall_mm(opening.total_h, point)
                    yield self._read(opening, place, "wall", point, left, true)
            true = self.clearance_mm(bearing, position, opening, left)
            yield self._read(opening, (bearing, position, ""), "clearance", "", left, true)

    def _halves_read(self, bearing: str, renewed: bool) -> tuple[str, ...]:
        """The unloaded cap shell of a big end is measured when it is taken out; on the newest vessel always."""
        loaded_only = bearing == "big_end" and not renewed and self.vessel.name != w.QUILLO
        return ("upper",) if loaded_only else w.HALVES

    def _points(self, bearing: str, position: int, half: str) -> tuple[str, ...]:
        if (bearing, half) == ("main", "lower") and (self.vessel.name, position) in o.FORE_AND_AFT:
            return "crown", "crown_fore", "crown_aft"
        return ("crown",)

    def _journal(self, opening: o.Opening, position: int) -> Iterator[Reading]:
        reground = (self.vessel.name, opening.date, position) == o.REGRIND
        for left in (False, True) if reground else (False,):
            for point in ("v1", "h1"):
                true = self.journal_mm(position, opening, left)
                yield self._read(opening, ("main", position, ""), "journal_diameter", point, left, true)

    def _axial(self, opening: o.Opening) -> Reading:
        new = w.AXIAL_NEW_MM + self.chance.normal(0.015, "axial", self.vessel.name)
        true = new + (w.AXIAL_RATE * opening.total_h / 1000 + w.RUNNING_IN_UM) / UM
        return self._read(opening, ("thrust", w.THRUST_AT, ""), "axial_clearance", "", True, true)

    def _deflections(self, opening: o.Opening) -> Iterator[Reading]:
        for throw in w.THROWS:
            vertical = w.DEFLECTION_PER_BEND * self.bend_um(throw, opening) / UM
            across = self.chance.normal(2.0, "across", self.vessel.name, throw) / UM
            shape = {"bottom_p": 0.0, "port": 0.5, "top": 1.0, "starboard": 0.5, "bottom_s": 0.0}
            for point, share in shape.items():
                true = share * vertical + {"port": across, "starboard": -across}.get(point, 0.0)
                yield self._read(opening, ("big_end", throw, ""), "web_deflection", point, True, true)

    def _read(
        self, opening: o.Opening, place: o.Place, quantity: str, point: str, left: bool, true_mm: float
    ) -> Reading:
        name, (bearing, position, half) = self.vessel.name, place
        what = (name, opening.date, quantity, bearing, position, half, point, left)
        off_um = self.chance.normal(w.OPENING_SD[quantity], "opening", name, opening.date, quantity)
        off_um += self.own.normal(w.READING_SD[quantity], "reading", *what)
        flat = quantity == "wall" and (name, opening.date) == o.FLAT_ANVIL[:2]
        over_um = o.FLAT_ANVIL[2] if flat else 0.0
        warm = quantity == "journal_diameter" and opening.date >= w.FINE_FROM
        temperature = 18 + round(8 * self.chance.uniform("engine room", name, opening.date)) if warm else 20
        known_mm = true_mm * (1 + w.STEEL_PER_K * (temperature - 20)) + over_um / UM
        value = known_mm + off_um / UM if point != "bottom_p" else 0.0  # the gauge is set to zero here
        text = _digits(value, quantity, opening.date)
        written_at = position
        if bearing == "main" and (name, opening.date) == o.WRONG_END:
            written_at = w.MAINS[0] + w.MAINS[-1] - position
        row = {
            "vessel": name, "engine": w.ENGINE, "bearing": bearing, "position": str(written_at), "half": half,
            "point": point, "quantity": quantity, "value": text,
            "unit": "mm", "date": opening.date, "counter_h": str(o.dial_h(name, opening.date, opening.total_h)),
            "state": self._state(opening, quantity, left), **self._circumstances(opening, quantity),
            "temperature_c": str(temperature) if warm else "",
        }  # fmt: skip
        return Reading(row, true_mm, position, float(text) - known_mm, over_um)

    def _state(self, opening: o.Opening, quantity: str, left: bool) -> str:
        if left:
            return "as_left"
        # The old form had no column for it; it was filled in later only where a shell was renewed.
        plain = opening.date < w.FINE_FROM and not opening.renewed and quantity != "journal_diameter"
        return "" if plain else "as_found"

    def _circumstances(self, opening: o.Opening, quantity: str) -> dict[str, str]:
        name, fine = self.vessel.name, opening.date >= w.FINE_FROM
        stated = quantity in o.STATED_U_UM and opening.date >= o.U_STATED_FROM[name]
        borrowed = quantity == "wall" and (name, opening.date) == o.FLAT_ANVIL[:2]
        by = ("2/E", "3/E", "C/E")[int(3 * self.chance.uniform("who", name, opening.date))]
        return {
            "instrument": o.FLAT_ANVIL_GAUGE if borrowed else o.GAUGES[quantity][fine],
            "u_um": o.STATED_U_UM[quantity] if stated else "",
            "temperature_c": "",
            "conditions": "cold, afloat, ballast" if quantity == "web_deflection" else "",
            "measured_by": by,
            "remark": "gauge on loan from the yard, own away for calibration" if borrowed else "",
        }


def _digits(value_mm: float, quantity: str, day: str) -> str:
    coarse = quantity in ("clearance", "axial_clearance") or (
        day < w.FINE_FROM and quantity != "web_deflection"
    )
    text = f"{value_mm:.{2 if coarse else 3}f}"
    return text.removeprefix("-") if float(text) == 0 else text
