"""The years of the workshop, visit by visit: drive, sample, report, decide, change the oil.

All engines make their next leg together: a leg ends at a visit. What is decided at a visit
rests on what was reported and seen there, so the legs follow one another in a loop, and each
step in it works on the whole fleet.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from oiltrend.demo.bench import Observed, crude_alarm, observe, renewed_slots, worst_stage
from oiltrend.demo.confounders import (
    CONFOUNDER_INDEX,
    CONFOUNDERS,
    Schedule,
    contaminants,
    copper_shows,
    during,
    fuel_content,
    wear_factors,
)
from oiltrend.demo.garage import TOP_UP_HABITS, Fleet
from oiltrend.demo.laboratory import report, station_of
from oiltrend.demo.materials import SOURCES, signatures
from oiltrend.demo.oil import (
    SAMPLE_KG,
    OilSystem,
    advance,
    ageing,
    fresh_oil,
    mix,
    viscosity,
)
from oiltrend.demo.wearing import Shells, draw_onset, fit_new, progress
from oiltrend.nomenclature import PANEL_INDEX
from oiltrend.records import OPENING_REASONS

__all__ = ["DENSITY", "STRETCHES", "Kind", "Legs", "Stretch", "World", "live"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
DENSITY = 0.85
# Stretches per leg: between them wear, weather and oil level change.
STRETCHES = 6
_OTHER_SOURCES = SOURCES[8:13]
_ALUMINIUM_TIN = 1
# Mean depth at which a bearing lets go and the engine stops (assumed).
_STOPS_UM = 70.0
# Of the distance between two written changes: where a sample is drawn and where the oil is
# then changed by somebody who writes nothing down.
_BEFORE_HIDDEN, _HIDDEN_AT = 0.65, 0.70


class Kind(IntEnum):
    """How a leg ends."""

    MID_FILL = 0
    CHANGE = 1
    CHANGE_UNSAMPLED = 2
    CHANGE_HIDDEN = 3
    OPENING = 4


@dataclass(frozen=True, slots=True)
class Legs:
    """Every leg of every engine; leading axes leg and engine, true values unless said.

    ``oil_km`` counts from the last change, ``written_oil_km`` from the last change that was
    written down; ``written_top_up_l`` likewise. ``sources`` is what entered the oil, mg per
    1000 km, since the sample or change before. ``depth_um``, ``overlay_um`` and ``material``
    are the shells as they arrive at the visit; ``renewed`` marks those replaced there.
    """

    active: Bools
    kind: NDArray[np.int8]
    day: Floats
    km: Floats
    oil_km: Floats
    written_oil_km: Floats
    changed: Bools
    sampled: Bools
    awaited: Bools
    lab: Ints
    station: Ints
    product: Ints
    refill: Ints
    refill_l: Floats
    written_top_up_l: Floats
    lack_l: Floats
    true: Floats
    value: Floats
    qualifier: NDArray[np.int8]
    sources: Floats
    interval_km: Floats
    touched: Bools
    depth_um: Floats
    overlay_um: Floats
    material: Ints
    onset_km: Floats
    worst: NDArray[np.int8]
    opened: Bools
    reason: Ints
    renewed: Bools
    new_material: Ints
    alarm: Bools
    cooler_renewed: Bools
    filter_finding: NDArray[np.int8]
    glitter: NDArray[np.int8]
    noise: NDArray[np.int8]
    pressure_bar: Floats
    top_up_l: Floats
    top_up_km: Floats
    top_up_day: Floats


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch as it was driven, for whoever wants to check the oil balance.

    ``generated`` is in mg (or the measurand's unit times kg); masses in kg. ``top_up_kg`` of
    the ``fresh`` oil follows the stretch.
    """

    leg: int
    km: Floats
    mass_kg: Floats
    content: Floats
    liquid_kg: Floats
    vapour_kg: Floats
    filtered_kg: Floats
    generated: Floats
    end_mass_kg: Floats
    end_content: Floats
    top_up_kg: Floats
    fresh: Floats


@dataclass(slots=True)
class _Now:
    """Where every engine stands; changed as the legs go by."""

    day: Floats
    km: Floats
    mass: Floats
    content: Floats
    used: Floats
    written: Floats
    goal: Floats
    middle: Bools
    hidden_due: Bools
    hidden_passed: Bools
    opening_in: Floats
    opening_reason: Ints
    finished: Bools
    topped_l: Floats
    generated: Floats
    generated_km: Floats
    fill_day: Floats
    product: Ints
    planned_day: Floats
    cooler_km: Floats
    hidden_day: Floats


