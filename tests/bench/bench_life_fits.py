"""Censored life fits against R's survreg and lifelines: one fit, and a bootstrap of 10,000 replicates.

Goals: twice as fast as R for one fit at every size; the bootstrap of a 24-cutter fit 100 times a loop over R's
survreg and 10,000 times a loop over lifelines, agreeing with R to 1e-8 at the worst replicate.

Run: python tests/bench/bench_life_fits.py [--lifelines PYTHON]
R is used when Rscript with survival is on the path; lifelines when a Python that has it is named (it holds pandas
below 3, so it does not belong into this environment). All times are of the processor, best of several runs.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from side_by_side import alternate, table

from wearlab.stats.censored import fit_lives
from wearlab.stats.censored_many import fit_lives_many
from wearlab.stats.lives import Lives

REPLICATES, R_PART, LIFELINES_PART = 10_000, 1_000, 10

R_SCRIPT = """
suppressMessages(library(survival))
folder <- commandArgs(TRUE)[1]; dist <- commandArgs(TRUE)[2]
d <- read.csv(file.path(folder, "rows.csv"))
counts <- as.matrix(read.csv(file.path(folder, "counts.csv"), header = FALSE))
one <- function(i, control) survreg(Surv(time, failed) ~ x, d[i, ], dist = dist, control = control)
rows <- lapply(seq_len(nrow(counts)), function(k) rep(seq_len(nrow(d)), counts[k, ]))
default <- survreg.control()
elapsed <- min(sapply(1:3, function(r) sum(system.time(for (i in rows) one(i, default))[1:2])))
# From its own start survreg now and then runs off or stops 30 log-likelihood units short, and says nothing. So it is
# also started from the least-squares line, and the better of the two counts.
control <- survreg.control(rel.tolerance = 1e-15, iter.max = 100)
tight <- function(i) {
  start <- coef(lm(log(time) ~ x, d[i, ]))
  tries <- list(suppressWarnings(one(i, control)), suppressWarnings(
    survreg(Surv(time, failed) ~ x, d[i, ], dist = dist, control = control, init = start)))
  sound <- sapply(tries, function(f) !anyNA(f$coef) && is.finite(f$loglik[2]) && f$scale > 1e-6)
  best <- which.max(ifelse(sound, sapply(tries, function(f) f$loglik[2]), -Inf))
  off <<- off + (!sound[1] || tries[[1]]$loglik[2] < tries[[best]]$loglik[2] - 1e-6)
  f <- tries[[best]]
  c(f$coef, f$scale, f$loglik[2])
}
off <- 0
out <- t(sapply(rows, tight))
write.table(format(out, digits = 16), file.path(folder, "r.csv"), sep = ",",
            row.names = FALSE, col.names = FALSE, quote = FALSE)
single <- min(sapply(1:5, function(r) sum(system.time(for (k in 1:20) one(seq_len(nrow(d)), default))[1:2]))) / 20
cat(elapsed, single, off)
"""

LIFELINES_SCRIPT = """
import sys, time, warnings
import numpy as np, pandas as pd
from lifelines import LogNormalAFTFitter, WeibullAFTFitter
warnings.simplefilter("ignore")
folder, dist = sys.argv[1:3]
d = pd.read_csv(folder + "/rows.csv")
counts = np.loadtxt(folder + "/counts.csv", delimiter=",", dtype=int)
fitter = LogNormalAFTFitter if dist == "lognormal" else WeibullAFTFitter
start = time.process_time()
for row in counts[:int(sys.argv[3])]:
    fitter().fit(d.loc[np.repeat(np.arange(len(d)), row)].reset_index(drop=True), "time", "failed")
