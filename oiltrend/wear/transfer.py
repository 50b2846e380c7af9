"""One stretch of the mass balance of a wear metal, as a linear map.

The metal dissolved or suspended in the oil in circulation follows ::

    d(M·C)/dx = W + a·C0 − (q + K)·C        dM/dx = a − q − qe

with M the oil mass [kg], C the concentration [mg/kg], C0 that of the fresh oil, x the use
(km or h), W the generation rate [mg/use], a the make-up, q the loss in liquid form, qe the
loss by evaporation (which leaves the metal behind) and K the clean-oil rate of the filter,
all [kg/use]. With constant rates M is linear in x and, with k = a − qe + K,
E = ∫dx/M, u = k·E and φ(u) = (1 − e^−u)/u ::

    C_end = e^−u · C_start + E·φ(u) · (W + a·C0)

which is ``p·C_start + q·W + r·C_fresh``: three numbers tell everything about a stretch, and
stretches follow each other by composing them. Constant level, falling level with liquid
loss and falling level with evaporation are special cases. All functions broadcast; for rows
(n,) against measurands (n, m) the caller adds the last axis to the masses (``mass[:, None]``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from oiltrend.wear.arrays import FloatLike, Floats

__all__ = ["Transfer", "compose", "end_concentration", "generation_rate", "lump", "segment"]


@dataclass(frozen=True, slots=True)
class Transfer:
    """How a stretch turns what was there into what is there: ``p·C_start + q·W + r·C_fresh``.

    Parameters
    ----------
    p : array, any shape [-]
        What is left of the start concentration.
    q : array, same shape [use/kg]
        What a generation rate of 1 mg/use adds.
    r : array, same shape [-]
        What the fresh oil brings in.
    """

    p: FloatLike
    q: FloatLike
    r: FloatLike


def _log1p_ratio(z: Floats) -> Floats:
    """Give ln(1+z)/z, 1 at z = 0. log1p is exact to rounding, so no series is needed."""
    at_zero = z == 0.0
    return np.where(at_zero, 1.0, np.log1p(z) / np.where(at_zero, 1.0, z))


def _mean_decay(u: Floats) -> Floats:
    """Give φ(u) = (1 − e^−u)/u, 1 at u = 0. expm1 is exact to rounding near 0."""
    at_zero = u == 0.0
    return np.where(at_zero, 1.0, -np.expm1(-u) / np.where(at_zero, 1.0, u))


def segment(
    start_mass: FloatLike,
    end_mass: FloatLike,
    make_up_mass: FloatLike,
    *,
    use: FloatLike,
    liquid_share: FloatLike,
    filter_rate: FloatLike = 0.0,
) -> Transfer:
    """Follow a stretch in which oil is lost, made up and filtered at constant rates.

    Equation: the closed form of the module, with a·x = make-up, loss = start + make-up − end,
    q·x = liquid share · loss and E = x·ln(end/start)/(end − start). The use may be 0: the map
    then describes make-up and loss at one spot.

    Parameters
    ----------
    start_mass : array, any shape [kg]
        Oil mass at the start.
    end_mass : array, same shape [kg]
        Oil mass at the end.
    make_up_mass : array, same shape [kg]
        Fresh oil added evenly over the stretch. Where less was added than the mass grew, the
        missing oil is taken as fresh oil that nobody wrote down, and the loss as zero.
    use : array, same shape [use]
        Length of the stretch.
    liquid_share : array, same shape [-]
        Share of the loss that left as liquid, 0 to 1.
    filter_rate : array, same shape [kg/use]
        Equivalent clean-oil rate of the filter for the particles the laboratory sees.

    Returns
    -------
    Transfer [-]
        The map over the stretch; NaN where a mass is not above zero.

    Examples
    --------
    Level kept at 5 kg with 0.25 kg per 1000 km, over 10 000 km, 5 mg per 1000 km generated:

    >>> kept = segment(5.0, 5.0, 2.5, use=10e3, liquid_share=1.0)
    >>> round(float(end_concentration(kept, 0.0, 5e-3, 0.0)), 7)
    7.8693868

    References
    ----------
    Kjer, Wear 67 (1981) 217-235; Macián, Tormos, Olmeda and Montoro, Wear 255 (2003)
    1297-1303 (same balance, cited from memory). The closed form was derived here.
    """
    start, end = np.asarray(start_mass, float), np.asarray(end_mass, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        possible = (start > 0.0) & (end > 0.0)
        start = np.where(possible, start, np.nan)
        change = end - start
        fresh = np.maximum(make_up_mass, change)
        liquid = liquid_share * (fresh - change)
        per_mass = _log1p_ratio(change / start) / start
        decay = (change + liquid + np.multiply(filter_rate, use)) * per_mass
        weight = per_mass * _mean_decay(decay)
        return Transfer(p=np.exp(-decay), q=use * weight, r=fresh * weight)


def lump(mass_before: FloatLike, added_mass: FloatLike) -> Transfer:
    """Add fresh oil at one spot.

    Equation: ``C_after = (M·C + A·C0)/(M + A)``.

    Parameters
    ----------
    mass_before : array, any shape [kg]
        Oil mass just before.
    added_mass : array, same shape [kg]
        Fresh oil added.

    Returns
    -------
    Transfer [-]
        The map over the spot; nothing is generated there.

    Examples
    --------
    >>> float(lump(4.0, 1.0).p), float(lump(4.0, 1.0).r)
    (0.8, 0.2)
    """
    before, added = np.asarray(mass_before, float), np.asarray(added_mass, float)
    after = before + added
    with np.errstate(divide="ignore", invalid="ignore"):
        after = np.where(after > 0.0, after, np.nan)
        return Transfer(p=before / after, q=np.zeros_like(after), r=added / after)


def compose(first: Transfer, second: Transfer) -> Transfer:
    """Let one stretch follow another with the same generation rate and fresh oil.

    Equation: ``p = p2·p1, q = p2·q1 + q2, r = p2·r1 + r2``.

    Parameters
    ----------
    first : Transfer [-]
        The earlier stretch.
    second : Transfer [-]
        The later stretch.

    Returns
    -------
    Transfer [-]
        The map over both.

    Examples
    --------
    >>> half = segment(5.0, 5.0, 1.25, use=5e3, liquid_share=1.0)
    >>> whole = segment(5.0, 5.0, 2.5, use=10e3, liquid_share=1.0)
    >>> bool(abs(compose(half, half).q - whole.q) < 1e-9)
    True
    """
    return Transfer(
        p=second.p * first.p,
        q=second.p * first.q + second.q,
        r=second.p * first.r + second.r,
    )


def end_concentration(
    transfer: Transfer, start: FloatLike, generation: FloatLike, fresh: FloatLike
) -> Floats:
    """Give the concentration at the end of a stretch.

    Equation: ``C_end = p·C_start + q·W + r·C_fresh``.

    Parameters
    ----------
    transfer : Transfer [-]
        The stretch.
    start : array, broadcast with the transfer [mg/kg]
        Concentration at the start.
    generation : array, broadcast [mg/use]
        Generation rate W.
    fresh : array, broadcast [mg/kg]
        Concentration in the fresh oil.

    Returns
    -------
    array [mg/kg]
        Concentration at the end.

    Examples
    --------
    >>> float(end_concentration(lump(4.6, 0.4), 10.0, 0.0, 0.0))
    9.2
    """
    return np.asarray(
        np.multiply(transfer.p, start)
        + np.multiply(transfer.q, generation)
        + np.multiply(transfer.r, fresh)
    )


def generation_rate(
    transfer: Transfer, start: FloatLike, end: FloatLike, fresh: FloatLike
) -> Floats:
    """Give the generation rate that turned the start concentration into the end one.

    Equation: ``W = (C_end − p·C_start − r·C_fresh)/q``.

    Parameters
    ----------
    transfer : Transfer [-]
        The stretch.
    start : array, broadcast with the transfer [mg/kg]
        Concentration at the start.
    end : array, broadcast [mg/kg]
        Concentration at the end.
    fresh : array, broadcast [mg/kg]
        Concentration in the fresh oil.

    Returns
    -------
    array [mg/use]
        Generation rate W; NaN where the stretch has no length.

    Examples
    --------
    >>> kept = segment(5.0, 5.0, 2.5, use=10e3, liquid_share=1.0)
    >>> round(float(generation_rate(kept, 0.0, 7.8693868, 0.0)), 9)
    0.005
    """
    gained = end - np.multiply(transfer.p, start) - np.multiply(transfer.r, fresh)
    length = np.asarray(transfer.q, float)
    return np.asarray(gained / np.where(length > 0.0, length, np.nan))