@dataclass(frozen=True, slots=True)
class World:
    """Everything that does not change, and the sources of chance."""

    fleet: Fleet
    oil: OilSystem
    schedule: Schedule
    bias: Floats
    method_day: float
    others_mg: Floats
    rng: np.random.Generator
    lab_rng: np.random.Generator


def live(world: World, shells: Shells, *, watch: Callable[[Stretch], None] | None = None
         ) -> Legs:
    """Let the fleet live from each engine's first visit to its last.

    Parameters
    ----------
    world : World [-]
        Fleet, oil systems, schedule, laboratories and chance.
    shells : Shells [-]
        Shells at the first visits; changed as they wear.
    watch : callable or None [-]
        Is shown every stretch, for checks of the balance.

    Returns
    -------
    Legs [-]
        Every leg, shape (n_legs, n_engines, …).
    """
    now = _begin(world, shells)
    legs: list[Legs] = []
    while True:
        kind, km, days, final = _plan(world, now)
        active = ~now.finished
        if not active.any():
            break
        top_ups = _drive(world, shells, now, km, days, len(legs), watch)
        legs.append(_visit(world, shells, now, kind, active, final, top_ups))
    return Legs(**{f.name: np.stack([getattr(leg, f.name) for leg in legs])
                   for f in fields(Legs)})


def _begin(world: World, shells: Shells) -> _Now:
    """Make the first visit: a written change; what it replaced was usual oil."""
    fleet, oil, rng = world.fleet, world.oil, world.rng
    n = len(fleet.engine)
    usual = (_others(world, fleet.start_km, shells, np.ones(n), np.ones(n))
             @ signatures()[8:13]) * fleet.interval_km[:, None] / 1000
    fresh = fresh_oil()[oil.product]
    residue = oil.residue_kg[:, None] * fresh + usual * (oil.residue_kg / oil.full_kg)[:, None]
    mass, content = mix(oil.residue_kg, residue, oil.full_kg - oil.residue_kg, fresh)
    zero, never = np.zeros(n), np.zeros(n, dtype=bool)
    planned = np.full(n, np.inf)
    who = fleet.parts["planned_opening"]
    span = (fleet.end_day - fleet.start_day)[who]
    planned[who] = fleet.start_day[who] + rng.uniform(0.3, 0.7, len(who)) * span
    return _Now(
        day=fleet.start_day.copy(), km=fleet.start_km.copy(), mass=mass, content=content,
        used=zero.copy(), written=zero.copy(), goal=fleet.interval_km.copy(),
        middle=rng.random(n) < fleet.mid_fill, hidden_due=never.copy(),
        hidden_passed=never.copy(), opening_in=np.full(n, np.nan),
        opening_reason=np.zeros(n, dtype=np.int64), finished=never.copy(), topped_l=zero.copy(),
        generated=np.zeros((n, len(SOURCES))), generated_km=zero.copy(),
        fill_day=fleet.start_day.copy(), product=oil.product.copy(), planned_day=planned,
        cooler_km=np.full(n, np.inf),
        hidden_day=world.schedule.begin["unrecorded_oil_change"].copy())


def _plan(world: World, now: _Now) -> tuple[NDArray[np.int8], Floats, Floats, Bools]:
    """Where the next leg ends; engines whose next visit lies beyond the history are finished."""
    fleet, rng = world.fleet, world.rng
    n = len(now.day)
    chance = rng.random((2, n))
    to_open = np.isfinite(now.opening_in)
    share = np.where(now.middle, np.where(now.hidden_due, _BEFORE_HIDDEN, 0.5),
                     np.where(now.hidden_due, _HIDDEN_AT, 1.0))
    km = np.maximum(np.where(to_open, now.opening_in, share * now.goal - now.used), 50.0)
    kind = np.select(
        [to_open, now.middle, now.hidden_due, chance[0] < fleet.sampled],
        [Kind.OPENING, Kind.MID_FILL, Kind.CHANGE_HIDDEN, Kind.CHANGE], Kind.CHANGE_UNSAMPLED)
    days = np.maximum(km / fleet.km_per_day * rng.lognormal(0, 0.2, n), 2.0)
    days = np.where(to_open, 14 + 26 * chance[1], days)
    final = now.day + days > fleet.final_day - 45
    days = np.where(final, fleet.final_day - now.day, days)
    km = np.where(final, np.maximum(days, 1.0) * fleet.km_per_day, km)
    kind = np.where(final, Kind.CHANGE, kind)
    now.finished |= ~final & (now.day + days > fleet.end_day)
    going = ~now.finished
    return (kind.astype(np.int8), np.where(going, km, 0.0), np.where(going, days, 0.0),
            final & going)


