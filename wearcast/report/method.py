"""The method in short, for whoever wants to work a figure out again."""

from __future__ import annotations

from wearcast.forecasting.run import Forecast
from wearcast.report.view import Prose
from wearcast.words import plain, whole


def method(forecast: Forecast) -> tuple[Prose, ...]:
    """Wear, own line, pooled forecast; then how to read the charts."""
    return (_wear(forecast), _own_line(), _pooled(forecast), _dates(), _shaft(), _sources())


def _wear(forecast: Forecast) -> Prose:
    running_in_h = forecast.settings.thresholds.running_in_h
    return Prose(
        "From readings to wear",
        (
            "The dial is turned into total running hours with the counter changes told in the events; the age "
            "of a shell is the total hours at a reading less those at its fitting. A renewal ends one series "
            "and begins the next; a refit does not.",
            "Wear z is counted from the middle of the new values of that shell size, positive towards the limit: "
            "z = (new − reading) where the limit is a least value, z = (reading − new) where it is a greatest. "
            "The limit stands at z = L. Different points of one shell are different series.",
            f"Readings of walls and clearances younger than {whole(running_in_h)} h (running-in), and new walls "
            "measured at fitting, are shown but not in the own line.",
        ),
    )


def _own_line() -> Prose:
    return Prose(
        "Own line",
        (
            "A straight line z = a + b·τ through the readings of one shell at one point, τ its hours in "
            "thousands, by least squares: b = Σw(τ − τ̄)(z − z̄) / Σw(τ − τ̄)², a = z̄ − b·τ̄. Where every reading "
            "has a stated standard uncertainty u, w = 1/u² and the intervals use the normal distribution, widened by "
            "√max(1, χ²/(n − 2)); otherwise w = 1 and they use Student's t with n − 2 degrees of freedom, the scatter "
            "s = √(Σ(z − a − bτ)²/(n − 2)) found from the same readings. Two readings without a stated u give a "
            "rate and no interval.",
            "The band on a chart is the 90 % interval of the mean line at each hour: z ± q·√(v₀ + v₁(τ − τ̄)²), with v₀ "
            "and v₁ the variances of z̄ and b.",
            "Hours to the limit are the set of τ that the line cannot be told from reaching the limit at: "
            "(b(τ − τ̄) − (L − z̄))² ≤ q²(v₀ + v₁(τ − τ̄)²) (Fieller 1954), less the hours run. Where the rate "
            "cannot be told from zero the set has no upper end, and the page says so instead of a number.",
            "Beside it stand two rates that one odd reading does not pull: Huber's (residuals held at 1.345 "
            "scales) and the Theil–Sen median of all pairwise slopes.",
        ),
    )


def _pooled(forecast: Forecast) -> Prose:
    priors = forecast.settings.priors
    return Prose(
        "Pooled forecast",
        (
            "All shells of one class (engine type, bearing, half, quantity) are read together in one linear mixed "
            "model: z = α·(1 − exp(−τ/"
            f"{plain(priors.running_in_kh)})) + (β + position + engine + place + shell)·τ + new wall + uneven wear "
            "+ error of the opening + error of the reading. Rates differ by position along the shaft, by engine, "
            "by place (shared by successive shells there) and by shell; uneven wear is a Brownian path; the "
            "readings of one gauge at one opening share an error, which is the ruler's and not the wear's. The "
            "spreads are estimated by likelihood with the priors printed under Settings, class by class, and "
            "printed under Estimated spreads; in small classes the forecast is averaged over what they could be.",
            "The chance that the wear trend stands at or past the limit within h hours is the largest, up to h, of the "
            "normal probability of level + rate·h + uneven wear against L, averaged over all rates above zero. "
            "The hours given are those at which that chance is 10, 50 and 90 %.",
            "A reading more than "
            f"{plain(forecast.settings.thresholds.doubted_sd)} standard deviations from what the others say is "
            "queried, drawn hollow and left out; the 10 % hours with it left in are given beside.",
        ),
    )


def _dates() -> Prose:
    return Prose(
        "Dates and reading of the charts",
        (
            "Dates turn hours into days by the engine's yearly use; each engine page says whether that is "
            "stated or found from the counter, and its spread. A window on a chart stands at the hours that this use "
            "puts it at.",
            "The limit is a line with the far side hatched; the overlay is worn through at the broken line if the "
            "shell was new in the middle of its range. Bars on a reading are one standard uncertainty (k = 1), "
            "stated in the records or assumed for the kind of measurement: the readings table says which. "
            "Readings with a query are hollow. The own line is drawn through its readings and dashed beyond "
            "them, with its 90 % band where it governs; shells taken out are drawn smaller and "
            "paler, without bars, and keep their own lines.",
            "The forecast starts from the estimate at the as-of hours, a short stroke with its bar, and runs to "
            "the 50 % hours; each of the three areas around it joins an interval of that estimate (90, 80 and 50 %) by "
            "straight sides to the hours at the same chances, level where these have no upper end. Along the limit lie "
            "its hours: thin 5–95 %, thicker 10–90 %, thickest 25–75 %, a "
            "stroke at 50 %, an arrow where the end lies beyond the chart or is open. Colours and markers only "
            "tell points of a bearing apart.",
        ),
    )


def _shaft() -> Prose:
    return Prose(
        "How the shaft lies",
        (
            "Of the five readings of a throw the bottom is the mean of the two beside it: bottom = (b₁ + b₂)/2, "
            "vertical = top − bottom, horizontal = port − starboard, closure = b₂ − b₁, webs opening counted plus "
            "whatever the engine's form says. A main stands high or low where all throws beside it share a sign and "
            "their mean is clear of the new range and of two of its standard uncertainties (judgement). These are "
            "common practice of marine engineers, without a standard behind them here; the maker's alignment sheet "
            "governs.",
            "Walls tell the clearance c that housing H, journal d and shells t leave: c = H − d − t(upper) − t(lower), "
            "with the variances of the four added.",
        ),
    )


def _sources() -> Prose:
    return Prose(
        "Words of statisticians, and sources cited from memory",
        (
            "A weight of evidence is a gain in log-likelihood. The loss of a forecast is its mean pinball loss, and "
            "the shares in ten parts of the range are those of the probability integral transform (PIT). Chances of "
            "places out of line are corrected for all places compared: Holm, S. (1979), Scand. J. Statist. 6, 65.",
            "Intervals of a ratio: Fieller, E.C. (1954), J. R. Statist. Soc. B 16, 175. Rates that one reading does "
            "not pull: Huber, P.J. (1964), Ann. Math. Statist. 35, 73; Theil, H. (1950), Proc. K. Ned. Akad. Wet. 53; "
            "Sen, P.K. (1968), J. Am. Statist. Assoc. 63, 1379. Mixed models: Laird, N.M. & Ware, J.H. (1982), "
            "Biometrics 38, 963; restricted likelihood: Patterson, H.D. & Thompson, R. (1971), Biometrika 58, 545. "
            "Chances with a rate above zero: Owen, D.B. (1956), Ann. Math. Statist. 27, 1075.",
            "Uncertainty of a reading: JCGM 100:2008. Diameters at the reference temperature of 20 °C: ISO 1. Wall "
            "thickness of a shell: ISO 3548-2. Contrast of what is printed here: WCAG 2.2.",
        ),
    )
