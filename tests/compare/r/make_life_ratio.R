# Ratio of lives of two groups beside speed, with and without blocks: lognormal regression of exact, right- and
# interval-censored lives, and the 95 % interval from the profile likelihood cut where F says.
# The lives are made up. Run: Rscript make_life_ratio.R life_ratio_lives.csv > life_ratio_expected.csv
library(survival)
all <- read.csv(commandArgs(trailingOnly = TRUE)[1])
exactly <- list(rel.tolerance = 1e-12, maxiter = 500)
cat("design,blocks,log_ratio,low,high\n")
for (design in unique(all$design)) for (blocks in c(FALSE, TRUE)) {
  d <- all[all$design == design, ]
  d$in_a <- as.numeric(d$group == "a")
  others <- if (blocks) "factor(block) + log(speed)" else "log(speed)"
  formula <- function(last) as.formula(paste("Surv(low, high, type = 'interval2') ~", others, "+", last))
  full <- survreg(formula("in_a"), data = d, dist = "lognormal", control = exactly)
  p <- length(coef(full)); failures <- sum(!is.na(d$high)); df <- failures - p
  cut <- failures * log(1 + qt(0.975, df)^2 / df)
  beyond <- function(value) {
    d$fixed <- value * d$in_a
    held <- survreg(formula("offset(fixed)"), data = d, dist = "lognormal", control = exactly)
    2 * (tail(full$loglik, 1) - tail(held$loglik, 1)) - cut
  }
  estimate <- unname(tail(coef(full), 1))
  low <- uniroot(beyond, c(estimate - 4, estimate), tol = 1e-12)$root
  high <- uniroot(beyond, c(estimate, estimate + 4), tol = 1e-12)$root
  cat(sprintf("%d,%d,%.9f,%.9f,%.9f\n", design, blocks, estimate, low, high))
}
