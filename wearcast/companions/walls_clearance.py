"""Walls against clearance: one wear seen twice.

c = H - d - t_upper - t_lower at the crown line. Where journal and housing are known the clearance is
predicted; whether or not, c + t_upper + t_lower stays what it is (H - d) from opening to opening, whatever
shells lie in it, until the journal is ground.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.causes import Cause, usual_causes
from wearcast.companions.journal_parts import JOURNAL_WEAR_UM_PER_KH
from wearcast.companions.once import once
from wearcast.companions.parts import PLACE, parts_at_openings
from wearcast.frames import row_numbers_of, rows_of
from wearcast.lives.history import History
from wearcast.lives.shells import Place
from wearcast.units import H_PER_KH, UM_PER_MM

MEDIAN_U = 1.2533
"""Uncertainty of a median over that of a mean of normal readings, √(π/2); used for three or more."""

NOT_INDEPENDENT = (
    "Do not average clearance and walls as independent proof: the journal or the housing bore is assumed."
)


@dataclass(frozen=True)
class Disagreement:
    """Walls and clearance of one place that contradict each other.

    Attributes
    ----------
    place : Place
        Without half.
    residual_um, u_um : float
        Clearance measured less clearance expected [µm], and its standard uncertainty [µm].
    by : str
        `parts` (predicted from walls, journal and housing) or `growth` (against the other openings).
    causes : tuple of Cause
        Usual causes, best fit first.
    rows : tuple of int
        Readings (row numbers from 0 of `History.readings`) of clearance and walls at the opening.
    text : str
        One sentence for the reasons of a forecast.
    """

    place: Place
    on: date
    state: str
    clearance_mm: float
    expected_mm: float
    residual_um: float
    u_um: float
    by: str
    causes: tuple[Cause, ...]
    rows: tuple[int, ...]
    text: str

    @property
    def in_u(self) -> float:
        """Residual in standard uncertainties, signed."""
        return self.residual_um / self.u_um


@once
def compare_walls_with_clearance(history: History, counted: NDArray[np.bool_]) -> pd.DataFrame:
    """Clearance measured against what walls, journal and housing leave, and against the other openings.

    Parameters
    ----------
    history : History
        As built.
    counted : ndarray of bool, shape (n readings,)
        Readings to use.

    Returns
    -------
    DataFrame
        The columns of `parts_at_openings`, and: `predicted` [mm], `predicted_u_um`, `residual_um` (measured less
        predicted), `residual_u_um`; `growth_residual_um` (growth of clearance less loss of walls, against the
        median of the other openings), `growth_u_um`, `others` (how many these are); `independent`, False where
        journal or housing is assumed; `by` (`parts`, `growth` or empty), `judged_um` and `judged_u_um`: the one
        of the two residuals to go by, by parts where the journal was measured, else the larger in units of u. NaN
        where nothing can be said.

    Notes
    -----
    u² = u_c² + u_upper² + u_lower² + u_d² + u_H², independent errors (JCGM 100:2008, 5.1.2; clause from memory).
    """
    parts = parts_at_openings(history, counted)
    walls_mm = (parts["upper"] + parts["lower"]).to_numpy(dtype=np.float64)
    clearance_mm = parts["clearance"].to_numpy(dtype=np.float64)
    u2 = {name: parts[f"{name}_u_um"].to_numpy(dtype=np.float64) ** 2 for name in _MEASURED}
    predicted_mm = (parts["housing"] - parts["journal"]).to_numpy(dtype=np.float64) - walls_mm
    predicted_u2 = u2["housing"] + u2["journal"] + u2["upper"] + u2["lower"]
    residual, residual_u = (clearance_mm - predicted_mm) * UM_PER_MM, np.sqrt(predicted_u2 + u2["clearance"])
    growth, growth_u, others = _growth(parts, clearance_mm + walls_mm, u2)
    measured = parts["journal_from"].str.startswith("measured").to_numpy(dtype=bool)
    # A journal measured tells which opening is wrong; without one the other openings have a say.
    settled = measured & np.isfinite(residual)
    by_parts = np.nan_to_num(np.abs(residual / residual_u), nan=-1.0)
    by_growth = np.where(settled, -1.0, np.nan_to_num(np.abs(growth / growth_u), nan=-1.0))
    use_parts = by_parts >= by_growth
    return parts.assign(
        predicted=predicted_mm,
        predicted_u_um=np.sqrt(predicted_u2),
        residual_um=residual,
        residual_u_um=residual_u,
        growth_residual_um=growth,
        growth_u_um=growth_u,
        others=others,
        independent=measured & (parts["housing_from"] == "measured").to_numpy(dtype=bool),
        by=np.where(np.fmax(by_parts, by_growth) < 0, "", np.where(use_parts, "parts", "growth")),
        judged_um=np.where(use_parts, residual, growth),
        judged_u_um=np.where(use_parts, residual_u, growth_u),
    )


_MEASURED = ("clearance", "upper", "lower", "journal", "housing")


def _growth(
    parts: pd.DataFrame, sum_mm: NDArray[np.float64], u2: Mapping[str, NDArray[np.float64]]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Each opening's c + t_upper + t_lower less the median of the other days' since the last grinding."""
    n = len(parts)
    residual, u_um, others = np.full(n, np.nan), np.full(n, np.nan), np.zeros(n, dtype=np.int64)
    own_u2 = u2["clearance"] + u2["upper"] + u2["lower"]
    day, kh = parts["date"].to_numpy(), parts["total_h"].to_numpy(dtype=np.float64) / H_PER_KH
    complete = np.isfinite(sum_mm)
    for group in row_numbers_of(parts, [*PLACE, "grinding"]).values():
        here = group[complete[group]]
        for k in here.tolist():
            rest = here[day[here] != day[k]]
            if not len(rest):
                continue
            residual[k] = (sum_mm[k] - np.median(sum_mm[rest])) * UM_PER_MM
            factor = MEDIAN_U**2 if len(rest) > 2 else 1.0
            apart_kh = abs(kh[k] - np.median(kh[rest]))
            u_um[k] = np.sqrt(
                own_u2[k]
                + factor * np.mean(own_u2[rest]) / len(rest)
                + (JOURNAL_WEAR_UM_PER_KH * apart_kh) ** 2
            )
            others[k] = len(rest)
    return residual, u_um, others


