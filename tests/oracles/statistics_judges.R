# Values of R and pROC for src/statistics, written to statistics_r.json beside this file.
# Needs r-base-core, r-cran-proc and r-cran-jsonlite (Debian). Run in this folder after statistics_judges.py: Rscript statistics_judges.R
suppressPackageStartupMessages(library(pROC))
given <- jsonlite::fromJSON("statistics.json")
out <- list(note = jsonlite::unbox("written by statistics_judges.R"),
            versions = jsonlite::unbox(paste(R.version.string, "pROC", packageVersion("pROC"))))
one <- jsonlite::unbox

out$r_quantile_type7 <- unname(quantile(c(7.1, 3.2, 9.9, 4.4, 4.4, 8.0, 1.5), c(0, .1, .25, .5, .75, .9, 1), type = 7))

positive <- given$roc$positive
a <- roc(positive, given$roc$first, direction = "<", quiet = TRUE)
b <- roc(positive, given$roc$second, direction = "<", quiet = TRUE)
out$r_proc_auc <- one(as.numeric(auc(a)))
out$r_proc_var <- one(var(a, method = "delong"))
out$r_proc_ci <- as.numeric(ci.auc(a, method = "delong"))[c(1, 3)]
t <- roc.test(a, b, method = "delong", paired = TRUE)
out$r_proc_compare <- unname(c(t$statistic, t$p.value, t$conf.int))

x <- given$line$x
y <- given$line$y
f <- lm(y ~ x)
at <- data.frame(x = 12)
out$r_line <- unname(c(predict(f, at, interval = "confidence"), predict(f, at, interval = "prediction")[2:3],
                       confint(f)["x", ], summary(f)$coefficients["x", 4]))

x <- given$lowess$x
y <- given$lowess$y
out$r_lowess_robust <- lowess(x, y, f = 2/3, iter = 3, delta = 0)$y
out$r_lowess_plain <- lowess(x, y, f = 0.3, iter = 0, delta = 0)$y

s <- summary(nls(rate ~ Vm * conc / (K + conc), Puromycin, subset = state == "treated",
                 start = list(Vm = 200, K = 0.05), control = nls.control(tol = 1e-8)))
out$r_puromycin <- c(as.vector(s$coefficients[, 1:2]), s$sigma)

s <- summary(nls(rate ~ Vm * conc / (exp(l) + conc), Puromycin, subset = state == "treated",
                 start = list(Vm = 200, l = log(0.05)), control = nls.control(tol = 1e-8)))
out$r_puromycin_log_half <- unname(exp(s$coefficients["l", 1] + c(-1, 1) * qt(0.975, s$df[2]) * s$coefficients["l", 2]))

out$r_proc_binormal_variance <- mapply(pROC:::var.theta.obuchowski, c(0.7, 0.8, 0.9), c(1, 2, 0.5))

writeLines(jsonlite::toJSON(out, digits = NA, pretty = TRUE), "statistics_r.json")
