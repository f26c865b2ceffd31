"""Our estimators beside R's survey package on the school survey data it carries (Debian r-cran-survey)."""

from __future__ import annotations

import json
import shutil
import subprocess

import numpy as np
import pytest

from conftest import missing
from overwood.science import intervals, survey

SCRIPT = r"""
suppressMessages(library(survey)); data(api)
srs <- svydesign(id = ~1, fpc = ~fpc, data = apisrs)
str <- svydesign(id = ~1, strata = ~stype, fpc = ~fpc, data = apistrat)
nof <- svydesign(id = ~1, strata = ~stype, weights = ~pw, data = apistrat)
one <- svymean(~api00, srs); two <- svymean(~api00, str); three <- svymean(~api00, nof)
rat <- svyratio(~api00, ~api99, svydesign(id = ~1, weights = ~1, data = apisrs))
clu <- svydesign(id = ~dnum, weights = ~1, data = apiclus1); four <- svymean(~api00, clu)
apiclus1$high <- apiclus1$api00 > 600
part <- svyciprop(~I(high), svydesign(id = ~dnum, weights = ~1, data = apiclus1), method = "beta", level = 0.9)
num <- function(x) paste(format(x, digits = 15), collapse = ",")
cat("{", paste0('"srs":[', num(apisrs$api00), '],"x":[', num(apisrs$api99), '],"y":[', num(apistrat$api00),
  '],"stratum":["', paste(apistrat$stype, collapse = '","'), '"],"fpc":[', num(apistrat$fpc), '],"mean_srs":',
  num(coef(one)), ',"se_srs":', num(SE(one)), ',"mean_str":', num(coef(two)), ',"se_str":', num(SE(two)),
  ',"se_nof":', num(SE(three)), ',"ratio":', num(coef(rat)), ',"se_ratio":', num(SE(rat)),
  ',"clu":[', num(apiclus1$api00), '],"dnum":[', num(apiclus1$dnum), '],"mean_clu":', num(coef(four)), ',"se_clu":', num(SE(four)),
  ',"part":', num(coef(part)), ',"part_ends":[', num(confint(part)), ']'), "}")
"""


@pytest.fixture(scope="module")
def r_answers():
    if shutil.which("Rscript") is None:
        missing("R with its survey package (Debian package r-cran-survey)")
    done = subprocess.run(["Rscript", "-e", SCRIPT], capture_output=True, text=True, check=False)
    if done.returncode:
        missing("R's survey package (Debian package r-cran-survey)")
    return json.loads(done.stdout)


def test_a_simple_sample_gives_the_same_mean_and_error(r_answers):
    ours = survey.sample_mean(r_answers["srs"], level=0.95, population=6194)

    assert ours.mean == pytest.approx(r_answers["mean_srs"], rel=1e-9)
    assert ours.se == pytest.approx(r_answers["se_srs"], rel=1e-9)
    # The figures printed in the package's manual.
    assert (ours.mean, ours.se) == (pytest.approx(656.585, abs=5e-4), pytest.approx(9.2497, abs=5e-5))


def _strata(r_answers):
    y, names, fpc = (np.array(r_answers[key]) for key in ("y", "stratum", "fpc"))
    strata = sorted(set(names.tolist()))
    parts = [y[names == name] for name in strata]
    sizes = [float(fpc[names == name][0]) for name in strata]
    return [p.mean() for p in parts], [p.var(ddof=1) for p in parts], [len(p) for p in parts], sizes


def test_a_stratified_sample_gives_the_same_mean_and_error(r_answers):
    means, variances, counts, sizes = _strata(r_answers)

    ours = survey.stratified_mean(means, variances, counts, sizes, level=0.95, populations=sizes)

    assert ours.mean == pytest.approx(r_answers["mean_str"], rel=1e-9)
    assert ours.se == pytest.approx(r_answers["se_str"], rel=1e-9)


def test_strata_without_a_finite_population_give_the_same_error(r_answers):
    means, variances, counts, sizes = _strata(r_answers)

    ours = survey.stratified_mean(means, variances, counts, sizes, level=0.95)

    # The data carry weights rounded to five digits, so the eighth digit differs.
    assert ours.se == pytest.approx(r_answers["se_nof"], rel=1e-7)


def test_a_ratio_of_means_gives_the_same_error(r_answers):
    ratio, se = survey.ratio_of_means(r_answers["srs"], r_answers["x"])

    assert ratio == pytest.approx(r_answers["ratio"], rel=1e-9)
    assert se == pytest.approx(r_answers["se_ratio"], rel=1e-9)


def test_plots_in_groups_give_the_same_mean_and_error(r_answers):
    ours = intervals.group_mean(r_answers["clu"], np.array(r_answers["dnum"]).astype(int))

    assert ours.mean == pytest.approx(r_answers["mean_clu"], rel=1e-9)
    assert ours.se == pytest.approx(r_answers["se_clu"], rel=1e-9)


def test_a_share_in_groups_has_nearly_the_ends_of_the_exact_interval_on_the_same_looks(r_answers):
    _, place = np.unique(r_answers["dnum"], return_inverse=True)
    hits, looks = np.bincount(place, weights=np.array(r_answers["clu"]) > 600), np.bincount(place)
    low, high = intervals.share_interval(hits, looks, level=0.9)

    # R takes the exact (beta) interval on the looks of Korn and Graubard, which is wider than the score interval on the same looks.
    assert hits.sum() / looks.sum() == pytest.approx(r_answers["part"], rel=1e-9)
    least, most = r_answers["part_ends"]
    assert least - 0.005 <= low <= least + 0.05
    assert most - 0.05 <= high <= most + 0.005
