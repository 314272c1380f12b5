"""Values of outside judges for src/statistics, written to statistics.json beside this file.

Needs numpy, scipy, scikit-learn, statsmodels, pingouin and tableone from PyPI. Run: python statistics_judges.py
The data are invented unless a source stands beside them. The versions used are written into the file.
"""

import importlib.metadata
import json
import pathlib
import re

import numpy as np
import scipy
from scipy import optimize, special, stats
from sklearn import metrics

HERE = pathlib.Path(__file__).parent
out = {
    "note": "written by statistics_judges.py; invented data unless a source is named there",
    "versions": {
        name: importlib.metadata.version(name)
        for name in ("numpy", "scipy", "scikit-learn", "statsmodels", "pingouin", "tableone")
    },
}


def plain(value):
    """Numbers and lists that json can write."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [plain(inner) for inner in value]
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value)
    return value


# distributions
out["distribution"] = {
    "norm_ppf": stats.norm.ppf([0.975, 0.995, 0.6, 1e-6]),
    "t_ppf": stats.t.ppf(0.975, [1, 2, 5, 16, 100]),
    "f_ppf": stats.f.ppf(0.975, [5, 15, 3], [15, 5, 200]),
    "chi2_ppf": stats.chi2.ppf([0.025, 0.975, 0.025, 0.975], [1, 1, 40, 40]),
    "beta_ppf": stats.beta.ppf([0.025, 0.975, 0.025], [20, 21, 1], [2, 1, 300]),
    "binomial": stats.binom.cdf([0, 7, 12], 12, 0.37),
    "tails": [*stats.chi2.sf([3.0, 30.0], 9), 2 * stats.t.sf(2.5, 14), 2 * stats.norm.sf(1.7)],
}

cases = [(0.5, 0.5, 0.3), (2, 30, 0.01), (40, 3, 0.99), (5e5, 500001, 0.4995), (1, 1e7, 1e-7), (2, 9999999, 3e-7)]
cases.append((3e4, 7e4, 0.301))
out["incomplete_beta"] = {
    "cumulative": [special.betainc(*case) for case in cases],
    "quantile": [stats.beta.ppf(0.025, a, b) for a, b, _ in cases],
}
out["distribution"]["large"] = [
    stats.t.ppf(0.975, 1e6),
    stats.t.ppf(0.9995, 3),
    stats.t.ppf(0.975, 0.5),
    stats.f.ppf(0.975, 1.3, 40.7),
    stats.f.ppf(0.025, 200, 1.7),
    stats.chi2.ppf(0.025, 1e5),
    stats.norm.ppf(1 - 1e-12),
]

# descriptive
x = [7.1, 3.2, 9.9, 4.4, 4.4, 8.0, 1.5]
m, s = np.mean(x), np.std(x, ddof=1)
sample = np.round(np.random.default_rng(3).normal(62.0, 9.0, 80), 1)
out["descriptive"] = {
    "summary": [m, s, *stats.t.interval(0.95, 6, m, s / 7**0.5), *np.quantile(x, [0.25, 0.5, 0.75])],
    "sample": sample,
}
for name, bins in (("five", 5), ("sturges", "sturges"), ("fd", "fd")):
    found, edges = np.histogram(sample, bins=bins)
    out["descriptive"][f"histogram_{name}_counts"] = found
    out["descriptive"][f"histogram_{name}_edges"] = edges

# proportions
out["proportion"] = {}
for k, n in ((20, 21), (14, 18), (0, 12)):
    exact = stats.binomtest(k, n).proportion_ci(0.95, method="exact")
    wilson = stats.binomtest(k, n).proportion_ci(0.95, method="wilson")
    out["proportion"][f"k{k}_n{n}"] = {
        "exact_lower": exact.low,
        "exact_upper": exact.high,
        "wilson_lower": wilson.low,
        "wilson_upper": wilson.high,
    }
risk = stats.contingency.relative_risk(20, 21, 4, 18)
interval = risk.confidence_interval(0.95)
out["accuracy"] = {"lr_positive": {"value": risk.relative_risk, "lower": interval.low, "upper": interval.high}}

# ROC: 24 patients, one to four challenges each, scores in steps of 0.5 so that ties occur
rng = np.random.default_rng(20)
patient, positive, first, second = [], [], [], []
for number in range(24):
    shift = rng.normal(0, 2)
    for _ in range(rng.integers(1, 5)):
        responds = bool(rng.random() < 0.45)
        patient.append(number + 1)
        positive.append(responds)
        first.append(round(2 * (12 + shift + 5 * responds + rng.normal(0, 4))) / 2)
        second.append(round(2 * (8 + 0.5 * shift + 2 * responds + rng.normal(0, 4))) / 2)
positive, first, second, patient = map(np.array, (positive, first, second, patient))


def placements(score, positive):
    """Placement of each positive and negative over all pairs, the slow way."""
    wins = lambda a, b: 1.0 if a > b else 0.5 if a == b else 0.0
    up, down = score[positive], score[~positive]
    v10 = np.array([np.mean([wins(a, b) for b in down]) for a in up])
    v01 = np.array([np.mean([wins(a, b) for a in up]) for b in down])
    return v10, v01, v10.mean()


def obuchowski(one, other, positive, patient):
    """Covariance of two clustered areas by the formula of Obuchowski 1997 Biometrics 53:567-78."""
    (a10, a01, a), (b10, b01, b) = placements(one, positive), placements(other, positive)
    m, n = positive.sum(), (~positive).sum()
    up, down = patient[positive], patient[~positive]
    names = sorted(set(patient.tolist()))
    i10, i01, i = len(set(up.tolist())), len(set(down.tolist())), len(names)
    ax = [a10[up == c].sum() - (up == c).sum() * a for c in names]
    ay = [a01[down == c].sum() - (down == c).sum() * a for c in names]
    bx = [b10[up == c].sum() - (up == c).sum() * b for c in names]
    by = [b01[down == c].sum() - (down == c).sum() * b for c in names]
    s10 = i10 / ((i10 - 1) * m) * np.dot(ax, bx)
    s01 = i01 / ((i01 - 1) * n) * np.dot(ay, by)
    s11 = i / (i - 1) * (np.dot(ax, by) + np.dot(ay, bx))
    return s10 / m + s01 / n + s11 / (m * n)


fpr, tpr, t = metrics.roc_curve(positive, first, drop_intermediate=False)
best = int(np.argmax(tpr - fpr))
sensitive = int(np.argmax(tpr >= 0.9))
specific = int(np.max(np.nonzero(1 - fpr >= 0.9 - 1e-12)))
odds = lambda p: p / (1 - p)
with np.errstate(divide="ignore", invalid="ignore"):
    lr_negative = (1 - tpr) / (1 - fpr)
    lr_positive = np.where(fpr > 0, tpr / fpr, np.where(tpr > 0, np.inf, 0))
ruled_out = int(np.argmax(lr_negative <= odds(0.15) / odds(0.45)))
ruled_in = int(np.max(np.nonzero(lr_positive >= odds(0.8) / odds(0.45))))


def inside(low, high):
    return float(np.mean((first >= t[low]) & (first < t[high])))


boot = np.random.default_rng(99)
up, down = np.nonzero(positive)[0], np.nonzero(~positive)[0]
chosen, optimism = [], []
original_tpr = lambda cut: np.mean(first[positive] >= cut)
original_fpr = lambda cut: np.mean(first[~positive] >= cut)
for _ in range(20000):
    index = np.concatenate([boot.choice(up, len(up)), boot.choice(down, len(down))])
    bf, bt, cut = metrics.roc_curve(positive[index], first[index], drop_intermediate=False)
    j = bt - bf
    ties = np.nonzero(j >= j.max() - 1e-12)[0]
    balance = np.abs(bt[ties] - (1 - bf[ties]))
    pick = ties[np.nonzero(balance <= balance.min() + 1e-12)[0][-1]]
    chosen.append(cut[pick])
    optimism.append(j[pick] - (original_tpr(cut[pick]) - original_fpr(cut[pick])))
cov = lambda a, b: obuchowski(a, b, positive, patient)
out["roc"] = {
    "patient": patient,
    "positive": positive,
    "first": first,
    "second": second,
    "sklearn_auc_first": metrics.roc_auc_score(positive, first),
    "sklearn_auc_minus_first": metrics.roc_auc_score(positive, -first),
    "sklearn_fpr": fpr,
    "sklearn_tpr": tpr,
    "sklearn_thresholds_after_first": t[1:],
    "youden_first": [t[best], tpr[best], 1 - fpr[best]],
    "fixed_first": [t[sensitive], t[specific]],
    "gray_accuracy": [t[sensitive], t[specific], inside(sensitive, specific)],
    "gray_post_test": [t[ruled_out], t[ruled_in], inside(ruled_out, ruled_in)],
    "obuchowski_var_first": cov(first, first),
    "obuchowski_se_difference": (cov(first, first) + cov(second, second) - 2 * cov(first, second)) ** 0.5,
    "youden_bootstrap_90": np.quantile(chosen, [0.05, 0.95]),
    "youden_optimism": np.mean(optimism),
}

# what a threshold chosen on 20 + 20 patients appears to achieve, and truly does
boot = np.random.default_rng(1)
shift = 2 * stats.norm.ppf(0.84)
apparent, true = [], []
for _ in range(20000):
    up, down = np.sort(boot.normal(shift, 1, 20)), np.sort(boot.normal(0, 1, 20))
    cut = np.concatenate([up, down])
    both = (1 - np.searchsorted(up, cut, "left") / 20 + np.searchsorted(down, cut, "left") / 20) / 2
    pick = np.argmax(both)
    apparent.append(both[pick])
    true.append((stats.norm.sf(cut[pick] - shift) + stats.norm.cdf(cut[pick])) / 2)


def best_cut(up, down):
    """Cut of maximal Youden index in each row, the balanced one of ties, with (sens + spec) / 2."""
    cut = np.concatenate([up, down], axis=1)
    sens = (up[:, :, None] >= cut[:, None, :]).mean(1)
    spec = (down[:, :, None] < cut[:, None, :]).mean(1)
    both = (sens + spec) / 2
    i = (both - 1e-6 * np.abs(sens - spec)).argmax(1)
    rows = np.arange(len(i))
    return cut[rows, i], both[rows, i]


corrected = []
for _ in range(2000):
    up, down = boot.normal(shift, 1, 20), boot.normal(0, 1, 20)
    _, seen = best_cut(up[None], down[None])
    cut, both = best_cut(up[boot.integers(0, 20, (200, 20))], down[boot.integers(0, 20, (200, 20))])
    original = ((up[None] >= cut[:, None]).mean(1) + (down[None] < cut[:, None]).mean(1)) / 2
    corrected.append(seen[0] - np.mean(both - original))
out["roc"]["forty_patients"] = [np.mean(apparent), np.mean(corrected), np.mean(true)]

# straight line: Norris from the NIST data inside the scipy wheel, and an invented set
nist = pathlib.Path(scipy.__file__).parent / "stats/tests/data/nist_linregress/Norris.dat"
rows = [line.split() for line in nist.read_text().splitlines()[60:96]]
norris = np.array([[float(a), float(b)] for a, b in rows])
rng = np.random.default_rng(7)
line_x = np.round(rng.uniform(5, 25, 30), 1)
line_y = np.round(3 + 0.8 * line_x + rng.normal(0, 2.5, 30), 2)
out["line"] = {"norris_y": norris[:, 0], "norris_x": norris[:, 1], "x": line_x, "y": line_y}

# LOWESS, with repeated x and an outlier
from statsmodels.nonparametric.smoothers_lowess import lowess

low_x = np.sort(np.round(rng.uniform(0, 20, 40), 0))
low_y = np.round(10 * np.sin(low_x / 4) + rng.normal(0, 1.5, 40), 2)
low_y[11] += 30
out["lowess"] = {
    "x": low_x,
    "y": low_y,
    "statsmodels_plain": lowess(low_y, low_x, frac=0.5, it=0, delta=0, return_sorted=False),
}

# saturating curve with a baseline
dose = np.repeat([0.0, 50, 100, 200, 300, 500, 750], 4)
response = np.round(60 + 25 * dose / (140 + dose) + rng.normal(0, 1.5, len(dose)), 2)
curve = lambda x, b, r, h: b + r * x / (h + x)
p, c = optimize.curve_fit(curve, dose, response, p0=[60, 30, 150], ftol=1e-14, xtol=1e-14, gtol=1e-14)
out["saturation"] = {
    "dose": dose,
    "response": response,
    "parameters": p,
    "errors": np.sqrt(np.diag(c)),
    "deviation": (np.sum((response - curve(dose, *p)) ** 2) / (len(dose) - 3)) ** 0.5,
}

# changes
before = np.round(rng.lognormal(1.5, 0.35, 25), 2)
after = np.round(before * rng.lognormal(0.12, 0.15, 25), 2)


def mean_with_interval(values):
    found = stats.ttest_1samp(values, 0).confidence_interval(0.95)
    return [np.mean(values), found.low, found.high]


ratio = np.mean(after) / np.mean(before)
v = np.cov(after, before)
error = ((v[0, 0] - 2 * ratio * v[0, 1] + ratio**2 * v[1, 1]) / 25) ** 0.5 / np.mean(before)
half = stats.t.ppf(0.975, 24) * error
out["change"] = {
    "before": before,
    "after": after,
    "mean_of_per_cents": mean_with_interval(100 * (after - before) / before),
    "geometric": [100 * np.expm1(g) for g in mean_with_interval(np.log(after / before))],
    "per_cent_of_means": [100 * (ratio - 1), 100 * (ratio - 1 - half), 100 * (ratio - 1 + half)],
}

# medians
owner = np.repeat(np.arange(1, 16), 4)
values = np.round(np.repeat(rng.normal(15, 5, 15), 4) + rng.normal(0, 2, 60), 1)
boot = np.random.default_rng(5)
groups = [values[owner == i] for i in range(1, 16)]
resampled = [np.median(np.concatenate([groups[i] for i in boot.integers(0, 15, 15)])) for _ in range(20000)]
found = stats.bootstrap((values,), np.median, n_resamples=20000, confidence_level=0.9, method="percentile", rng=1)
out["median"] = {
    "values": values,
    "patient": owner,
    "bootstrap_90": list(found.confidence_interval),
    "cluster_bootstrap_90": np.quantile(resampled, [0.05, 0.95]),
}

# agreement
import pandas as pd
import pingouin
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

truth = rng.lognormal(1.6, 0.3, 40)
a = np.round(truth * 1.15 + rng.normal(0, 0.5, 40), 2)
b = np.round(truth * 0.9 + rng.normal(0, 0.5, 40), 2)
d, s, n = a - b, np.std(a - b, ddof=1), 40
half = stats.t.ppf(0.975, n - 1) * s * np.sqrt(1 / n + 1.96**2 / (2 * (n - 1)))
low = np.mean(d) - 1.96 * s
r = stats.linregress((a + b) / 2, d)
out["agreement"] = {
    "first": a,
    "second": b,
    "limits": [low - half, low + half, 196 * s / np.mean((a + b) / 2), r.slope, r.pvalue],
}

sizes = rng.integers(2, 7, 12)
owner = np.repeat(np.arange(1, 13), sizes)
a = np.round(np.repeat(rng.normal(5, 1, 12), sizes) + rng.normal(0, 0.4, len(owner)), 2)
b = np.round(a - 0.4 + np.repeat(rng.normal(0, 0.6, 12), sizes) + rng.normal(0, 0.4, len(owner)), 2)
frame = pd.DataFrame({"d": a - b, "patient": owner})
table = anova_lm(ols("d ~ C(patient)", frame).fit())
total, squares = sizes.sum(), (sizes**2).sum()
size = (total**2 - squares) / (11 * total)
within = table.mean_sq["Residual"]
between = (table.mean_sq["C(patient)"] - within) / size
sd = (within + between) ** 0.5
out["repeated"] = {
    "first": a,
    "second": b,
    "patient": owner,
    "components": [np.mean(a - b), within, between, sd, np.mean(a - b) - 1.96 * sd, np.mean(a - b) + 1.96 * sd],
}

one_size, two_size = rng.integers(2, 5, 10), rng.integers(2, 6, 10)
truth = rng.normal(70, 12, 10)
one = pd.DataFrame({"p": np.repeat(np.arange(1, 11), one_size)})
one["x"] = np.round(np.repeat(truth, one_size) + rng.normal(0, 4, len(one)), 1)
two = pd.DataFrame({"p": np.repeat(np.arange(1, 11), two_size)})
two["x"] = np.round(np.repeat(truth + rng.normal(3, 5, 10), two_size) + rng.normal(0, 7, len(two)), 1)


def pooled(frame):
    """Residual mean square of a one-way layout."""
    g = frame.groupby("p").x
    return ((g.count() - 1) * g.var()).sum() / (len(frame) - g.ngroups)


means = one.groupby("p").x.mean() - two.groupby("p").x.mean()
variance = (
    means.var()
    + (1 - np.mean(1 / one_size)) * pooled(one)
    + (1 - np.mean(1 / two_size)) * pooled(two)
)
out["replicates"] = {
    "first": one.x.to_numpy(),
    "first_patient": one.p.to_numpy(),
    "second": two.x.to_numpy(),
    "second_patient": two.p.to_numpy(),
    "components": [means.mean(), pooled(one), pooled(two), variance**0.5],
}

# Shrout & Fleiss 1979 Psychol Bull 86:420-8, table 2 (memory); intervals in full digits
judges = [[9, 6, 8, 7, 10, 6], [2, 1, 4, 1, 5, 2], [5, 3, 6, 2, 6, 4], [8, 2, 8, 6, 9, 7]]
frame = pd.DataFrame(
    [(t, j, float(judges[j][t])) for j in range(4) for t in range(6)], columns=["target", "judge", "score"]
)
pingouin.options["round.column.CI95"] = 12
table = pingouin.intraclass_corr(frame, "target", "judge", "score").set_index("Type")
row = lambda name: [table.ICC[name], *table["CI95"][name]]
out["icc"] = {"agreement": row("ICC(A,1)"), "consistency": row("ICC(C,1)")}

frame = pd.DataFrame({"subject": np.repeat(np.arange(1, 13), 3)})
frame["x"] = np.round(np.repeat(rng.normal(20, 3, 12), 3) * rng.normal(1, 0.06, 36), 2)
table = anova_lm(ols("x ~ C(subject)", frame).fit())
s, f = table.mean_sq["Residual"] ** 0.5, table.df["Residual"]
g = frame.groupby("subject").x
out["repeatability"] = {
    "readings": frame.x.to_numpy(),
    "subject": frame.subject.to_numpy(),
    "judge": [
        s,
        s * (f / stats.chi2.ppf(0.975, f)) ** 0.5,
        s * (f / stats.chi2.ppf(0.025, f)) ** 0.5,
        100 * np.mean((g.std() / g.mean()) ** 2) ** 0.5,
    ],
}

# quality
values = np.round(np.concatenate([rng.normal(50, 2, 20), rng.normal(52.5, 2, 15)]), 1)
high, low, highs, lows = 0.0, 0.0, [], []
for value in values:
    high = max(0.0, high + value - 50.0 - 1.0)
    low = max(0.0, low + 50.0 - 1.0 - value)
    highs.append(high)
    lows.append(low)
funnel = []
for n in (12, 40, 400):
    for p in (0.025, 0.975, 0.001, 0.999):
        # the upper limit of a share is the lower one of its complement, mirrored
        tail, share = (p, 0.2) if p < 0.5 else (1 - p, 0.8)
        r = stats.binom.ppf(tail, n, share)
        at, before_it = stats.binom.cdf(r, n, share), stats.binom.cdf(r - 1, n, share)
        limit = (r - (at - tail) / (at - before_it)) / n
        funnel.append(limit if p < 0.5 else 1 - limit)
funnel_places = []
for n in (1, 2, 6, 12, 30):
    for share in (0.1, 0.5, 0.878):
        for count in range(n + 1):
            tail = min(stats.binom.cdf(count, n, share), stats.binom.sf(count - 1, n, share))
            funnel_places.append(2 if tail <= 0.001 else 1 if tail <= 0.025 else 0)
tenths = np.round(rng.normal(205, 30, 150)).astype(int)
tenths = np.where(rng.random(150) < 0.3, 5 * np.round(tenths / 5).astype(int), tenths)
digits = np.bincount(tenths % 10, minlength=10)
test = stats.chisquare(digits)
out["quality"] = {
    "values": values,
    "ewma": pd.Series([50.0, *values]).ewm(alpha=0.2, adjust=False).mean().to_numpy()[1:],
    "cusum_high": highs,
    "cusum_low": lows,
    "funnel_binomial": funnel,
    "funnel_places": funnel_places,
    "digits_values": tenths / 10,
    "digits_counts": digits,
    "digits_chi_square": test.statistic,
    "digits_p": test.pvalue,
}

from statsmodels.stats.multitest import multipletests

out["many_looks"] = {"holm": multipletests([0.01, 0.04, 0.03, 0.005, 0.6], method="holm")[1]}


# differences in standard deviations
from tableone.statistics import Statistics

one = [14.5, 14.2, 18.8, 20.1, 16.0, 17.3, 12.9, 15.5, 19.0, 14.8, 16.6]
other = [12.1, 10.4, 15.9, 9.8, 13.3, 18.2]
moments = {"mean1": np.mean(one), "mean2": np.mean(other), "sd1": np.std(one, ddof=1), "sd2": np.std(other, ddof=1)}
out["standardized_difference"] = {
    "means": Statistics()._cont_smd(n1=len(one), n2=len(other), **moments),
    "shares": Statistics()._cat_smd([32 / 40, 8 / 40], [14 / 25, 11 / 25], n1=40, n2=25),
}


# patients who repeat: cluster-robust errors
import statsmodels.api as sm
from statsmodels.stats.proportion import proportion_confint

own = np.random.default_rng(11)
patient = np.repeat(np.arange(1, 15), own.integers(1, 6, 14))
again = lambda spread: np.repeat(own.normal(0, spread, 14), np.bincount(patient)[1:])
before = np.round(4.5 * np.exp(again(0.25) + own.normal(0, 0.08, patient.size)), 2)
after = np.round(before * np.exp(0.1 + again(0.12) + own.normal(0, 0.05, patient.size)), 2)
clustered = {"cov_type": "cluster", "cov_kwds": {"groups": patient}, "use_t": True}


def robust_mean(values):
    fit = sm.OLS(values, np.ones(values.size)).fit(**clustered)
    return [fit.params[0], *fit.conf_int(0.05)[0]]


one_slope = sm.WLS(after, before, weights=1 / before).fit(**clustered)
tilted = sm.OLS(after - before, sm.add_constant(before)).fit(**clustered)
positive = (after / before > 1.1).astype(int)
share = sm.OLS(positive, np.ones(patient.size)).fit(**clustered)
p, n = positive.mean(), patient.size
deff = share.bse[0] ** 2 / (p * (1 - p) / n)
alpha = 2 * stats.norm.sf(stats.t.ppf(0.975, 13))
out["clustered"] = {
    "patient": patient,
    "before": before,
    "after": after,
    "mean_of_per_cents": robust_mean(100 * (after - before) / before),
    "mean_log_ratio": robust_mean(np.log(after / before)),
    "per_cent_of_means": [100 * (v - 1) for v in (one_slope.params[0], *one_slope.conf_int(0.05)[0])],
    "line": [
        tilted.params[1],
        *tilted.conf_int(0.05)[1],
        *tilted.conf_int(0.05)[0],
        *tilted.t_test([1, 4.5]).conf_int(0.05)[0],
    ],
    "positive": positive,
    "share": [p, deff, *proportion_confint(p * n / deff, n / deff, alpha, "wilson")],
}


# repeatability where patients contribute several exams, some of whom scatter more
generator = np.random.default_rng(7)
patient = np.repeat(np.arange(12), [4, 2, 3, 4, 1, 5, 2, 4, 3, 4, 2, 6])
spreads = generator.choice([0.3, 1.2], size=12)
readings = np.round(18 + generator.normal(0, 2, (patient.size, 1)) + generator.normal(0, 1, (patient.size, 2)) * spreads[patient, None], 2)
squares = (readings[:, 0] - readings[:, 1]) ** 2 / 2
resampled = []
for _ in range(40000):
    drawn = np.concatenate([np.flatnonzero(patient == p) for p in generator.integers(0, 12, 12)])
    resampled.append(squares[drawn].mean() ** 0.5)
out["repeatability"]["by_patient"] = {
    "readings": readings.ravel(),
    "patient": patient,
    "judge": [squares.mean() ** 0.5, *np.quantile(resampled, [0.025, 0.975])],
}


# responders that error alone would make, in the unit of a difference
repeats = np.array([4.0, -6.5, 3.0, 1.5, -2.0, 9.0, -7.5, 0.5, 5.0, -4.5, 6.0, -1.0])
spread = (repeats**2).mean() ** 0.5
freedom = len(repeats)
out["change_error"] = {
    "repeats": repeats,
    "difference": [
        stats.norm.sf(10, scale=8 / 1.96),
        stats.norm.cdf(-4, scale=8 / 1.96),
        spread,
        *(spread * (freedom / stats.chi2.ppf([0.975, 0.025], freedom)) ** 0.5),
        stats.norm.sf(6, scale=spread),
    ],
}


# sample sizes for the width of an interval
from statsmodels.stats.proportion import samplesize_confint_proportion


def least(first, width, width_of):
    """The least n from `first` on whose interval is not wider, counted up one by one."""
    return next(n for n in range(first, 100000) if width_of(n) <= width)


def share_width(p, method):
    def width(n):
        low, high = proportion_confint(n * p, n, 0.05, method)
        return high - low

    return width


def area_width(area, ratio):
    def width(m):
        n = np.ceil(m * ratio)
        q1, q2 = area / (2 - area), 2 * area**2 / (1 + area)
        v = (area * (1 - area) + (m - 1) * (q1 - area**2) + (n - 1) * (q2 - area**2)) / (m * n)
        return 2 * stats.norm.ppf(0.975) * v**0.5

    return width


shares = [(0.9, 0.2), (0.85, 0.1), (0.5, 0.12), (0.98, 0.05)]
areas = [(0.8, 0.1, 1.0), (0.9, 0.1, 3.0), (0.7, 0.2, 0.5)]
mean_width = lambda n: 2 * stats.t.ppf(0.975, n - 1) / n**0.5
limit_width = lambda n: 2 * stats.t.ppf(0.975, n - 1) * (1 / n + 1.96**2 / (2 * (n - 1))) ** 0.5
out["sample_size"] = {
    "normal": [int(np.ceil(samplesize_confint_proportion(p, w / 2, 0.05))) for p, w in shares],
    "wilson": [least(1, w, share_width(p, "wilson")) for p, w in shares],
    "exact": [least(1, w, share_width(p, "beta")) for p, w in shares],
    "hanley_mcneil": [least(2, w, area_width(a, k)) for a, w, k in areas],
    "mean": [least(2, w, mean_width) for w in (0.5, 1.0)],
    "limit": [least(3, w, limit_width) for w in (0.5, 1.0)],
}


text = json.dumps(plain(out), indent=1)
# Lists of plain values on one line each.
text = re.sub(r"\[\s+([^\[\]{}]*?)\s+\]", lambda hit: "[" + re.sub(r"\s*\n\s*", " ", hit.group(1)) + "]", text)
(HERE / "statistics.json").write_text(text + "\n")