def _others(world: World, km: Floats, shells: Shells, duty: Floats, bores: Floats) -> Floats:
    """Tell what journals, bores, pistons, valve gear and bushes give off, mg per 1000 km.

    Bores run in with the shells (same distance, assumed); a journal suffers with its shell.
    """
    young = 1 + 2.0 * np.exp(-np.maximum(km - shells.fitted_km[:, 0], 0.0) / 3000)
    rate = world.others_mg * duty[:, None]
    rate[:, 1] *= young * bores
    rate[:, 2] *= bores
    deepest = (shells.depth_um * (shells.area_mm2 > 0)).max(axis=1)
    rate[:, 0] *= 1 + np.minimum(deepest, 100.0) / 10
    return rate


def _drive(world: World, shells: Shells, now: _Now, km: Floats, days: Floats, leg: int,
           watch: Callable[[Stretch], None] | None) -> tuple[Floats, Floats, Floats]:
    """Drive the leg in stretches; the owner tops up between them. Gives litres, km and day."""
    oil, n = world.oil, len(km)
    duty = world.rng.lognormal(0, 0.15, n)
    step, step_days = km / STRETCHES, days / STRETCHES
    topped, at_km, at_day = (np.zeros((STRETCHES, n)) for _ in range(3))
    for number in range(STRETCHES):
        start, end = now.km, now.km + step
        middle_day = now.day + step_days / 2
        shell_factor, bore_factor = wear_factors(world.schedule, middle_day)
        entered = np.concatenate([
            progress(shells, start, end, duty * shell_factor),
            _others(world, start, shells, duty, bore_factor) * step[:, None] / 1000,
            contaminants(world.schedule, oil.full_kg, now.cooler_km, day=middle_day,
                         start_km=start, end_km=end)], axis=1)
        generated = entered @ signatures() + ageing(now.mass, step)
        lost = (oil.liquid * step, oil.vapour * step, oil.filtered * step)
        mass, content = advance(now.mass, now.content, liquid_kg=lost[0], vapour_kg=lost[1],
                                filtered_kg=lost[2], generated=generated)
        lack = oil.full_kg - mass
        # Nobody tops up on the day the oil is drained.
        added = np.where((lack >= oil.top_up_kg) & (number < STRETCHES - 1) & (step > 0),
                         lack, 0.0)
        if watch is not None:
            watch(Stretch(leg, step, now.mass, now.content, *lost, generated, mass, content,
                          added, fresh_oil()[now.product]))
        now.mass, now.content = mix(mass, content, added, fresh_oil()[now.product])
        now.km, now.day = end, now.day + step_days
        now.generated = now.generated + entered
        topped[number], at_km[number], at_day[number] = added / DENSITY, now.km, now.day
    now.used, now.written = now.used + km, now.written + km
    now.generated_km = now.generated_km + km
    now.topped_l = now.topped_l + topped.sum(axis=0)
    return topped, at_km, at_day


def _true_values(world: World, now: _Now) -> Floats:
    """Tell what is in the sump: contents by mass, fuel and viscosity by their own rules."""
    true = now.content / now.mass[:, None]
    fresh = fresh_oil()[now.product]
    fuel = fuel_content(world.schedule, world.oil.fuel_pct, now.day)
    oxidation = PANEL_INDEX["oxidation"]
    kv40, kv100 = viscosity(now.product, now.used, np.maximum(
        true[:, oxidation] - fresh[:, oxidation], 0.0), fuel)
    for symbol, column in (("fuel_pct", fuel), ("KV40", kv40), ("KV100", kv100)):
        true[:, PANEL_INDEX[symbol]] = column
    return np.maximum(true, 0.0)


