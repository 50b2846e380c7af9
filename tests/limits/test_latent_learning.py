"""What a family has in common: against an iterative mixed model, and with truth known."""

import numpy as np
import pytest

from oiltrend.limits.latent import learn_levels, rate_readings
from oiltrend.limits.latent_learning import FEW_ENGINES, LEAST_SPREAD, Priors, learn_family
from tests.limits.simulated import fleet


def mixed_model(logs, engine):
    """Fit by statsmodels: mean, standard deviation between groups and within, by REML."""
    smf = pytest.importorskip("statsmodels.formula.api")
    pd = pytest.importorskip("pandas")
    fit = smf.mixedlm("y ~ 1", pd.DataFrame({"y": logs, "g": engine}), groups="g").fit(reml=True)
    return (float(fit.params["Intercept"]), float(np.sqrt(fit.cov_re.iloc[0, 0])),
            float(np.sqrt(fit.scale)))


def test_nothing_censored_and_no_error_is_the_mixed_model():
    rng = np.random.default_rng(21)
    engine = np.arange(140).repeat(7)
    logs = rng.normal(1.0, 0.45, 140)[engine] + rng.normal(0.0, 0.25, engine.size)
    told = rate_readings(np.exp(logs)[:, None], 1e-9)
    family = learn_family(told, np.arange(0, engine.size, 7), np.arange(140))
    mean, spread, scatter = mixed_model(logs, engine)
    assert family.level[0] == pytest.approx(mean, abs=0.02)
    assert family.spread[0] == pytest.approx(spread, rel=0.03)
    assert family.scatter[0] == pytest.approx(scatter, rel=0.03)


def test_dyestuff_six_batches():
    # Davies and Goldsmith 1972 (lme4::Dyestuff): REML 1527.5, between 42.0, within 49.51; as log
    # rates in units of 100 around 1500. With six groups the weak priors count for something.
    yields = np.array([
        1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
        1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445])
    told = rate_readings(np.exp((yields - 1500) / 100)[:, None], 1e-9)
    family = learn_family(told, np.arange(0, 30, 5), np.arange(6))
    assert family.level[0] == pytest.approx(0.275, abs=0.02)
    assert family.spread[0] == pytest.approx(0.42, rel=0.12)
    assert family.scatter[0] == pytest.approx(0.495, rel=0.05)
    flat = learn_family(told, np.arange(0, 30, 5), np.arange(6), priors=Priors(doubt=5.0))
    assert flat.scatter[0] == pytest.approx(0.495, rel=0.05)
    assert flat.spread[0] == pytest.approx(0.42, rel=0.2)


@pytest.mark.parametrize("bound", [None, 4.5, 7.0])
def test_truth_comes_back_through_error_and_reporting_limit(bound):
    seen = fleet(np.random.default_rng(22), 600, 10, bound=bound)
    [family] = learn_levels(seen.readings, seen.starts, seen.family)
    assert seen.below.mean() == pytest.approx({None: 0.0, 4.5: 0.5, 7.0: 0.8}[bound], abs=0.04)
    # Learned from 150 engines: standard errors 0.035, 0.025 and 0.008 where nothing is hidden.
    wide = 1.0 if bound is None else 2.0
    assert family.level[0] == pytest.approx(1.5, abs=0.1 * wide)
    assert family.spread[0] == pytest.approx(0.4, abs=0.07 * wide)
    assert family.scatter[0] == pytest.approx(0.3, abs=0.025 * wide)


def test_hidden_readings_taken_for_their_bound_would_be_found_out():
    seen = fleet(np.random.default_rng(22), 600, 10, bound=4.5)
    as_numbers = rate_readings(seen.readings.high, seen.readings.uncertainty, relative=0.08)
    [family] = learn_levels(as_numbers, seen.starts, seen.family)
    assert family.level[0] > 1.65


def test_worn_engines_do_not_widen_what_is_learned():
    rng = np.random.default_rng(23)
    shift = np.zeros((400, 12, 1))
    shift[:48, 7:] = rng.uniform(1.0, 2.5, (48, 1, 1))  # 12 % of the engines from one day on
    seen = fleet(rng, 400, 12, shift=rng.permutation(shift))
    [family] = learn_levels(seen.readings, seen.starts, seen.family)
    assert family.scatter[0] < 0.335
    assert family.spread[0] < 0.47
    logs = np.log(np.fmax(seen.true, 0.5))
    assert np.sqrt(logs.var(axis=1, ddof=1).mean()) > 0.4  # what a plain pooled spread would be


def test_engines_that_cannot_be_told_apart_are_said_to_be():
    seen = fleet(np.random.default_rng(24), 300, 10, spread=0.0)
    [family] = learn_levels(seen.readings, seen.starts, seen.family, priors=Priors(doubt=3.0))
    assert family.spread[0] == pytest.approx(LEAST_SPREAD, rel=0.15)
    assert family.floored[0]
    apart = fleet(np.random.default_rng(24), 300, 10)
    assert not learn_levels(apart.readings, apart.starts, apart.family)[0].floored[0]


def test_one_engine_has_the_priors_and_three_have_begun_to_speak():
    alone = fleet(np.random.default_rng(25), 1, 6)
    [family] = learn_levels(alone.readings, alone.starts, alone.family)
    assert family.others.shape == (1, 1, 5, 64)
    assert family.spread[0] == pytest.approx(Priors().spread, rel=0.1)
    three = fleet(np.random.default_rng(25), 3, 20, scatter=0.6, fixed=0.2)
    [known] = learn_levels(three.readings, three.starts, three.family)
    assert 0.45 < known.scatter[0] < 0.75
    assert known.engines.tolist() == [3]
    many = fleet(np.random.default_rng(25), FEW_ENGINES, 3)
    [told] = learn_levels(many.readings, many.starts, many.family)
    assert told.others is None
    assert told.start.shape == (1, 1, 64)


def test_an_engine_of_few_is_judged_without_its_own_part():
    # Two sound engines and one far off: for the odd one its own data must not speak.
    rng = np.random.default_rng(26)
    rates = np.exp(rng.normal(1.0, 0.2, (3, 8)))
    rates[2] *= 8.0
    told = rate_readings(rates.reshape(-1, 1), 0.1)
    [family] = learn_levels(told, [0, 8, 16], [0, 0, 0])
    middle = (family.others.sum(axis=2)[:, 0] * family.grid.logs()).sum(axis=1)
    assert middle[2] < middle[0]
    assert middle[2] == pytest.approx(1.0, abs=0.3)


def test_a_measurand_nobody_reported_changes_nothing_else():
    seen = fleet(np.random.default_rng(27), 80, 6)
    empty = np.full_like(seen.readings.low, np.nan)
    both = rate_readings(np.hstack([empty, seen.readings.low]),
                         np.hstack([empty, seen.readings.uncertainty]), relative=0.08)
    [two] = learn_levels(both, seen.starts, seen.family)
    [one] = learn_levels(seen.readings, seen.starts, seen.family)
    assert two.engines.tolist() == [0, 80]
    assert np.isnan([two.level[0], two.spread[0], two.scatter[0]]).all()
    assert not two.floored[0]
    for name in ("level", "spread", "scatter"):
        assert getattr(two, name)[1] == pytest.approx(getattr(one, name)[0], rel=1e-5)
