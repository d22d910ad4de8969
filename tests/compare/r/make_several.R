# Several practices, blocks, a covariate and exact tests by R: emmeans, multcomp and coin.
# Run from this folder: Rscript make_several.R
# Reads several_data.csv; writes several_expected.csv, the versions beside each figure.
suppressMessages({library(emmeans); library(multcomp); library(coin); library(survival)})
data <- read.csv("several_data.csv", colClasses = c(block = "character"))
data$group <- factor(data$group); data$block <- factor(data$block)
rows <- list()
version <- function(p) paste(p, as.character(packageVersion(p)))
add <- function(case, a, b, what, value, by) rows[[length(rows) + 1]] <<-
  data.frame(case = case, a = a, b = b, what = what, value = sprintf("%.12g", value), by = by)

pairwise <- function(case, fit) {
  found <- as.data.frame(summary(contrast(emmeans(fit, "group"), "pairwise"), adjust = "holm"))
  for (i in seq_len(nrow(found))) {
    pair <- strsplit(as.character(found$contrast[i]), " - ")[[1]]
    for (what in c("estimate", "SE", "df", "p.value"))
      add(case, pair[1], pair[2], what, found[[what]][i], version("emmeans"))
  }
}
blocks <- subset(data, case == "blocks")
pairwise("blocks", lm(log(rate) ~ group + block, data = blocks))
pairwise("gaps", lm(log(rate) ~ group + block, data = subset(data, case == "gaps")))
pairwise("hardness", lm(log(rate) ~ group + log(hardness), data = subset(data, case == "hardness")))

few <- subset(data, case == "few"); few$group <- droplevels(few$group)
fit <- aov(log(rate) ~ group, data = few)
for (kind in c("Tukey", "Dunnett")) {
  found <- summary(glht(fit, linfct = mcp(group = kind)), test = adjusted("single-step", abseps = 1e-6, maxpts = 1e7))
  for (i in seq_along(found$test$coefficients)) {
    pair <- strsplit(names(found$test$coefficients)[i], " - ")[[1]]
    add(kind, pair[1], pair[2], "estimate", found$test$coefficients[i], version("multcomp"))
    add(kind, pair[1], pair[2], "p.value", found$test$pvalues[i], version("multcomp"))
  }
}

two <- subset(blocks, group %in% c("a", "b")); two$group <- droplevels(two$group)
add("exact", "a", "b", "free", pvalue(oneway_test(log(rate) ~ group, two, distribution = "exact")), version("coin"))
wide <- reshape(two[, c("group", "block", "rate")], idvar = "block", timevar = "group", direction = "wide")
gap <- log(wide$rate.a) - log(wide$rate.b)
flips <- as.matrix(expand.grid(rep(list(c(-1, 1)), length(gap)))) %*% gap
add("exact", "a", "b", "within", mean(abs(flips) >= abs(sum(gap)) * (1 - 1e-9)), "base R")

lives <- subset(data, case == "lives"); lives$group <- droplevels(lives$group)
null <- survreg(Surv(life, ended) ~ 1, data = lives, dist = "lognormal")
z <- (log(lives$life) - coef(null)) / null$scale
lives$score <- ifelse(lives$ended == 1, z, dnorm(z) / pnorm(z, lower.tail = FALSE))
add("lives", "a", "b", "exact", pvalue(independence_test(score ~ group, lives, distribution = "exact")), version("coin"))
log_rank <- survdiff(Surv(life, ended) ~ group, data = lives)
add("lives", "a", "b", "log_rank", log_rank$chisq, version("survival"))
both <- survreg(Surv(life, ended) ~ group, data = lives, dist = "lognormal")
add("lives", "a", "b", "estimate", -coef(both)[2], version("survival"))
write.csv(do.call(rbind, rows), "several_expected.csv", row.names = FALSE, quote = FALSE)
cat(R.version.string, "\n")