def _visit(world: World, shells: Shells, now: _Now, kind: NDArray[np.int8], active: Bools,
           final: Bools, top_ups: tuple[Floats, Floats, Floats]) -> Legs:
    """Sample, report, decide, open, change the oil; and write down the leg."""
    fleet, oil, schedule, rng = world.fleet, world.oil, world.schedule, world.rng
    n = len(now.day)
    lab = np.where(now.day >= schedule.begin["lab_change"], 1 - fleet.lab, fleet.lab)
    station = station_of(lab, now.day, world.method_day)
    true = _true_values(world, now)
    value, qualifier = report(world.lab_rng, true, station, world.bias)
    sampled = active & ((kind == Kind.MID_FILL) | (kind == Kind.CHANGE))
    changed = active & (kind != Kind.MID_FILL)
    changed &= (kind != Kind.OPENING) | (rng.random(n) < 0.9)
    seen = observe(rng, shells, changed & (kind != Kind.CHANGE_HIDDEN))
    alarm = crude_alarm(value, qualifier, now.written, seen) & sampled & ~final
    opened, reason = _decide(world, now, kind, active & ~final, alarm, seen, shells)
    renewed = renewed_slots(rng, shells, opened, reason)
    new_material = _new_material(rng, shells, renewed)
    cooler = changed & (now.day >= schedule.begin["cooler_copper"]) & np.isinf(now.cooler_km)
    cooler &= kind == Kind.CHANGE
    refill = np.where(now.day >= oil.switch_day, oil.later_product, oil.product)
    known = np.where(rng.random(n) < 0.8, 1.0, np.nan)
    leg = Legs(
        active=active, kind=kind, day=now.day.copy(), km=now.km.copy(), oil_km=now.used.copy(),
        written_oil_km=now.written.copy(), changed=changed, sampled=sampled,
        awaited=final & sampled, lab=lab, station=station, product=now.product.copy(),
        refill=np.where(changed, refill, -1), refill_l=(oil.full_kg - oil.residue_kg) / DENSITY
        * known, written_top_up_l=now.topped_l.copy(), lack_l=(oil.full_kg - now.mass) / DENSITY,
        true=true, value=value, qualifier=qualifier, sources=_per_1000(now),
        interval_km=now.generated_km.copy(), touched=_touched(world, now),
        depth_um=shells.depth_um.copy(), overlay_um=shells.overlay_um.copy(),
        material=shells.material.copy(), onset_km=shells.onset_km.copy(),
        worst=worst_stage(shells), opened=opened, reason=reason, renewed=renewed,
        new_material=new_material, alarm=alarm, cooler_renewed=cooler,
        filter_finding=seen.filter_finding, glitter=seen.glitter, noise=seen.noise,
        pressure_bar=seen.pressure_bar, top_up_l=top_ups[0].T, top_up_km=top_ups[1].T,
        top_up_day=top_ups[2].T)
    now.cooler_km = np.where(cooler, now.km, now.cooler_km)
    _refit(rng, shells, now, renewed, new_material)
    _start_next(world, now, kind, changed, sampled, refill, alarm)
    now.finished |= final
    return leg


def _per_1000(now: _Now) -> Floats:
    return now.generated / np.maximum(now.generated_km, 1.0)[:, None] * 1000


def _touched(world: World, now: _Now) -> Bools:
    """Which confounders act on a sample drawn now; those that a report alone shows come later."""
    touched = np.zeros((len(now.day), len(CONFOUNDERS)), dtype=bool)
    touched[:, CONFOUNDER_INDEX["cooler_copper"]] = copper_shows(now.cooler_km, now.km)
    for kind in ("dirt", "coolant"):
        touched[:, CONFOUNDER_INDEX[kind]] = during(world.schedule, kind, now.fill_day, now.day)
    touched[:, CONFOUNDER_INDEX["fuel_dilution"]] = during(world.schedule, "fuel_dilution",
                                                           now.day, now.day)
    touched[:, CONFOUNDER_INDEX["unrecorded_oil_change"]] = now.hidden_passed
    nothing_written = world.fleet.habit == TOP_UP_HABITS.index("none")
    touched[:, CONFOUNDER_INDEX["unrecorded_top_ups"]] = nothing_written & (now.topped_l > 0)
    return touched