def places_that_disagree(
    history: History, counted: NDArray[np.bool_], beyond_u: float
) -> dict[Place, Disagreement]:
    """Places where walls and clearance, last read together on the shells now in service, disagree.

    Parameters
    ----------
    beyond_u : float
        From how many standard uncertainties.

    Returns
    -------
    dict of Place to Disagreement
        By place without half: it concerns the walls of both halves and the clearance there.
    """
    table = compare_walls_with_clearance(history, counted)
    in_service = [history.lives[life].in_service for life in table["life"].tolist()]
    last = table[np.array(in_service, dtype=bool)].sort_values(["date", "state"], kind="stable")
    last = last[last["by"] != ""].drop_duplicates(PLACE, keep="last")
    return {one.place: one for one in disagreements(history, last, beyond_u)}


def disagreements(history: History, table: pd.DataFrame, beyond_u: float) -> tuple[Disagreement, ...]:
    """Rows of `compare_walls_with_clearance` beyond a number of standard uncertainties, worded."""
    in_u = (table["judged_um"] / table["judged_u_um"]).abs().to_numpy(dtype=np.float64)
    return tuple(_disagreement(history, row) for row in rows_of(table[in_u > beyond_u]))


def _disagreement(history: History, row: object) -> Disagreement:
    get = row._asdict()  # type: ignore[attr-defined]
    residual_um, u_um, parts = get["judged_um"], get["judged_u_um"], get["by"] == "parts"
    clearance_mm = float(get["clearance"])
    expected_mm = clearance_mm - residual_um / UM_PER_MM
    causes = usual_causes(history, get, residual_um, u_um)
    place = Place(get["vessel"], get["engine"], get["bearing"], get["position"])
    left = "walls, journal and housing leave" if parts else "the other openings and the loss of walls leave"
    text = (
        f"clearance {clearance_mm:.3f} mm on {get['date'].date()} is {abs(residual_um):.0f} µm "
        f"{'above' if residual_um > 0 else 'below'} what {left} ({abs(residual_um) / u_um:.1f} u)"
    )
    return Disagreement(
        place=place,
        on=get["date"].date(),
        state=get["state"],
        clearance_mm=clearance_mm,
        expected_mm=expected_mm,
        residual_um=float(residual_um),
        u_um=float(u_um),
        by=get["by"],
        causes=causes,
        rows=get["rows"],
        text=text,
    )