print(time.process_time() - start)
"""


def made_up(n: int, seed: int = 3) -> tuple[np.ndarray, Lives]:
    """Lives on ln speed, about three in ten taken out at a common limit."""
    rng = np.random.default_rng(seed)
    x = np.resize(np.log([110.0, 140.0, 180.0]) - np.log(140.0), n)
    life = np.exp(3.3 - 4 * x + 0.25 * rng.standard_normal(n))
    limit = np.quantile(life, 0.7)
    return np.column_stack([np.ones(n), x]), Lives.right_censored(np.minimum(life, limit), life <= limit)


def resamples(X: np.ndarray, lives: Lives) -> np.ndarray:
    """Counts of case resamples that can be fitted."""
    rng = np.random.default_rng(4)
    n = len(lives)
    counts = rng.multinomial(n, np.full(n, 1 / n), size=REPLICATES + 500)
    failed = lives.exact
    distinct = np.sum(counts[:, failed] > 0, axis=1)
    levels = [counts[:, failed & (X[:, 1] == level)].sum(axis=1) > 0 for level in np.unique(X[:, 1])]
    return counts[(np.sum(levels, axis=0) >= 2) & (distinct >= 4)][:REPLICATES]


def bootstrap(distribution: str, lifelines: str | None) -> None:
    """Own time, and the loops of the peers scaled up from a part."""
    X, lives = made_up(24)
    counts = resamples(X, lives)

    def own():
        return fit_lives_many(X, lives.lower, lives.upper, distribution, weights=counts)

    times, scale = alternate({"wearlab, batched": own}, 7, time.process_time), {}
    with tempfile.TemporaryDirectory() as folder:
        rows = np.column_stack([X[:, 1], lives.lower, lives.exact])
        np.savetxt(Path(folder, "rows.csv"), rows, delimiter=",", header="x,time,failed", comments="", fmt="%.17g")
        np.savetxt(Path(folder, "counts.csv"), counts[:R_PART], delimiter=",", fmt="%d")
        if shutil.which("Rscript"):
            elapsed, _, off = _r(folder, distribution)
            times["R survreg, loop"] = float(elapsed)
            scale["R survreg, loop"] = REPLICATES / R_PART
            worst = _worst(own(), np.loadtxt(Path(folder, "r.csv"), delimiter=","))
        if lifelines:
            command = [lifelines, "-c", LIFELINES_SCRIPT, folder, distribution, str(LIFELINES_PART)]
            times["lifelines, loop"] = float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
            scale["lifelines, loop"] = REPLICATES / LIFELINES_PART
    table(f"bootstrap, {REPLICATES} x 24 lives, {distribution}", "wearlab, batched", times, scale)
    fits = own()
    print(f"  converged {fits.converged.sum()} of {len(counts)}")
    if shutil.which("Rscript"):
        print(f"  worst relative difference from R over {R_PART} replicates: {worst}")
        print(f"  replicates in which R from its own start stopped short or ran off: {off}")


def _r(folder: str, distribution: str) -> list[str]:
    command = ["Rscript", "-e", R_SCRIPT, folder, distribution]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()


def _worst(fits: object, theirs: np.ndarray) -> str:
    mine = np.column_stack([fits.beta, fits.sigma, fits.loglik])[:R_PART]
    far = np.abs(mine - theirs) / np.maximum(np.abs(theirs), 1.0)
    return ", ".join(
        f"{name} {one:.1e}" for name, one in zip(["b0", "b1", "sigma", "loglik"], far.max(axis=0), strict=True)
    )


def one_fit(n: int, distribution: str) -> None:
    """One fit of n lives."""
    X, lives = made_up(n)
    times = {
        "wearlab": alternate(
            {"own": lambda: fit_lives(X, lives, distribution)}, 30 if n < 10_000 else 5, time.process_time
        )["own"]
    }
    if shutil.which("Rscript"):
        with tempfile.TemporaryDirectory() as folder:
            rows = np.column_stack([X[:, 1], lives.lower, lives.exact])
            np.savetxt(
                Path(folder, "rows.csv"),
                rows,
                delimiter=",",
                header="x,time,failed",
                comments="",
                fmt="%.17g",
            )
            np.savetxt(Path(folder, "counts.csv"), np.ones((2, n)), delimiter=",", fmt="%d")
            times["R survreg"] = float(_r(folder, distribution)[1])
    table(f"one fit, {n} lives, {distribution}", "wearlab", times)


if __name__ == "__main__":
    python = sys.argv[sys.argv.index("--lifelines") + 1] if "--lifelines" in sys.argv else None
    for law in ("weibull", "lognormal"):
        bootstrap(law, python)
    for law in ("weibull", "lognormal"):
        for size in (24, 1_000, 100_000):
            one_fit(size, law)