def _decide(world: World, now: _Now, kind: NDArray[np.int8], active: Bools, alarm: Bools,
            seen: Observed, shells: Shells) -> tuple[Bools, Ints]:
    """Open now, or book an opening; the reasons in the order of their weight."""
    n = len(now.day)
    chance = world.rng.random((3, n))
    due = active & (kind == Kind.OPENING)
    at_change = active & (kind == Kind.CHANGE)
    planned = at_change & (now.day >= now.planned_day)
    other = at_change & ~planned & (chance[0] < 0.012)
    now.planned_day[planned] = np.inf
    opened = due | planned | other
    reason = np.where(due, now.opening_reason, np.where(
        planned, OPENING_REASONS.index("planned"), OPENING_REASONS.index("other")))
    now.opening_in[due] = np.nan
    broken = active & (shells.depth_um.max(axis=1) > _STOPS_UM)
    noisy = active & (seen.noise == 1) & (chance[1] < 0.8)
    by_oil = alarm & (chance[1] < 0.5)
    book = (by_oil | noisy | broken) & ~opened
    why = np.where(broken, OPENING_REASONS.index("failure"), np.where(
        by_oil, OPENING_REASONS.index("alarm"), OPENING_REASONS.index("symptom")))
    now.opening_in = np.where(book, 50 + 350 * chance[2], now.opening_in)
    now.opening_reason = np.where(book, why, now.opening_reason)
    return opened, reason.astype(np.int64)


def _new_material(rng: np.random.Generator, shells: Shells, renewed: Bools) -> Ints:
    """Mostly like for like; three whole sets in ten of early V8 engines become aluminium-tin."""
    whole = renewed.sum(axis=1) >= 2 * shells.rods
    other = whole & shells.v_engine & (rng.random(len(whole)) < 0.3)
    return np.where(other[:, None] & renewed, _ALUMINIUM_TIN, shells.material)


def _refit(rng: np.random.Generator, shells: Shells, now: _Now, renewed: Bools,
           material: Ints) -> None:
    """Put the new shells in. Distress ends when every shell it has hit is renewed."""
    fit_new(rng, shells, renewed, material, now.km)
    spared = ((shells.hit > 0) & ~renewed).any(axis=1)
    cured: Bools = np.asarray(renewed.any(axis=1) & ~spared)
    draw_onset(rng, shells, cured, now.km, now.km)


def _start_next(world: World, now: _Now, kind: NDArray[np.int8], changed: Bools, sampled: Bools,
                refill: Ints, alarm: Bools) -> None:
    """Change the oil where it is changed, take the bottle out, and set the next goal."""
    oil, rng, n = world.oil, world.rng, len(now.day)
    fresh = fresh_oil()[refill]
    concentration = now.content / now.mass[:, None]
    new_mass, new_content = mix(oil.residue_kg, concentration * oil.residue_kg[:, None],
                                oil.full_kg - oil.residue_kg, fresh)
    bottle = np.where(sampled & ~changed, -SAMPLE_KG, 0.0)
    old_mass, old_content = mix(now.mass, now.content, bottle, fresh)
    now.mass = np.where(changed, new_mass, old_mass)
    now.content = np.where(changed[:, None], new_content, old_content)
    now.product = np.where(changed, refill, now.product)
    restart = changed | sampled
    now.generated = np.where(restart[:, None], 0.0, now.generated)
    now.generated_km = np.where(restart, 0.0, now.generated_km)
    hidden = changed & (kind == Kind.CHANGE_HIDDEN)
    written = changed & ~hidden
    now.used = np.where(changed, 0.0, now.used)
    now.written = np.where(written, 0.0, now.written)
    now.topped_l = np.where(written, 0.0, now.topped_l)
    now.fill_day = np.where(changed, now.day, now.fill_day)
    goal = np.clip(world.fleet.interval_km * rng.lognormal(0, 0.10, n), 4500, 12500)
    now.goal = np.where(hidden, (1 - _HIDDEN_AT) * now.goal, np.where(changed, goal, now.goal))
    confirm = np.where(alarm, 0.7, world.fleet.mid_fill)
    now.middle = np.where(written, rng.random(n) < confirm, now.middle & (kind != Kind.MID_FILL))
    due = written & (now.day >= now.hidden_day)
    now.hidden_due = (now.hidden_due | due) & ~hidden
    now.hidden_day = np.where(hidden, np.inf, now.hidden_day)
    now.hidden_passed = (now.hidden_passed | hidden) & ~written
    now.middle |= due

