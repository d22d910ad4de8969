# Life regressions on made-up lives, fitted by R's survreg: the figures that tests/stats/test_censored.py checks against.
# Run from this folder: Rscript make_life_fits.R. Made with R 4.2.2, survival 3.5-3; seed 20240611. Do not edit the
# two CSV files by hand.
suppressMessages(library(survival))
set.seed(20240611)
rows <- list(); fits <- list()
for (set in 1:60) {
  n <- sample(c(6, 9, 12, 24), 1)
  x1 <- rep(log(c(110, 140, 180) / 140), length.out = n)
  x2 <- round(rnorm(n), 2)
  life <- exp(3 - 4 * x1 + 0.3 * x2 + 0.25 * switch(1 + set %% 3, rnorm(n), log(rexp(n)), rlogis(n) * 0.6))
  kind <- sample(c("exact", "right", "interval", "left"), n, TRUE,
                 list(c(1, 0, 0, 0), c(.7, .3, 0, 0), c(0, 0, 1, 0), c(.4, .25, .25, .1))[[1 + set %% 4]])
  kind[1:4] <- ifelse(kind[1:4] %in% c("right", "left"), "exact", kind[1:4])
  lower <- signif(life, 5); upper <- lower
  lower[kind == "right"] <- signif(0.8 * life[kind == "right"], 5); upper[kind == "right"] <- Inf
  upper[kind == "left"] <- signif(1.3 * life[kind == "left"], 5); lower[kind == "left"] <- 0
  between <- kind == "interval"
  lower[between] <- signif(life[between] * runif(sum(between), .8, .99), 5)
  upper[between] <- signif(life[between] * runif(sum(between), 1.01, 1.25), 5)
  rows[[set]] <- data.frame(set, x1 = signif(x1, 10), x2, lower, upper)
  x1 <- signif(x1, 10)
  y <- Surv(ifelse(lower == 0, NA, lower), ifelse(is.finite(upper), upper, NA), type = "interval2")
  for (dist in c("lognormal", "weibull", "loglogistic")) {
    fit <- tryCatch(survreg(y ~ x1 + x2, dist = dist, control = survreg.control(rel.tolerance = 1e-15, iter.max = 200)),
                    error = function(e) NULL, warning = function(w) NULL)
    if (is.null(fit) || fit$scale < 1e-3) next
    se <- sqrt(diag(fit$var))
    fits[[length(fits) + 1]] <- data.frame(set, distribution = dist, b0 = fit$coef[1], b1 = fit$coef[2],
      b2 = fit$coef[3], scale = fit$scale, loglik = fit$loglik[2], se0 = se[1], se1 = se[2], se2 = se[3], se_ln_scale = se[4])
  }
}
out <- function(d, f) write.csv(format(d, digits = 15, trim = TRUE), f, row.names = FALSE, quote = FALSE)
out(do.call(rbind, rows), "life_fits_input.csv"); out(do.call(rbind, fits), "life_fits_expected.csv")
