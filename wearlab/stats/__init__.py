"""Statistics: arrays in, records out; knows no cutter, no table and no file.

Fits: `line` (least squares), `censored` and `censored_many` (life regression), `curve` (nonlinear), `batched_lines` and
`batched_taylor` (many at once). Limits for the next life, for a reliable life and where one side never failed:
`life_prediction`, `tolerance`, `life_bound`. Comparisons: `two_groups`, `separate_scales`, `several_groups`,
`several_blocked`, `permutation`, `log_rank`, `equivalence`. Judgement: `lack_of_fit`, `collinearity`, `prior`,
`pooling`, `cross_validation`. Planning: `detectable`, `power_simulation`, `value_of_information`. Measurement: `gauge`,
`gauge_reml`. Curves: `survival`, `incidence`, `isotonic`.
"""
